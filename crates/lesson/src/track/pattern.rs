//! The tones of an answer.

use core::time::Duration;

use fifthpeg_core::{Neck, Pitch, Position, Reach};

use super::settings::AnswerPattern;

/// From the open string to the note.
const OPEN_TO_NOTE: Duration = Duration::from_millis(900);
/// From one fret to the next: slow enough to count along.
const STEP: Duration = Duration::from_millis(400);
/// From the answer's last tone to the note again.
const NOTE_STANDS: Duration = Duration::from_millis(1600);

/// Tones of an answer, each with the time until the next thing sounds.
pub(super) fn tones(
    pattern: AnswerPattern,
    neck: &Neck,
    place: Position,
) -> Vec<(Pitch, Duration)> {
    let (Some(note), Some(open)) = (
        neck.pitch_at(place),
        neck.open_position(place.string)
            .and_then(|open| neck.pitch_at(open)),
    ) else {
        return Vec::new();
    };
    match pattern {
        AnswerPattern::None => Vec::new(),
        AnswerPattern::OpenString => vec![(open, OPEN_TO_NOTE), (note, NOTE_STANDS)],
        AnswerPattern::Climb => (open.midi()..=note.midi())
            .filter_map(Pitch::new)
            .map(|pitch| (pitch, if pitch == note { NOTE_STANDS } else { STEP }))
            .collect(),
    }
}

/// Where a note is easiest found in the reach: the fewest frets above open, and
/// of those the string drawn uppermost.
pub fn easiest_place(neck: &Neck, reach: &Reach, pitch: Pitch) -> Option<Position> {
    let above_open = |place: &Position| {
        let open = neck.pitch_at(neck.open_position(place.string)?)?;
        Some(open.semitones_to(pitch))
    };
    reach
        .positions()
        .iter()
        .copied()
        .filter(|place| neck.pitch_at(*place) == Some(pitch))
        .min_by_key(|place| (above_open(place), place.string))
}
