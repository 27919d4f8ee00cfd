//! Notes, places, marks and sums in words, in ASCII.

use fifthpeg_core::{Neck, Pitch, Position, Spelling};
use fifthpeg_host::Counter;
use fifthpeg_lesson::learning::help::{Glance, State};
use fifthpeg_lesson::marking::{Mark, Telling};
use fifthpeg_lesson::message::Source;
use fifthpeg_lesson::singing::SungMark;
use fifthpeg_lesson::words;
use fifthpeg_vocab::hint::in_short;

/// `; needs help: ` and why, or `; steady`; nothing after too few calls.
pub fn fares(glance: &Glance) -> String {
    match glance.state {
        State::New => String::new(),
        _ if glance.needs_help() => format!("; needs help: {glance}"),
        _ => format!("; {glance}"),
    }
}

/// `right`, or `missed: ` and what is told of the miss.
pub fn mark(mark: &Mark) -> String {
    match mark {
        Mark::Right => "right".to_owned(),
        Mark::Missed(miss) if miss.kind.is_none() && miss.side.is_none() => "missed".to_owned(),
        Mark::Missed(_) => format!("missed: {}", words::sentence(mark)),
    }
}

/// `, played` for what came from an instrument.
pub fn played(source: Source) -> &'static str {
    match source {
        Source::Screen => "",
        Source::Instrument => ", played",
    }
}

/// The same of one's own answer to an open call: a miss in the words of its hint.
pub fn mark_told(telling: Telling, mark: &Mark) -> String {
    match mark {
        Mark::Missed(miss) if miss.kind.is_some() => {
            format!("missed: {}", in_short(telling, mark))
        }
        _ => self::mark(mark),
    }
}

/// How near a sung note was, after the word `sung`: `an octave below, 12 cents
/// low`.
pub fn sung(mark: &SungMark) -> String {
    let said = words::sung(mark);
    said.strip_prefix("sung, ").unwrap_or(&said).to_owned()
}

/// `F#4: 1/4 2/7 3/11 4/16`.
pub fn reveal(pitch: Pitch, places: &[Position], spelling: Spelling) -> String {
    let places: Vec<String> = places.iter().map(Position::to_string).collect();
    format!("{}: {}", pitch.ascii_name(spelling), places.join(" "))
}

/// `F#4 at 1/4`, or `F#4` if the note was called and no place.
pub fn target(pitch: Pitch, place: Option<Position>, spelling: Spelling) -> String {
    let at = place.map_or_else(String::new, |place| format!(" at {place}"));
    format!("{}{at}", pitch.ascii_name(spelling))
}

/// The neck in lines: its name, then each string with its open note and where
/// its frets run.
pub fn neck(neck: &Neck, spelling: Spelling) -> Vec<String> {
    let mut lines = vec![neck.name().to_owned()];
    lines.extend(fifthpeg_front::neck_text::capo(neck));
    for number in 1..=neck.string_count() {
        let Some(string) = neck.string(number) else {
            continue;
        };
        let open = neck
            .open_position(number)
            .and_then(|place| neck.pitch_at(place))
            .unwrap_or(string.open);
        let frets = if string.first_fret == 0 {
            format!("frets 1 to {}", string.last_fret)
        } else {
            format!(
                "frets {} to {}, short: its peg is at fret {}",
                string.first_fret + 1,
                string.last_fret,
                string.first_fret
            )
        };
        lines.push(format!(
            "string {number}: {} open, {frets}",
            open.ascii_name(spelling)
        ));
    }
    lines
}

/// How often peers met each limit, a line each.
pub fn network(counts: &[(Counter, u64)]) -> Vec<String> {
    if counts.is_empty() {
        return vec![fifthpeg_front::NOTHING_MET.to_owned()];
    }
    counts
        .iter()
        .map(|(counter, times)| format!("{}: {times}", counter.title()))
        .collect()
}

#[cfg(test)]
mod tests {
    use fifthpeg_lesson::learning::{Confusion, StudentKey};

    use super::*;

    #[test]
    fn how_somebody_fares_is_said_in_words() {
        let fares = |state| {
            fares(&Glance {
                student: StudentKey(1),
                state,
                of: 8,
            })
        };
        assert_eq!(fares(State::New), "");
        assert_eq!(fares(State::Steady), "; steady");
        assert_eq!(
            fares(State::Missing {
                missed: 6,
                by: Some(Confusion::Octave)
            }),
            "; needs help: missed 6 of the last 8 at first, mostly by octaves"
        );
        assert_eq!(
            fares(State::Silent { calls: 3 }),
            "; needs help: silent for 3 calls"
        );
    }
}
