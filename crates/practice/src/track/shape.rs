//! What a track is like, whatever its notes are; as the options of the command
//! line that ask for it.

use std::time::Duration;

use clap::Args;
use fifthpeg_core::text;
use fifthpeg_front::values::{parse_a4, parse_heard_level, whole};
use fifthpeg_lesson::message::Voice;
use fifthpeg_lesson::track::{AnswerPattern, GAPS, MAX_CALLS};
use fifthpeg_lesson::words::seconds_typed;
use fifthpeg_vocab::Choice;

/// What a track is like, whatever its notes are.
#[derive(Debug, Clone, Args)]
pub struct TrackShape {
    /// How many calls
    #[arg(long, value_name = "COUNT", default_value = "20", value_parser = parse_calls, allow_negative_numbers = true)]
    pub calls: u16,

    /// As many calls as fit into so many minutes
    #[arg(long, value_name = "MINUTES", value_parser = parse_minutes, allow_negative_numbers = true, conflicts_with = "calls")]
    pub minutes: Option<u16>,

    /// Seconds from a call to its answer, to search in; 3 to 60
    #[arg(long, value_name = "SECONDS", default_value = "8", value_parser = parse_gap, allow_negative_numbers = true)]
    pub gap: Duration,

    /// Sound the call once more halfway through the gap
    #[arg(long)]
    pub again: bool,

    /// What a second voice plays as the answer: open-string (the open string the
    /// note is found on, then the note), climb (that string fret by fret, to
    /// count along) or none
    #[arg(long, value_name = "PATTERN", default_value = "open-string", value_parser = AnswerPattern::from_word)]
    pub answer: AnswerPattern,

    /// The voice of calls: banjo, guitar or plain; without it, that of the lesson,
    /// or banjo
    #[arg(long, value_name = "VOICE", value_parser = Voice::from_word)]
    pub voice: Option<Voice>,

    /// The voice of answers; without it, guitar, or banjo where the guitar calls
    #[arg(long, value_name = "VOICE", value_parser = Voice::from_word)]
    pub answer_voice: Option<Voice>,

    /// Begin with the open strings, lowest first, to tune to
    #[arg(long)]
    pub strings_first: bool,

    /// Frequency of A4 in hertz, from 390 to 470; without it, that of the lesson,
    /// or 440
    #[arg(long, value_name = "HZ", value_parser = parse_a4, allow_negative_numbers = true)]
    pub a4: Option<f64>,

    /// How loud, from 0 to 100 percent of a bounded ceiling
    ///
    /// Begin low with headphones on. Safe listening is about 80 dB(A) for 40
    /// hours a week, 75 dB(A) for children (WHO-ITU H.870).
    #[arg(long, value_name = "PERCENT", default_value = "60", value_parser = parse_heard_level, allow_negative_numbers = true)]
    pub level: u8,

    /// Write Gb, not F#
    #[arg(long)]
    pub flats: bool,

    /// Draw the necks with the nut on the right
    #[arg(long)]
    pub left_handed: bool,
}

impl TrackShape {
    /// The voice of answers to calls in `voice`.
    pub fn answering(&self, voice: Voice) -> Voice {
        self.answer_voice.unwrap_or(match voice {
            Voice::Guitar => Voice::Banjo,
            Voice::Banjo | Voice::Plain => Voice::Guitar,
        })
    }
}

fn parse_calls(typed: &str) -> Result<u16, String> {
    whole(typed, "number of calls", 1, MAX_CALLS)
}

fn parse_minutes(typed: &str) -> Result<u16, String> {
    whole(typed, "number of minutes", 1, 180)
}

fn parse_gap(typed: &str) -> Result<Duration, String> {
    // Rounded, so that the same track is made again from what is written.
    let gap = seconds_typed(typed, &(0.0..=3600.0))
        .map(|gap| Duration::from_millis((gap.as_secs_f64() * 1000.0).round() as u64));
    gap.filter(|gap| GAPS.contains(gap)).ok_or_else(|| {
        format!(
            "\"{}\" is no gap to search in: give {} to {} seconds, such as 8",
            text::shown(typed),
            GAPS.start().as_secs(),
            GAPS.end().as_secs()
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_are_seconds() {
        assert_eq!(parse_gap("8"), Ok(Duration::from_secs(8)));
        assert_eq!(parse_gap("4.5s"), Ok(Duration::from_millis(4500)));
        for wrong in ["", "2.9", "61", "nan", "inf", "-8", "1e9", "eight"] {
            assert!(parse_gap(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn patterns_are_read_as_they_are_written() {
        for row in AnswerPattern::ALL {
            let (pattern, word) = (&row.value, row.word);
            assert_eq!(AnswerPattern::from_word(word).as_ref(), Ok(pattern));
        }
    }
}
