//! What host and student open before they begin: sound, the seed, the runtime.

use std::collections::hash_map::RandomState;
use std::hash::{BuildHasher, Hasher};
use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use fifthpeg_core::Cause;
use fifthpeg_front::failure::Failure;
use fifthpeg_host::{HostConfig, HostError, Prepared};
use fifthpeg_listen::trims::{self, Trims};
use fifthpeg_plain::input::LineInput;
use fifthpeg_plain::wait::Stop;
use fifthpeg_screen::options::{Colour, ScreenOptions};
use fifthpeg_sound::{
    Choice, InputChoice, Kinds, Level, Output, OutputChoice, SoundError, Trim, Trimmed,
};

use crate::args::manner::Looks;
use crate::ear_options::EarOptions;

/// An opened output, what it is in a few words, and what to tell if it is not
/// what was asked for.
pub struct OpenedSound {
    /// Where tones go.
    pub output: Box<dyn Output>,
    /// How loud.
    pub level: Level,
    /// A few words about it.
    pub words: String,
    /// Why nothing is heard here, in a few words.
    pub silence: Option<&'static str>,
    /// How much later it is than it says, if that is known.
    pub trim: Option<Trim>,
}

/// The output asked for.
///
/// # Errors
/// When there is no such output.
pub fn output_choice(manner: &Looks) -> Result<OutputChoice, Failure> {
    choice("--output", &manner.output)
}

/// The output or input asked for with an option.
///
/// # Errors
/// When there is none such.
pub fn choice<K: Kinds>(option: &str, typed: &str) -> Result<Choice<K>, Failure> {
    typed.parse().map_err(|error: SoundError| {
        Failure::usage(error).told(|error| format!("{option}: {error}"))
    })
}

/// Whether the output is a sound device, and not a file or nothing.
pub fn is_device(manner: &Looks) -> bool {
    output_choice(manner).is_ok_and(|choice| choice.is_usual())
}

/// Opens the output. A missing sound card leaves the lesson silent; a file that
/// cannot be written is refused, because somebody asked for that file.
///
/// # Errors
/// When the output is no output, or the file cannot be written.
pub fn sound(manner: &Looks) -> Result<OpenedSound, Failure> {
    let choice = output_choice(manner)?;
    let level = Level::from_percent(u32::from(manner.level)).map_err(Failure::usage)?;
    let (output, silent) = if is_device(manner) {
        fifthpeg_sound::open_or_silent(&choice)
    } else {
        (
            fifthpeg_sound::open(&choice).map_err(Failure::runtime)?,
            None,
        )
    };
    let silence = if silent.is_some() || choice.is_none() {
        Some("no sound here")
    } else if is_device(manner) {
        None
    } else {
        Some("sound goes to a file")
    };
    let words = silent.unwrap_or_else(|| output.describe());
    let (trim, words) = trim(manner, &*output, words);
    Ok(OpenedSound {
        // Always one that can be trimmed, since `listen` may set it later.
        output: Box::new(Trimmed::new(output, trim.unwrap_or(Trim::NONE))),
        level,
        words,
        silence,
        trim,
    })
}

/// The trim of an output: the one typed, or else the one kept for it; and what the
/// output is, with that added. A trim that cannot be read stops nothing.
fn trim(manner: &Looks, output: &dyn Output, words: String) -> (Option<Trim>, String) {
    let kept = || match output.device_name() {
        Some(name) => Trims::usual().of(&name),
        None => Ok(None),
    };
    match manner.trim.map_or_else(kept, |typed| Ok(Some(typed))) {
        Ok(Some(trim)) => (Some(trim), format!("{words}, {}", trims::words(trim))),
        Ok(None) => (None, words),
        Err(why) => (None, format!("{words}, no trim: {why}")),
    }
}

/// What a student is told about listening, before the lesson; nothing without.
pub fn microphone_hint(choice: &InputChoice, ear: &EarOptions) -> Option<String> {
    if choice.is_none() {
        return None;
    }
    let muted = if ear.headphones {
        ""
    } else {
        " (not while a tone sounds: --headphones changes that)"
    };
    Some(format!(
        "{choice} is listened to{muted}; sound stays on this machine. A note plucked {} answers",
        match ear.plucks {
            1 => "once".to_owned(),
            2 => "twice in a row".to_owned(),
            more => format!("{more} times in a row"),
        }
    ))
}

/// What a host is told about listening, before the lesson; nothing without.
pub fn host_microphone_hint(choice: &InputChoice) -> Option<String> {
    (!choice.is_none()).then(|| {
        format!(
            "{choice} is listened to; sound stays on this machine. A note you play is called once \
             you confirm it"
        )
    })
}

/// A seed that differs from run to run.
pub fn seed() -> u64 {
    RandomState::new().build_hasher().finish()
}

/// Whether to speak in lines: asked for, or there is no terminal to draw on.
pub fn is_plain(manner: &Looks) -> bool {
    manner.plain
        || manner.script.is_some()
        || !std::io::stdin().is_terminal()
        || !fifthpeg_front::out::is_terminal()
}

/// How the screens are to look.
pub fn screen_options(manner: &Looks, hide_target_at_start: bool) -> ScreenOptions {
    let no_colour =
        manner.no_colour || std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    ScreenOptions {
        colour: if no_colour {
            Colour::None
        } else {
            Colour::Full16
        },
        left_handed: manner.left_handed,
        ascii: manner.ascii,
        names: !manner.no_names,
        hide_target_at_start,
        silence: None,
    }
}

/// Runs a lesson, or what is like one, to its end: with the lines it reads, each of a
/// script looked at by `read` before anything starts, where it is no screen.
///
/// # Errors
/// When the script cannot be read, the system gives no threads, or it ends so.
pub fn run<F: Future<Output = Result<(), Failure>>>(
    manner: &Looks,
    read: impl Fn(&str) -> Result<(), Cause>,
    lesson: impl FnOnce(Option<LineInput>) -> F,
) -> Result<(), Failure> {
    let input = is_plain(manner)
        .then(|| LineInput::open(manner.script.as_deref(), read))
        .transpose()?;
    let runtime = runtime()?;
    let outcome = runtime.block_on(lesson(input));
    // A thread that still reads standard input must not hold the end up.
    runtime.shutdown_background();
    outcome
}

/// Does work that goes on for as long as nothing is stored in what it is given, in a
/// thread of its own; Ctrl-C stores that.
///
/// # Errors
/// When the work fails; where it broke off, so many words of what it was to make.
pub fn until_stopped(
    broke_off: &str,
    work: impl FnOnce(&AtomicBool) -> Result<(), Failure> + Send + 'static,
) -> Result<(), Failure> {
    runtime()?.block_on(async {
        let mut stop = Stop::new()?;
        let stopped = Arc::new(AtomicBool::new(false));
        let asked = Arc::clone(&stopped);
        let mut work = tokio::task::spawn_blocking(move || work(&asked));
        let ended = tokio::select! {
            ended = &mut work => ended,
            () = stop.asked() => {
                stopped.store(true, Ordering::Relaxed);
                work.await
            }
        };
        ended.map_err(|_| Failure::runtime(broke_off))?
    })
}

/// A host, not open yet.
///
/// # Errors
/// When it cannot be set up so.
pub fn prepare(config: HostConfig) -> Result<Prepared, Failure> {
    fifthpeg_host::prepare(config).map_err(|error| match error {
        HostError::NoAddress | HostError::Lesson(_) | HostError::Unsendable(_) => {
            Failure::usage(error)
        }
        error => Failure::runtime(error),
    })
}

/// The runtime that everything on the network runs on.
///
/// # Errors
/// When the system gives no threads.
pub fn runtime() -> Result<tokio::runtime::Runtime, Failure> {
    tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|why| {
            Failure::runtime(why).told(|why| format!(
                "this system gives the program no threads ({why}): close other programs and try again"
            ))
        })
}
