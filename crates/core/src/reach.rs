//! A reach on a neck: the places and notes a call may be picked from.

use crate::reach_spec::{ReachSpec, ReachStep};
use crate::{Neck, NeckString, Pitch, Position, Spelling};

/// The string that the octave steps start from.
const OCTAVE_STRING: u8 = 4;

/// The places of a reach on one neck.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reach {
    positions: Vec<Position>,
    pitches: Vec<Pitch>,
}

/// Why a reach cannot be used on a neck.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReachError {
    /// It names a string that the neck does not have.
    #[error(
        "the reach asks for string {string}, but this neck has strings 1 to {count}: choose among those"
    )]
    NoSuchString {
        /// The string asked for.
        string: u8,
        /// How many the neck has.
        count: u8,
    },
    /// It names no string at all.
    #[error("the reach leaves no string to play: name at least one, such as strings=1")]
    NoStrings,
    /// It ends at a lower fret than it starts from.
    #[error(
        "the reach runs from fret {from} down to fret {to}: give the lower fret first, such as frets={to}-{from}"
    )]
    FretsReversed {
        /// The first fret given.
        from: u8,
        /// The second.
        to: u8,
    },
    /// It ends at a lower pitch than it starts from.
    #[error(
        "the reach runs from {} down to {}: give the lower pitch first",
        from.ascii_name(Spelling::Sharps), to.ascii_name(Spelling::Sharps)
    )]
    PitchesReversed {
        /// The first pitch given.
        from: Pitch,
        /// The second.
        to: Pitch,
    },
    /// The neck has no second string.
    #[error("this neck has one string only, and the step needs two: choose a wider step")]
    OneString,
    /// Nothing on the neck fits.
    #[error("no place on this neck fits the reach: widen its strings, frets, pitches or notes")]
    NoNote,
    /// One note is nothing to search for.
    #[error(
        "the reach holds one note only, {}, so there would be nothing to search for: widen it to two notes or more",
        pitch.ascii_name(Spelling::Sharps)
    )]
    OneNote {
        /// The one note.
        pitch: Pitch,
    },
}

impl Reach {
    /// Finds the places of a reach on a neck.
    ///
    /// The octave steps start from the fourth string open (under a capo, as
    /// the capo makes it). On a neck of fewer strings, or whose fourth is a
    /// short string, they start from the full-length string that is lowest.
    ///
    /// # Errors
    /// [`ReachError`] if the spec does not fit the neck, or holds fewer than
    /// two notes.
    pub fn resolve(neck: &Neck, spec: &ReachSpec) -> Result<Reach, ReachError> {
        check(neck, spec)?;
        let mut positions = match spec.step {
            Some(step) => step_positions(neck, step)?,
            None => neck.positions(),
        };
        positions.retain(|position| fits(neck, spec, *position));
        let mut pitches: Vec<Pitch> = positions.iter().filter_map(|p| neck.pitch_at(*p)).collect();
        pitches.sort_unstable();
        pitches.dedup();
        match pitches.as_slice() {
            [] => Err(ReachError::NoNote),
            [pitch] => Err(ReachError::OneNote { pitch: *pitch }),
            _ => Ok(Reach { positions, pitches }),
        }
    }

    /// Every place, sorted by string, then fret.
    pub fn positions(&self) -> &[Position] {
        &self.positions
    }

    /// Every note, from low to high, each once; two or more.
    pub fn pitches(&self) -> &[Pitch] {
        &self.pitches
    }

    /// Whether a note is in reach.
    pub fn contains_pitch(&self, pitch: Pitch) -> bool {
        self.pitches.binary_search(&pitch).is_ok()
    }

    /// Whether a place is in reach. A place outside may still sound a note
    /// that is.
    pub fn contains_place(&self, position: Position) -> bool {
        self.positions.binary_search(&position).is_ok()
    }
}

fn check(neck: &Neck, spec: &ReachSpec) -> Result<(), ReachError> {
    if let Some(strings) = &spec.strings {
        if strings.is_empty() {
            return Err(ReachError::NoStrings);
        }
        let count = neck.string_count();
        if let Some(string) = strings.iter().find(|string| !(1..=count).contains(*string)) {
            return Err(ReachError::NoSuchString {
                string: *string,
                count,
            });
        }
    }
    match spec.frets {
        Some((from, to)) if from > to => return Err(ReachError::FretsReversed { from, to }),
        _ => {}
    }
    match spec.pitches {
        Some((from, to)) if from > to => Err(ReachError::PitchesReversed { from, to }),
        _ => Ok(()),
    }
}

/// Whether a place fits the limits of a spec, its step aside.
fn fits(neck: &Neck, spec: &ReachSpec, position: Position) -> bool {
    let Some(pitch) = neck.pitch_at(position) else {
        return false;
    };
    let on_string = spec
        .strings
        .as_ref()
        .is_none_or(|strings| strings.contains(&position.string));
    let open = neck.open_position(position.string) == Some(position);
    let in_frets = spec
        .frets
        .is_none_or(|(from, to)| (from == 0 && open) || (from..=to).contains(&position.fret));
    let in_pitches = spec
        .pitches
        .is_none_or(|(from, to)| (from..=to).contains(&pitch));
    let in_notes = spec.notes.is_none_or(|notes| notes.contains(pitch.class()));
    on_string && in_frets && in_pitches && in_notes
}

fn step_positions(neck: &Neck, step: ReachStep) -> Result<Vec<Position>, ReachError> {
    let opens = || {
        neck.numbered_strings()
            .filter_map(|(number, _)| neck.open_position(number))
    };
    match step {
        ReachStep::TwoOpen if neck.string_count() < 2 => Err(ReachError::OneString),
        ReachStep::TwoOpen => Ok(opens().take(2).collect()),
        ReachStep::AllOpen => Ok(opens().collect()),
        ReachStep::OctaveLow => Ok(octave_low(neck)),
        ReachStep::OctaveAlong => Ok(octave_along(neck)),
        ReachStep::TwelveFrets => Ok(twelve_frets(neck)),
        ReachStep::WholeNeck => Ok(neck.positions()),
    }
}

/// The string that the octave steps start from.
fn octave_string(neck: &Neck) -> u8 {
    let full = |string: &NeckString| string.first_fret == 0;
    if neck.string(OCTAVE_STRING).is_some_and(full) {
        return OCTAVE_STRING;
    }
    let lowest = neck
        .numbered_strings()
        .min_by_key(|(_, string)| (!full(string), string.open));
    lowest.map_or(1, |(number, _)| number)
}

/// The pitches of the octave, low to high; those off the neck are left out by
/// whoever looks for their places.
fn octave_pitches(neck: &Neck) -> impl Iterator<Item = Pitch> {
    let open = neck
        .open_position(octave_string(neck))
        .and_then(|open| neck.pitch_at(open));
    (0..=12).filter_map(move |semitones| open?.transposed(semitones))
}

fn octave_low(neck: &Neck) -> Vec<Position> {
    // Open is the lowest of all, whichever fret a string's capo sits at.
    let height = |place: &Position| {
        if neck.open_position(place.string) == Some(*place) {
            0
        } else {
            place.fret
        }
    };
    let lowest = |pitch| neck.places(pitch).into_iter().min_by_key(height);
    let mut places: Vec<Position> = octave_pitches(neck).filter_map(lowest).collect();
    places.sort_unstable();
    places
}

fn octave_along(neck: &Neck) -> Vec<Position> {
    let string = octave_string(neck);
    octave_pitches(neck)
        .flat_map(|pitch| neck.places(pitch))
        .filter(|place| place.string == string)
        .collect()
}

fn twelve_frets(neck: &Neck) -> Vec<Position> {
    let last = neck.capo().map_or(0, |capo| capo.fret).saturating_add(12);
    let mut places = neck.positions();
    places.retain(|place| place.fret <= last || neck.open_position(place.string) == Some(*place));
    places
}
