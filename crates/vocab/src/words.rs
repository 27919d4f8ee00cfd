//! What screens and plain mode say of marks, rules and progress: in plain
//! words and in ASCII, so that any terminal, screen reader or script takes them.

use core::ops::RangeInclusive;
use core::time::Duration;

use fifthpeg_core::text::{counted, list_and};
use fifthpeg_core::{Position, Spelling, interval_name};

use crate::choices::Side;
use crate::mark::{Mark, Miss, MissKind};
use crate::message::Answer;
use crate::sung::SungMark;
use crate::tally::Tally;

/// What is said of one answer, without a full stop: "low by an octave".
pub fn sentence(mark: &Mark) -> String {
    let Mark::Missed(Miss { kind, side }) = mark else {
        return "right".to_owned();
    };
    let way = match side {
        Some(Side::Low) => "low",
        Some(Side::High) => "high",
        None => "",
    };
    let by = |distance: &str| match side {
        Some(_) => format!("{way} by {distance}"),
        None => format!("{distance} away"),
    };
    match kind {
        None if way.is_empty() => "not the one".to_owned(),
        None => way.to_owned(),
        Some(MissKind::Octave { octaves }) => by(&octaves_in_words(*octaves)),
        Some(MissKind::Neighbour) => match side {
            Some(_) => format!("a neighbour: one semitone {way}"),
            None => "a neighbour: one semitone away".to_owned(),
        },
        Some(MissKind::WholeTone) => by("a whole tone"),
        Some(MissKind::OtherPlace) => "the right note, but at another place".to_owned(),
        Some(MissKind::OtherPlaceOctave { octaves }) => format!(
            "the right note name, but at another place: {}",
            by(&octaves_in_words(*octaves))
        ),
        Some(MissKind::Interval { semitones }) => {
            by(&with_article(&interval_name(u32::from(*semitones))))
        }
        Some(MissKind::Further) => by("more than a whole tone"),
        Some(MissKind::Far) => by("a fourth or more"),
    }
}

pub(crate) fn octaves_in_words(octaves: u8) -> String {
    match octaves {
        1 => "an octave".to_owned(),
        2 => "two octaves".to_owned(),
        3 => "three octaves".to_owned(),
        more => format!("{more} octaves"),
    }
}

/// A phrase as a sentence of its own: a capital, and a full stop where none is.
pub fn as_sentence(phrase: &str) -> String {
    let mut signs = phrase.chars();
    let first: String = signs
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    let dot = if phrase.ends_with(['.', '!', '?']) {
        ""
    } else {
        "."
    };
    format!("{first}{}{dot}", signs.as_str())
}

/// "a tritone", "an octave and a major third", "two octaves".
fn with_article(interval: &str) -> String {
    if interval.contains("octaves") {
        return interval.to_owned();
    }
    let article = if interval.starts_with(['a', 'e', 'i', 'o', 'u']) {
        "an"
    } else {
        "a"
    };
    format!("{article} {interval}")
}

/// How near a sung note was, gently: "sung, an octave below, 12 cents low".
/// Five cents either way are in tune: a voice moves by more (common practice,
/// no source).
pub fn sung(mark: &SungMark) -> String {
    let cents = mark.cents.round();
    if !mark.exact {
        return match cents {
            c if c < 0.0 => "some way off still: try higher".to_owned(),
            c if c > 0.0 => "some way off still: try lower".to_owned(),
            _ => "not the note yet".to_owned(),
        };
    }
    let mut said = if mark.is_it() { "sung" } else { "near" }.to_owned();
    let octaves = octaves_in_words(mark.octaves.unsigned_abs());
    match mark.octaves {
        0 => {}
        1.. => said.push_str(&format!(", {octaves} above")),
        _ => said.push_str(&format!(", {octaves} below")),
    }
    match cents.abs() {
        c if c <= 5.0 => said.push_str(", in tune"),
        c => {
            let way = if cents < 0.0 { "low" } else { "high" };
            said.push_str(&format!(", {c} cents {way}"));
        }
    }
    said
}

/// An answer or try: "2/1", "F#4" or "F#".
pub fn answer(answer: Answer, spelling: Spelling) -> String {
    match answer {
        Answer::Place(at) => at.to_string(),
        Answer::Pitch(pitch) => pitch.ascii_name(spelling),
        Answer::Class(class) => class.ascii_name(spelling),
    }
}

/// A revealed note: its name where names are shown, and all its places.
pub fn revealed(name: Option<&str>, places: &[Position]) -> String {
    let places: Vec<String> = places.iter().map(Position::to_string).collect();
    format!("It was {}: {}.", name.unwrap_or("here"), list_and(&places))
}

/// Seconds as they are typed, `4` or `0.5s`; `None` for what is none within the bounds.
pub fn seconds_typed(typed: &str, within: &RangeInclusive<f64>) -> Option<Duration> {
    let seconds = typed.trim_end_matches('s').trim().parse().ok();
    let seconds = seconds.filter(|seconds| within.contains(seconds));
    seconds.map(Duration::from_secs_f64)
}

/// A duration in seconds with one decimal: "2.4 s".
pub fn seconds(time: Duration) -> String {
    format!("{:.1} s", time.as_secs_f64())
}

/// A tally: "found 3 of 4 (2 at the first answer), 1 more hearing, 7 tries,
/// median 3.2 s".
pub fn tally(tally: &Tally) -> String {
    let mut said = format!(
        "found {} of {} ({} at the first answer), {}, {}",
        tally.found,
        tally.calls,
        tally.found_first,
        counted(tally.hearings as usize, "more hearing", "more hearings"),
        counted(tally.tries as usize, "try", "tries"),
    );
    if let Some(median) = tally.median {
        said.push_str(", median ");
        said.push_str(&seconds(median));
    }
    for (count, what) in [(tally.played, "on the instrument"), (tally.sung, "sung")] {
        if count > 0 {
            said.push_str(&format!(", {count} {what}"));
        }
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;

    fn missed(kind: Option<MissKind>, side: Option<Side>) -> String {
        sentence(&Mark::Missed(Miss { kind, side }))
    }

    #[test]
    fn every_kind_of_miss_has_its_sentence() {
        let (low, high) = (Some(Side::Low), Some(Side::High));
        assert_eq!(sentence(&Mark::Right), "right");
        assert_eq!(missed(None, None), "not the one");
        let kinds = [
            (MissKind::Octave { octaves: 1 }, low, "low by an octave"),
            (MissKind::Octave { octaves: 2 }, high, "high by two octaves"),
            (MissKind::Neighbour, high, "a neighbour: one semitone high"),
            (MissKind::WholeTone, low, "low by a whole tone"),
            (
                MissKind::OtherPlace,
                None,
                "the right note, but at another place",
            ),
            (
                MissKind::OtherPlaceOctave { octaves: 1 },
                low,
                "the right note name, but at another place: low by an octave",
            ),
            (
                MissKind::Interval { semitones: 4 },
                high,
                "high by a major third",
            ),
            (MissKind::Interval { semitones: 6 }, None, "a tritone away"),
            (MissKind::Further, low, "low by more than a whole tone"),
            (MissKind::Far, high, "high by a fourth or more"),
        ];
        for (kind, side, words) in kinds {
            assert_eq!(missed(Some(kind), side), words);
        }
    }

    #[test]
    fn every_sentence_is_ascii_and_reads_as_one() {
        for semitones in 3..=127 {
            let said = missed(Some(MissKind::Interval { semitones }), Some(Side::Low));
            assert!(said.is_ascii(), "{said}");
            assert!(!said.contains("a oct") && !said.contains("a two"), "{said}");
        }
    }

    #[test]
    fn a_phrase_becomes_a_sentence() {
        assert_eq!(as_sentence("no note is called"), "No note is called.");
        assert_eq!(as_sentence("écoute."), "Écoute.");
        assert_eq!(as_sentence(""), ".");
    }

    #[test]
    fn a_tally_counts_one_and_many() {
        let tally = super::tally(&Tally {
            calls: 4,
            found: 3,
            found_first: 2,
            hearings: 1,
            tries: 7,
            played: 0,
            sung: 0,
            median: Some(Duration::from_millis(3200)),
        });
        assert_eq!(
            tally,
            "found 3 of 4 (2 at the first answer), 1 more hearing, 7 tries, median 3.2 s"
        );
    }
}
