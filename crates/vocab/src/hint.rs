//! What a miss says, for people who know no terms: which way, near or far, and
//! whether the note was nearer than the one before.

use core::cmp::Ordering;

use fifthpeg_core::Pitch;

use crate::choices::{Marking, Side, Telling};
use crate::mark::{Mark, Miss, MissKind};
use crate::words::{octaves_in_words, sentence};

/// An answer as its hint needs it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Marked {
    /// The mark as it was told.
    pub mark: Mark,
    /// What was answered, where it was a pitch or a place.
    pub pitch: Option<Pitch>,
}

/// The hint on a miss, without a capital and a full stop: "nearer; still a little
/// low". It comes from what the student was told and gave, so that it tells no
/// more. `None` where the lesson tells no hints, or the note was right.
pub fn hint(
    telling: Telling,
    marking: Marking,
    now: Marked,
    before: Option<Marked>,
) -> Option<String> {
    let Mark::Missed(Miss {
        kind: Some(kind),
        side: Some(side),
    }) = now.mark
    else {
        return None;
    };
    if telling != Telling::Hint {
        return None;
    }
    let look = match side {
        Side::Low => "higher",
        Side::High => "lower",
    };
    let how = how_far(kind, side)?;
    match kind {
        MissKind::Octave { .. } => return Some(how),
        MissKind::Neighbour => return Some(format!("right next to it: one fret {look}")),
        _ => {}
    }
    Some(
        match before.and_then(|before| trend(marking, now, before)) {
            Some(Ordering::Less) => {
                let before = before.map(|before| before.mark);
                let same = matches!(before, Some(Mark::Missed(miss)) if miss.side == Some(side));
                // "Still" would be wrong of the other side.
                let nearer = if same {
                    "nearer; still"
                } else {
                    "nearer, but now"
                };
                match kind {
                    MissKind::WholeTone => format!("{nearer} {how}"),
                    _ => format!("{nearer} {how}: look {look}"),
                }
            }
            Some(_) => format!("further off; {how}: look {look}"),
            None => format!("your note is {how}: look {look}"),
        },
    )
}

/// The same of one answer in a list, without the way to go: "far too low".
pub fn in_short(telling: Telling, mark: &Mark) -> String {
    let how = match mark {
        Mark::Missed(miss) => miss.kind.zip(miss.side),
        Mark::Right => None,
    };
    let how = how.filter(|_| telling == Telling::Hint);
    how.and_then(|(kind, side)| how_far(kind, side))
        .unwrap_or_else(|| sentence(mark))
}

fn how_far(kind: MissKind, side: Side) -> Option<String> {
    let way = match side {
        Side::Low => "low",
        Side::High => "high",
    };
    Some(match kind {
        MissKind::Octave { octaves } => {
            format!("the right note, {} {way}", octaves_in_words(octaves))
        }
        MissKind::Neighbour => format!("one fret too {way}"),
        MissKind::WholeTone => format!("a little {way}"),
        MissKind::Further => format!("too {way}"),
        MissKind::Far => format!("far too {way}"),
        // Told once the note is shown, or with words of their own.
        MissKind::Interval { .. } | MissKind::OtherPlace | MissKind::OtherPlaceOctave { .. } => {
            return None;
        }
    })
}

/// Whether a miss was nearer than the one before, as far as both were told: by the
/// pitches where both lay on one side, else by how near or far.
fn trend(marking: Marking, now: Marked, before: Marked) -> Option<Ordering> {
    let told = |marked: Marked| match marked.mark {
        Mark::Missed(miss) => Some((rank(miss.kind?)?, miss.side?)),
        Mark::Right => None,
    };
    let ((rank, side), (rank_before, side_before)) = (told(now)?, told(before)?);
    // Where any octave is right, two notes are not measured from the same one.
    let measured = side == side_before && marking != Marking::AnyOctave;
    let order = match (now.pitch.zip(before.pitch).filter(|_| measured), side) {
        (Some((now, before)), Side::Low) => before.cmp(&now),
        (Some((now, before)), Side::High) => now.cmp(&before),
        (None, _) => rank.cmp(&rank_before),
    };
    (order != Ordering::Equal).then_some(order)
}

fn rank(kind: MissKind) -> Option<u8> {
    match kind {
        MissKind::Neighbour => Some(1),
        MissKind::WholeTone => Some(2),
        MissKind::Further => Some(3),
        MissKind::Far => Some(4),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TARGET: i32 = 62;

    fn told(semitones: i32) -> Marked {
        let kind = match semitones.unsigned_abs() {
            1 => MissKind::Neighbour,
            2 => MissKind::WholeTone,
            12 => MissKind::Octave { octaves: 1 },
            s => MissKind::Interval {
                semitones: u8::try_from(s).unwrap(),
            },
        };
        let side = match semitones {
            ..0 => Side::Low,
            _ => Side::High,
        };
        let miss = Miss {
            kind: Some(kind),
            side: Some(side),
        };
        Marked {
            mark: Mark::Missed(miss).told(Telling::Hint),
            pitch: Pitch::new(u8::try_from(TARGET + semitones).unwrap()),
        }
    }

    #[test]
    fn a_hint_leads_and_says_whether_it_was_nearer() {
        // Against D4: G3, A3 and B3 say different things, in any order.
        let cases = [
            (None, -7, "your note is far too low: look higher"),
            (Some(-7), -5, "nearer; still far too low: look higher"),
            (Some(-5), -3, "nearer; still too low: look higher"),
            (Some(-3), -2, "nearer; still a little low"),
            (Some(-2), -3, "further off; too low: look higher"),
            (Some(-3), -3, "your note is too low: look higher"),
            // From the other side: by what was told of both.
            (Some(-7), 3, "nearer, but now too high: look lower"),
            (Some(-7), 2, "nearer, but now a little high"),
            (Some(-3), 4, "your note is too high: look lower"),
            (Some(-2), 9, "further off; far too high: look lower"),
            (Some(-7), -1, "right next to it: one fret higher"),
            (None, 1, "right next to it: one fret lower"),
            (None, -12, "the right note, an octave low"),
            (Some(-12), -3, "your note is too low: look higher"),
        ];
        for (before, now, said) in cases {
            let hint = hint(
                Telling::Hint,
                Marking::SamePitch,
                told(now),
                before.map(told),
            );
            assert_eq!(hint.as_deref(), Some(said), "{before:?} {now}");
        }
    }

    #[test]
    fn nearer_is_said_of_nothing_but_what_is_nearer() {
        for before in (-24..=24).filter(|s| *s != 0 && s % 12 != 0) {
            for now in (-24..=24).filter(|s| *s != 0 && s % 12 != 0) {
                let said = hint(
                    Telling::Hint,
                    Marking::SamePitch,
                    told(now),
                    Some(told(before)),
                );
                let said = said.unwrap();
                let (now, before) = (i32::abs(now), i32::abs(before));
                assert!(
                    !said.starts_with("nearer") || now < before,
                    "{now} {before}"
                );
                assert!(
                    !said.starts_with("further") || now > before,
                    "{now} {before}"
                );
            }
        }
    }

    #[test]
    fn other_tellings_have_no_hint() {
        for telling in [Telling::Verdict, Telling::Interval] {
            assert_eq!(hint(telling, Marking::SamePitch, told(-3), None), None);
        }
        // In any octave the pitches say nothing of nearness.
        let (near, far) = (told(-3), told(-4));
        assert_eq!(
            hint(Telling::Hint, Marking::AnyOctave, near, Some(far)).as_deref(),
            Some("your note is too low: look higher")
        );
    }
}
