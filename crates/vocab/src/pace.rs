//! The pace at which a lesson goes on by itself.

use core::time::Duration;
use std::borrow::Cow;

use fifthpeg_core::text;
use serde::{Deserialize, Serialize};

use crate::choices::Picking;
use crate::rules::{Chosen, Setting};
use crate::words::seconds_typed;

/// Shortest and longest time until the note is shown by itself, in seconds.
const SHOWN_S: core::ops::RangeInclusive<f64> = 5.0..=600.0;

/// Shortest and longest pause before the next note, in seconds.
const GAP_S: core::ops::RangeInclusive<f64> = 1.0..=60.0;

/// How a lesson goes on by itself. The note is shown as soon as everybody here
/// has found it; the first note is always called by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pace {
    /// At the latest so long after the call; `None` waits for who searches. With
    /// it an order of the host's stops the pace until the next call by hand.
    pub shown_after: Option<Duration>,
    /// The next note is called so long after; `None` waits for a key.
    pub next_after: Option<Duration>,
    /// Stop as soon as somebody needs help.
    pub until_help: bool,
}

impl Pace {
    /// Of a lesson alone: nobody is hurried.
    pub fn alone(gap: Option<Duration>) -> Self {
        Self {
            shown_after: None,
            next_after: gap,
            until_help: false,
        }
    }
}

impl core::fmt::Display for Pace {
    /// As it is typed: "40/8", "40/8/help".
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let seconds = |time: Option<Duration>| {
            time.map_or_else(|| "-".to_owned(), |t| t.as_secs_f64().to_string())
        };
        write!(
            f,
            "{}/{}",
            seconds(self.shown_after),
            seconds(self.next_after)
        )?;
        f.write_str(if self.until_help { "/help" } else { "" })
    }
}

/// Ready paces. Seconds chosen freely: a beginner's search takes half a minute.
const PACES: [(&str, u64, u64); 3] = [("calm", 90, 15), ("steady", 45, 10), ("brisk", 20, 6)];

/// The ready paces, and none.
pub(crate) fn choices() -> Vec<Chosen> {
    let mut all = vec![Chosen {
        word: "off".into(),
        label: "no: you show and call each note".into(),
        meaning: "you show and call each note".into(),
        setting: Setting::Pace(None),
    }];
    all.extend(PACES.into_iter().map(|(word, shown, next)| {
        let seconds = |s| Some(Duration::from_secs(s));
        let pace = Pace {
            shown_after: seconds(shown),
            next_after: seconds(next),
            until_help: false,
        };
        choice(word.into(), pace)
    }));
    all
}

/// A pace as a choice.
pub(crate) fn choice(word: Cow<'static, str>, pace: Pace) -> Chosen {
    let seconds = |time: Option<Duration>| {
        time.map_or_else(|| "-".to_owned(), |t| t.as_secs_f64().to_string())
    };
    let (shown, next) = (seconds(pace.shown_after), seconds(pace.next_after));
    let help = if pace.until_help {
        ", until somebody needs help"
    } else {
        ""
    };
    Chosen {
        word,
        label: format!("shown after {shown} s, the next {next} s later").into(),
        meaning: format!(
            "shown once all here have found it or after {shown} s, the next {next} s later{help}"
        )
        .into(),
        setting: Setting::Pace(Some(pace)),
    }
}

/// A pace as typed: seconds until the note is shown, a stroke, seconds until the
/// next.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_pace(typed: &str) -> Result<Pace, String> {
    let whole = typed.strip_suffix("/help");
    let read = || {
        let (shown, next) = whole.unwrap_or(typed).split_once('/')?;
        Some(Pace {
            shown_after: Some(seconds_typed(shown, &SHOWN_S)?),
            next_after: Some(seconds_typed(next, &GAP_S)?),
            until_help: whole.is_some(),
        })
    };
    read().ok_or_else(|| {
        format!(
            "\"{}\" is no pace: give the seconds until the note is shown, {} to {}, and until the \
             next is called, {} to {}, such as 40/8; 40/8/help stops when somebody needs help",
            text::shown(typed),
            SHOWN_S.start(),
            SHOWN_S.end(),
            GAP_S.start(),
            GAP_S.end()
        )
    })
}

/// A pause between notes.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_gap(typed: &str) -> Result<Duration, String> {
    seconds_typed(typed, &GAP_S).ok_or_else(|| {
        format!(
            "\"{}\" is no pause between notes: give seconds from {} to {}, such as 4",
            text::shown(typed),
            GAP_S.start(),
            GAP_S.end()
        )
    })
}

/// Why a lesson no longer goes on by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaceStop {
    /// Nobody has answered for some calls.
    Unanswered,
    /// Somebody needs help.
    Help,
    /// The host ordered something.
    Ordered,
    /// Nobody is here.
    Nobody,
    /// No note can be picked.
    NoNote,
}

impl core::fmt::Display for PaceStop {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::Unanswered => "The pace has stopped: nobody has answered for three calls.",
            Self::Help => "The pace has stopped: somebody needs help.",
            Self::Ordered => "The pace has stopped, and goes on with your next call.",
            Self::Nobody => "The pace waits: nobody is here. With somebody here it goes on once you sound the note \
                 again, reveal it or call the next.",
            Self::NoNote => "The pace has stopped: the reach has no note to call.",
        })
    }
}

/// The rules that students are not told of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Untold {
    /// How notes are picked.
    pub picking: Picking,
    /// How the lesson goes on by itself, if it does.
    pub pace: Option<Pace>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_are_bounded() {
        assert_eq!(parse_gap("4"), Ok(Duration::from_secs(4)));
        assert_eq!(parse_gap("1.5s"), Ok(Duration::from_millis(1500)));
        for wrong in ["", "0", "0.9", "61", "-2", "NaN", "inf", "soon"] {
            assert!(parse_gap(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_pace_is_read_as_it_is_written() {
        for typed in ["40/8", "5/1", "600/60", "12.5/1.5/help"] {
            assert_eq!(parse_pace(typed).map(|p| p.to_string()), Ok(typed.into()));
        }
        for wrong in ["", "40", "4/8", "40/61", "40/0", "-/8", "40/8/9", "NaN/8"] {
            let why = parse_pace(wrong).unwrap_err();
            assert!(why.contains("such as 40/8"), "{why}");
        }
    }
}
