//! Marking: from an answer to its mark.

use core::cmp::Ordering;

use fifthpeg_core::{Neck, Pitch, Position};

pub use fifthpeg_vocab::mark::{Mark, Marking, Miss, MissKind, Side, Telling};

use crate::message::{Answer, Refusal};

/// Semitones in an octave.
const OCTAVE: i32 = 12;

/// Marks one answer in full.
///
/// `place` is the place the caller picked. Exact marking asks for that very
/// place; if none was picked, any place of the pitch is right.
///
/// Distances run from the target to the answer. In any-octave marking they run
/// from the nearest note of the target's name, so C#5 is a neighbour of D4
/// there; at the tritone, where the notes above and below are equally near,
/// the side is that of the sounding pitch, and none for a bare note name.
///
/// # Errors
///
/// [`Refusal::NoSuchPlace`] for a place off the neck,
/// [`Refusal::PlaceNeeded`] for anything but a place under exact marking,
/// [`Refusal::OctaveNeeded`] for a note name under same-pitch marking.
pub fn mark(
    target: Pitch,
    place: Option<Position>,
    answer: Answer,
    marking: Marking,
    neck: &Neck,
) -> Result<Mark, Refusal> {
    match (marking, answer) {
        (_, Answer::Place(at)) => {
            let sounded = neck.pitch_at(at).ok_or(Refusal::NoSuchPlace(at))?;
            let distance = target.semitones_to(sounded);
            Ok(match marking {
                Marking::SamePitch => by_distance(distance),
                Marking::AnyOctave => by_nearest(distance, true),
                Marking::ExactPlace if place.is_none_or(|p| p == at) => by_distance(distance),
                Marking::ExactPlace => elsewhere(distance),
            })
        }
        (Marking::ExactPlace, _) => Err(Refusal::PlaceNeeded),
        (Marking::SamePitch, Answer::Class(_)) => Err(Refusal::OctaveNeeded),
        (Marking::SamePitch, Answer::Pitch(p)) => Ok(by_distance(target.semitones_to(p))),
        (Marking::AnyOctave, Answer::Pitch(p)) => Ok(by_nearest(target.semitones_to(p), true)),
        (Marking::AnyOctave, Answer::Class(c)) => {
            let up = i32::from(c.number()) - i32::from(target.class().number());
            Ok(by_nearest(up, false))
        }
    }
}

/// The places where a pitch can be heard from: those whose string sounds it, or
/// one of whose course does. Between the strings of an octave course the ear
/// cannot tell which of its two pitches is the one meant.
pub fn places_sounding(neck: &Neck, pitch: Pitch) -> Vec<Position> {
    let positions = neck.positions().into_iter();
    positions.filter(|at| sounds(neck, *at, pitch)).collect()
}

/// Whether a pitch heard from an instrument can be meant for this neck. Where
/// any octave is right it always can: the instrument may reach further.
pub fn may_be_played(marking: Marking, neck: &Neck, pitch: Pitch) -> bool {
    marking == Marking::AnyOctave || !places_sounding(neck, pitch).is_empty()
}

/// What a pitch heard from an instrument stands for: the target, if the course
/// at one of its places sounds that pitch; else itself.
///
/// On a neck with single strings or unison courses this changes nothing. On an
/// octave course a pluck of the right place sounds two pitches an octave apart,
/// and the ear may name either. The price: on such a neck the upper one, played
/// on another string, passes for the target.
pub fn heard_as(neck: &Neck, target: Pitch, heard: Pitch) -> Pitch {
    let places = neck.places(target);
    if places.iter().any(|at| sounds(neck, *at, heard)) {
        target
    } else {
        heard
    }
}

fn sounds(neck: &Neck, at: Position, pitch: Pitch) -> bool {
    let (Some(first), Some(string)) = (neck.pitch_at(at), neck.string(at.string)) else {
        return false;
    };
    let up = first.semitones_to(pitch);
    up == 0 || string.course.iter().any(|c| i32::from(*c) == up)
}

/// The mark for an answer `distance` semitones above the target.
fn by_distance(distance: i32) -> Mark {
    let away = distance.unsigned_abs();
    let away_u8 = u8::try_from(away).unwrap_or(u8::MAX);
    let kind = match away {
        0 => return Mark::Right,
        1 => MissKind::Neighbour,
        2 => MissKind::WholeTone,
        _ if away.is_multiple_of(OCTAVE.unsigned_abs()) => MissKind::Octave {
            octaves: away_u8 / 12,
        },
        _ => MissKind::Interval { semitones: away_u8 },
    };
    missed(kind, side(distance))
}

/// The mark where every octave of the target is right.
fn by_nearest(distance: i32, octave_known: bool) -> Mark {
    let up = distance.rem_euclid(OCTAVE);
    match up {
        6 => missed(
            MissKind::Interval { semitones: 6 },
            side(distance).filter(|_| octave_known),
        ),
        7.. => by_distance(up - OCTAVE),
        _ => by_distance(up),
    }
}

/// The mark for a place that was not the one asked for.
fn elsewhere(distance: i32) -> Mark {
    match by_distance(distance) {
        Mark::Right => missed(MissKind::OtherPlace, None),
        Mark::Missed(Miss {
            kind: Some(MissKind::Octave { octaves }),
            side,
        }) => missed(MissKind::OtherPlaceOctave { octaves }, side),
        other => other,
    }
}

fn missed(kind: MissKind, side: Option<Side>) -> Mark {
    Mark::Missed(Miss {
        kind: Some(kind),
        side,
    })
}

fn side(distance: i32) -> Option<Side> {
    match distance.cmp(&0) {
        Ordering::Less => Some(Side::Low),
        Ordering::Equal => None,
        Ordering::Greater => Some(Side::High),
    }
}
