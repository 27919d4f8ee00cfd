//! The options on listening to an instrument, for `host` and `join`.

use std::time::Duration;

use clap::Args;
use fifthpeg_core::text;
use fifthpeg_front::failure::Failure;
use fifthpeg_front::values::whole;
use fifthpeg_lesson::terminal::{HandsFree, MOST_TIMES};
use fifthpeg_lesson::words::seconds_typed;
use fifthpeg_sound::InputChoice;

use crate::opening;

/// The window that plucks in a row may take, in seconds.
const WITHIN_S: std::ops::RangeInclusive<f64> = 0.2..=10.0;

/// Whether and how an instrument is listened to.
#[derive(Debug, Args)]
pub struct EarOptions {
    /// Listen to your instrument, by the usual microphone or another one
    ///
    /// Another one is microphone:NAME, or wav:FILE for a recording. Nothing is
    /// listened to unless this asks for it. Sound stays on this machine and is
    /// written nowhere; the screen shows whenever it listens.
    #[arg(
        long,
        value_name = "MICROPHONE",
        default_value = "none",
        default_missing_value = "microphone",
        num_args = 0..=1
    )]
    pub microphone: String,

    /// You hear the tones on headphones: keep listening while they sound
    ///
    /// Without it the terminal does not listen while its own tones sound, so
    /// that they are not taken for your instrument. Only give it where everyone
    /// in the room wears headphones.
    #[arg(long)]
    pub headphones: bool,

    /// How often a note is plucked in a row to answer with it, from 1 to 8
    #[arg(long, value_name = "TIMES", default_value = "2", value_parser = parse_plucks, allow_negative_numbers = true)]
    pub plucks: u8,

    /// Within how many seconds those plucks must come, from 0.2 to 10
    #[arg(long, value_name = "SECONDS", default_value = "2", value_parser = parse_within, allow_negative_numbers = true)]
    pub within: Duration,
}

impl EarOptions {
    /// The microphone asked for.
    ///
    /// # Errors
    /// When there is no such input.
    pub fn choice(&self) -> Result<InputChoice, Failure> {
        opening::choice("--microphone", &self.microphone)
    }

    /// What a note heard means.
    pub fn hands_free(&self) -> HandsFree {
        HandsFree {
            times: self.plucks,
            within: self.within,
            headphones: self.headphones,
        }
    }
}

fn parse_plucks(typed: &str) -> Result<u8, String> {
    whole(typed, "number of plucks", 1, MOST_TIMES)
}

fn parse_within(typed: &str) -> Result<Duration, String> {
    seconds_typed(typed, &WITHIN_S).ok_or_else(|| {
        format!(
            "\"{}\" is no number of seconds for plucks in a row: give one from {} to {}, such as 2",
            text::shown(typed),
            WITHIN_S.start(),
            WITHIN_S.end()
        )
    })
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;

    #[derive(Parser)]
    struct Typed {
        #[command(flatten)]
        ear: EarOptions,
    }

    #[test]
    fn the_usual_microphone_needs_no_name() {
        for (words, microphone) in [
            (&[][..], "none"),
            (&["--microphone"], "microphone"),
            (&["--microphone", "--headphones"], "microphone"),
            (&["--microphone", "wav:a.wav"], "wav:a.wav"),
        ] {
            let typed = Typed::try_parse_from([&["fifthpeg"], words].concat());
            assert_eq!(typed.expect("understood").ear.microphone, microphone);
        }
    }

    #[test]
    fn counts_and_windows_are_bounded() {
        assert_eq!(parse_plucks("2"), Ok(2));
        for wrong in ["", "0", "9", "-1", "two"] {
            assert!(parse_plucks(wrong).is_err(), "{wrong}");
        }
        assert_eq!(parse_within("1.5"), Ok(Duration::from_millis(1500)));
        for wrong in ["", "0", "0.1", "11", "-2", "NaN", "inf", "soon"] {
            assert!(parse_within(wrong).is_err(), "{wrong}");
        }
    }
}
