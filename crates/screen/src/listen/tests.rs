//! The screen in the manner "before, keys, after".

use std::time::{Duration, Instant};

use crossterm::event::KeyCode;
use fifthpeg_core::{HeardNote, Neck, Pitch, Reference};
use fifthpeg_ear::tuner::Reading;
use fifthpeg_listen::bench::{Bench, StringState};
use fifthpeg_listen::hearing::Hearing;
use fifthpeg_sound::{Listened, Room};

use super::draw;
use super::state::{LISTEN_KEYS, Layer, ListenAction, ListenState};
use crate::keys::Key;
use crate::options::{Colour, ScreenOptions};
use crate::tests::room::{drawn, line_with, lines, nowhere};

fn banjo() -> Neck {
    Neck::ready("banjo-open-g").expect("a ready neck")
}

fn bench() -> Bench {
    Bench::new(&banjo(), Reference::default())
}

/// What the tuner reads for a string so many cents off a pitch.
fn reading(midi: u8, cents: f64) -> Reading {
    let reference = Reference::default();
    let hz = Pitch::new(midi).expect("a pitch").frequency_hz(reference);
    let frequency_hz = hz * (cents / 1200.0).exp2();
    let (pitch, cents) = Pitch::nearest(frequency_hz, reference).expect("a pitch");
    Reading {
        frequency_hz,
        pitch,
        cents,
        level_db: -20.0,
        at: 0,
    }
}

fn screen(options: ScreenOptions) -> ListenState {
    let mut state = ListenState::new(bench(), "Banjo".to_owned(), options, Instant::now());
    state.handle_key(&Key::Code(KeyCode::Enter).event());
    state.take(&Hearing::Listened(Listened::Started {
        describe: "the hall's microphone".to_owned(),
        rate_hz: 48_000,
    }));
    state
}

fn ascii() -> ScreenOptions {
    ScreenOptions {
        ascii: true,
        colour: Colour::None,
        ..ScreenOptions::default()
    }
}

fn text(state: &ListenState, columns: u16, rows: u16) -> Vec<String> {
    lines(&drawn(columns, rows, |frame| draw::draw(state, frame)))
}

fn press(state: &mut ListenState, key: Key) -> Option<ListenAction> {
    state.handle_key(&key.event())
}

fn play(state: &mut ListenState, midi: u8, cents: f64) {
    for _ in 0..8 {
        state.take(&Hearing::Tuner(Some(reading(midi, cents)), None));
    }
}

#[test]
fn the_caution_comes_first_and_says_to_turn_down() {
    let state = ListenState::new(bench(), "Banjo".to_owned(), ascii(), Instant::now());
    let page = text(&state, 80, 24).join(" ");
    assert!(
        page.contains("Mind your ears") && page.contains("down"),
        "{page}"
    );
}

#[test]
fn by_ear_comes_first_and_the_meter_only_when_asked() {
    let mut state = screen(ascii());
    play(&mut state, 50, -12.0);
    let before = text(&state, 80, 24);
    line_with(&before, "By ear: hear the tone");
    line_with(&before, "> 4  D3   o heard");
    assert!(nowhere(&before, "cents"), "{before:?}");
    assert_eq!(press(&mut state, Key::Char('m')), None);
    let after = text(&state, 80, 24);
    line_with(&after, "low :....:..#.|....:....: high");
    line_with(&after, "12 cents low: turn it up a little.");
    line_with(&after, "Turn a peg slowly");
    press(&mut state, Key::Char('m'));
    assert!(nowhere(&text(&state, 80, 24), "cents"));
}

#[test]
fn which_strings_are_in_tune_shows_without_colour() {
    let mut state = screen(ascii());
    press(&mut state, Key::Char('m'));
    play(&mut state, 50, 1.0);
    press(&mut state, Key::Code(KeyCode::Down));
    play(&mut state, 67, 30.0);
    let page = text(&state, 80, 24);
    line_with(&page, "Strings: 1 of 5 in tune");
    line_with(&page, "  4  D3   * in tune, 1 cent high");
    line_with(&page, "> 5  G4   o 30 cents high: let it down a little");
    line_with(&page, "  1  D4   . not heard yet");
}

#[test]
fn a_string_far_above_its_pitch_is_warned_of() {
    let mut state = screen(ascii());
    play(&mut state, 50, 270.0);
    line_with(&text(&state, 80, 24), "may snap");
}

#[test]
fn space_sounds_the_chosen_string_and_the_ear_waits() {
    let mut state = screen(ascii());
    let Some(ListenAction::Sound(hz)) = press(&mut state, Key::Char(' ')) else {
        panic!("nothing to sound");
    };
    // D3 at A4 = 440 Hz (ISO 16:1975).
    assert!((hz - 146.832).abs() < 0.001);
    state.sounded(state.now + Duration::from_secs(1));
    line_with(&text(&state, 80, 24), "Not listening, the tone sounds.");
    play(&mut state, 50, 0.0);
    assert_eq!(state.bench.chosen().state, StringState::Unheard);
    state.headphones = true;
    let mut other = screen(ascii());
    other.headphones = true;
    other.sounded(other.now + Duration::from_secs(1));
    line_with(&text(&other, 80, 24), "Listening: the hall's microphone.");
}

#[test]
fn the_room_and_what_is_heard_are_told_in_words() {
    let mut state = screen(ascii());
    line_with(&text(&state, 80, 24), "Room: not measured");
    assert_eq!(press(&mut state, Key::Char('o')), Some(ListenAction::Room));
    state.take(&Hearing::Listened(Listened::Calibrating { done: 0.3 }));
    line_with(&text(&state, 80, 24), "Measuring the room: keep quiet.");
    let room = |noise_db, peak| Room {
        noise_db,
        loudest_db: noise_db + 3.0,
        peak,
    };
    for (room, words) in [
        (
            room(-62.0, 0.01),
            "Room: quiet enough: its noise is 62 dB below the loudest",
        ),
        (room(-20.0, 0.5), "Room: very loud"),
        (room(-140.0, 0.0), "Room: muted?"),
    ] {
        state.take(&Hearing::Listened(Listened::Room { room }));
        line_with(&text(&state, 80, 24), words);
    }
    state.take(&Hearing::Listened(Listened::Level { level_db: -20.0 }));
    line_with(&text(&state, 80, 24), "loudness #####...");
    state.take(&Hearing::Listened(Listened::Note(HeardNote::Pluck {
        id: 1,
        pitch: Pitch::new(66).expect("a pitch"),
        cents: 0.0,
        at: state.now,
        uncertainty: Duration::from_millis(5),
    })));
    line_with(&text(&state, 80, 24), "Heard last: F#4");
    state.take(&Hearing::Listened(Listened::Trouble {
        sentence: "it was pulled out: put it back".to_owned(),
    }));
    line_with(&text(&state, 80, 24), "Trouble: it was pulled out");
}

#[test]
fn the_delay_is_measured_only_after_a_yes() {
    let mut state = screen(ascii());
    assert_eq!(press(&mut state, Key::Char('d')), None);
    line_with(
        &text(&state, 80, 24),
        "Turn headphones and amplifiers down first",
    );
    assert_eq!(press(&mut state, Key::Char('n')), None);
    assert_eq!(state.layer, Layer::None);
    press(&mut state, Key::Char('d'));
    assert_eq!(
        press(&mut state, Key::Code(KeyCode::Enter)),
        Some(ListenAction::Delay)
    );
    state.measuring = Some(0.5);
    line_with(
        &text(&state, 80, 24),
        "Measuring the delay, 50 %: keep quiet.",
    );
}

#[test]
fn a_delay_worth_it_may_be_kept_as_a_trim_and_a_trim_forgotten() {
    let mut state = screen(ascii());
    state.layer = Layer::Told {
        lines: vec!["Sound came back 143 ms later.".to_owned()],
        may_keep: true,
    };
    assert_eq!(
        press(&mut state, Key::Char('k')),
        Some(ListenAction::KeepTrim)
    );
    assert_eq!(state.layer, Layer::None);
    // Where there is nothing to keep, k is any other key.
    state.layer = Layer::Told {
        lines: Vec::new(),
        may_keep: false,
    };
    assert_eq!(press(&mut state, Key::Char('k')), None);
    assert_eq!(state.layer, Layer::None);

    state.trim = Some("trim 143 ms".to_owned());
    state.trim_words = "the output sounds 143 ms later than the sound system says".to_owned();
    line_with(&text(&state, 80, 24), "trim 143 ms");
    press(&mut state, Key::Char('t'));
    let page = text(&state, 80, 24);
    line_with(&page, "The output sounds 143 ms later");
    line_with(&page, "x or Delete forgets it");
    assert_eq!(press(&mut state, Key::Char('n')), None);
    press(&mut state, Key::Char('t'));
    // It says that d measures, so d does.
    assert_eq!(press(&mut state, Key::Char('d')), None);
    assert_eq!(state.layer, Layer::AskDelay);
    press(&mut state, Key::Char('n'));
    press(&mut state, Key::Char('t'));
    assert_eq!(
        press(&mut state, Key::Char('x')),
        Some(ListenAction::ForgetTrim)
    );
}

#[test]
fn it_fits_the_smallest_window_and_the_chosen_string_stays_in_sight() {
    let mut state = screen(ascii());
    for number in 1..=5 {
        state.bench.choose(number);
        let page = text(&state, 60, 16);
        line_with(&page, &format!("> {number}  "));
        line_with(&page, "Space sound it");
        line_with(&page, "? help");
    }
}

#[test]
fn ctrl_c_ends_from_everywhere_and_the_help_names_every_key() {
    for layer in [Layer::None, Layer::Caution, Layer::AskDelay, Layer::Help(0)] {
        let mut state = screen(ascii());
        state.layer = layer;
        assert_eq!(press(&mut state, Key::Ctrl('c')), Some(ListenAction::Leave));
    }
    let mut state = screen(ascii());
    press(&mut state, Key::Char('?'));
    let page = text(&state, 80, 30);
    for binding in LISTEN_KEYS {
        line_with(&page, binding.does);
    }
}
