//! `fifthpeg listen`.

use std::time::Instant;

use fifthpeg_core::{Reference, Spelling};
use fifthpeg_front::failure::Failure;
use fifthpeg_front::necks;
use fifthpeg_listen::bench::Bench;
use fifthpeg_listen::microphone::{Microphone, MicrophoneState};
use fifthpeg_listen::trim::TrimBench;
use fifthpeg_listen::trims::Trims;
use fifthpeg_listen::words;
use fifthpeg_listen::works::Works;
use fifthpeg_plain::input::LineInput;
use fifthpeg_plain::listen::{LISTEN_COMMANDS, Plain};
use fifthpeg_plain::say::{Say, Word};
use fifthpeg_plain::table;
use fifthpeg_plain::wait::Stop;
use fifthpeg_screen::ScreenOptions;
use fifthpeg_screen::listen::run as show;
use fifthpeg_screen::listen::state::ListenState;
use fifthpeg_sound::{InputChoice, ListenFor, ListenSettings, input_names};

use crate::args::listen::ListenArgs;
use crate::opening;

/// Listens to the instrument until told to end. Nothing goes over a network.
///
/// # Errors
/// When what was asked for makes no sense, or a sound file cannot be written.
pub fn run(args: &ListenArgs) -> Result<(), Failure> {
    if args.list {
        list(&mut Say::stdout());
        return Ok(());
    }
    opening::output_choice(&args.manner)?;
    let microphone = opening::choice("--microphone", &args.microphone)?;
    let read = |line: &str| table::read_line(LISTEN_COMMANDS, line).map(drop);
    opening::run(&args.manner, read, |input| bench(args, microphone, input))
}

/// Says which microphones there are.
fn list(say: &mut Say) {
    let names = input_names();
    if names.is_empty() {
        say.say(
            Word::Microphone,
            "none is found: plug one in, and see that this program is allowed to use it",
        );
    }
    for name in names {
        say.say(Word::Microphone, format!("microphone:{name}"));
    }
}

async fn bench(
    args: &ListenArgs,
    choice: InputChoice,
    input: Option<LineInput>,
) -> Result<(), Failure> {
    let neck = &args.neck;
    let neck = necks::choose(&neck.neck, neck.neck_file.as_deref(), neck.capo)?;
    let reference = Reference::new(args.a4).map_err(Failure::usage)?;
    let spelling = Spelling::of(args.flats);
    let mut stop = Stop::new()?;
    let mut say = Say::stdout();
    say.say(Word::Caution, fifthpeg_front::CAUTION);
    let sound = opening::sound(&args.manner)?;
    let settings = ListenSettings {
        lowest: neck.lowest(),
        highest: neck.highest(),
        reference,
        what: ListenFor::Plucks,
    };
    let off = choice.is_none();
    let voice = args.voice;
    let trim = TrimBench::new(sound.output.device_name(), sound.trim, Trims::usual());
    let mut works = Works::new(choice, settings, (sound.output, sound.level, voice), trim);
    let bench = Bench::new(&neck, reference);
    let mut microphone = Microphone::default();
    say.say(Word::Sound, sound.words);
    say.say(
        Word::Hint,
        "sound stays on this machine and is written nowhere",
    );
    if let Err(why) = works.listen() {
        microphone.state = MicrophoneState::Trouble(why.to_string());
    }
    let outcome = match input {
        Some(mut input) => {
            if off || matches!(microphone.state, MicrophoneState::Trouble(_)) {
                say.say(Word::Microphone, microphone.words());
            }
            say.say(Word::Neck, neck.name());
            say.say(Word::Hint, words::BY_EAR);
            let mut plain = Plain {
                works: &mut works,
                bench,
                microphone,
                spelling,
                headphones: args.headphones,
                say: &mut say,
            };
            plain.run(&mut input, &mut stop).await;
            Ok(())
        }
        None => {
            let options = ScreenOptions {
                silence: sound.silence,
                ..opening::screen_options(&args.manner, false)
            };
            let state = ListenState {
                microphone,
                spelling,
                headphones: args.headphones,
                ..ListenState::new(bench, neck.name().to_owned(), options, Instant::now())
            };
            show::run(&mut works, state)
                .await
                .map(drop)
                .map_err(Failure::runtime)
        }
    };
    say.say(Word::Ended, "nothing listens any more");
    outcome.and(works.finish().map_err(Failure::runtime))
}
