//! What the answer sheet says, the same on every kind of page.

use std::time::Duration;

use fifthpeg_core::text;
use fifthpeg_core::{Pitch, Position};
use fifthpeg_lesson::track::AnswerPattern;
use fifthpeg_vocab::Choice;

use super::practice::Practice;

/// What a track with headphones may do to ears.
pub const CAUTION: &str = "Before you play the track, turn headphones and amplifiers down, then up only \
    as far as is comfortable. Safe listening is about 80 dB(A) for 40 hours a week, 75 dB(A) for \
    children (WHO-ITU H.870).";

/// A time in the track, `3:05` or `1:02:05`, to the second.
pub fn clock(time: Duration) -> String {
    let seconds = (time.as_millis() + 500) / 1000;
    let (hours, minutes, seconds) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{minutes}:{seconds:02}")
    }
}

/// "six and a half" is written 6.5.
fn seconds(time: Duration) -> String {
    format!("{} seconds", time.as_secs_f64())
}

impl Practice {
    /// The neck, its capo, the reach and the size, a line for each.
    pub fn about(&self) -> Vec<String> {
        let mut neck = self.neck.name().to_owned();
        if let Some(capo) = self.neck.capo() {
            neck.push_str(&match capo.short {
                Some(short) => format!(
                    ", capo at fret {}, short string's own at fret {short}",
                    capo.fret
                ),
                None => format!(", capo at fret {}", capo.fret),
            });
        }
        let a4 = if self.a4_hz == 440.0 {
            String::new()
        } else {
            format!(", A4 = {} Hz", self.a4_hz)
        };
        vec![
            format!("Neck: {neck}{a4}"),
            format!("Reach: {}", self.reach_words),
            format!(
                "{} of {}, {}",
                text::count(self.plan.calls.len(), "call"),
                text::count(self.notes().len(), "note"),
                clock(self.plan.length)
            ),
        ]
    }

    /// How places are written.
    pub fn how_places_are_written(&self) -> String {
        let open = if self.neck.capo().is_some() {
            "a string stopped by the capo alone has the capo's fret"
        } else {
            "fret 0 is the open string"
        };
        format!(
            "A place is a string and a fret: 2/1 is string 2, fret 1, and {open}. Frets are \
             counted from the main nut."
        )
    }

    /// What happens at each call, step by step.
    pub fn steps(&self) -> Vec<String> {
        let settings = &self.settings;
        let mut steps = Vec::new();
        if settings.strings_first {
            steps.push(
                "First the open strings sound, the lowest first. Tune yours to them.".to_owned(),
            );
        }
        steps.push("A note sounds. Sing it, then search for it on your instrument.".to_owned());
        steps.push(self.gap_words());
        steps.extend(self.answer_words());
        steps.push("The note sounds again. Play along, and compare.".to_owned());
        steps
    }

    /// How long there is to search.
    pub fn gap_words(&self) -> String {
        let gap = seconds(self.settings.gap);
        if self.settings.second_hearing {
            format!("You have {gap}. Halfway through, the note sounds once more.")
        } else {
            format!("You have {gap}.")
        }
    }

    /// What is played as the answer, if anything is.
    pub fn answer_words(&self) -> Option<String> {
        let voice = self.settings.answer_voice.word();
        match self.settings.answer {
            AnswerPattern::OpenString => Some(format!(
                "The answer, in another voice ({voice}): first the open string that the note is \
                 easily found on, then the note."
            )),
            AnswerPattern::Climb => Some(format!(
                "The answer, in another voice ({voice}): up the string that the note is easily \
                 found on, fret by fret from open. The steps up are the frets: count them."
            )),
            AnswerPattern::None => None,
        }
    }

    /// What makes the same track again, before the command itself.
    pub fn once_more(&self) -> String {
        let weights = if self.weighted {
            " (the number after a note says how often it comes beside the others)"
        } else {
            ""
        };
        format!(
            "Seed {}. Version {} of fifthpeg makes the same files again, byte for byte, \
             with{weights}:",
            self.plan.seed,
            env!("CARGO_PKG_VERSION")
        )
    }

    /// A pitch by name, with musical signs.
    pub fn name(&self, pitch: Pitch) -> String {
        pitch.name(self.spelling)
    }

    /// Which calls a note had, in words.
    pub fn calls_words(&self, calls: &[u16]) -> String {
        let numbers: Vec<String> = calls.iter().map(u16::to_string).collect();
        let what = if numbers.len() == 1 { "call" } else { "calls" };
        format!("{what} {}", numbers.join(", "))
    }

    /// Every place of a note, in words.
    pub fn places_words(&self, pitch: Pitch) -> String {
        let (within, beyond) = self.places(pitch);
        let answered = self.answered_at(pitch);
        let mut words = sentence(&within, |place| {
            let here = answered == Some(place) && within.len() > 1;
            let note = if here { " (the answer)" } else { "" };
            format!("{}{note}", self.neck.place_in_words(place))
        });
        if !beyond.is_empty() {
            words.push_str(" Beyond the reach: ");
            words.push_str(&sentence(&beyond, |place| self.neck.place_in_words(place)));
        }
        words
    }
}

/// Pieces with semicolons between, and a stop.
fn sentence(places: &[Position], words: impl Fn(Position) -> String) -> String {
    let pieces: Vec<String> = places.iter().map(|place| words(*place)).collect();
    let mut said = pieces.join("; ");
    said.push('.');
    said
}

/// Places as they are written, `2/1, 3/5`.
pub fn short(places: &[Position]) -> String {
    let places: Vec<String> = places.iter().map(Position::to_string).collect();
    places.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_those_of_a_player() {
        let at = |ms| clock(Duration::from_millis(ms));
        assert_eq!(at(0), "0:00");
        assert_eq!(at(65_499), "1:05");
        assert_eq!(at(65_500), "1:06");
        assert_eq!(at(3_725_000), "1:02:05");
    }
}
