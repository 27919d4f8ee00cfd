//! A neck: its strings, its capo, and what sounds where.
//!
//! Frets are numbered as in tablature, from the main nut, with a capo or
//! without: behind a capo at fret 2 there is nothing, and fret 2 is where its
//! strings sound open. A short string, such as the fifth of a five-string
//! banjo, starts at a peg or nut of its own: its open sound is fret 0, and its
//! first stopped fret is the one after the peg. The main capo does not touch
//! short strings; they have one of their own. Common practice, no source.

use serde::{Deserialize, Serialize};

use crate::bounded::{Shown, Within, bound};
use crate::frets::fret_ratio;
pub use crate::neck_limits::{
    LONGEST_NAME, LONGEST_NAME_BYTES, LONGEST_SCALE_MM, MOST_FRETS, MOST_IN_COURSE, MOST_STRINGS,
    SHORTEST_SCALE_MM, WIDEST_COURSE,
};
use crate::text::may_be_shown;
use crate::tunings::ready_necks;
use crate::{NeckError, Pitch, Position};

bound! {
    /// What its owner calls a neck.
    NeckName = (LONGEST_NAME_BYTES, "bytes of a neck's name");
    /// The strings of a neck.
    Strings = (MOST_STRINGS, "strings of a neck");
    /// The further strings of a course.
    Course = (MOST_IN_COURSE, "further strings in a course");
}

/// One string, or one course of strings stopped together.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NeckString {
    /// Its pitch unstopped and without a capo.
    pub open: Pitch,
    /// The fret its own nut or peg sits at: 0 for a full-length string, 5 for
    /// the banjo's fifth.
    pub first_fret: u8,
    /// Its highest fret, numbered from the main nut.
    pub last_fret: u8,
    /// Further strings of the course, in semitones above the first: empty for
    /// a single string, `[0]` for a unison pair, `[12]` for an octave pair.
    #[serde(with = "Within::<Course>")]
    pub course: Vec<i8>,
}

/// A capo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Capo {
    /// The fret it stops all full-length strings at; 0 for none there.
    pub fret: u8,
    /// The fret at which a capo or hook of their own stops the short strings,
    /// numbered from the main nut.
    pub short: Option<u8>,
}

/// A neck in plain figures, unchecked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NeckDescription {
    /// What its owner calls it.
    #[serde(with = "Shown::<NeckName>")]
    pub name: String,
    /// The strings; the first is string 1.
    #[serde(with = "Within::<Strings>")]
    pub strings: Vec<NeckString>,
    /// From nut to bridge, in millimetres.
    pub scale_length_mm: f64,
    /// The capo, if one is on.
    pub capo: Option<Capo>,
}

/// A neck that can be: a checked description.
#[derive(Debug, Clone, PartialEq)]
pub struct Neck {
    description: NeckDescription,
}

impl Neck {
    /// Checks a description.
    ///
    /// # Errors
    /// [`NeckError`] with the first thing wrong: name, string count, scale
    /// length, then each string in turn, then the capo.
    pub fn build(description: NeckDescription) -> Result<Neck, NeckError> {
        check(&description)?;
        Ok(Neck { description })
    }

    /// A ready neck by name, such as `banjo-open-g`; `None` if there is none
    /// of that name. [`ready_necks`] lists them.
    pub fn ready(name: &str) -> Option<Neck> {
        ready_necks()
            .iter()
            .find(|ready| ready.name == name)
            .map(|ready| ready.neck())
    }

    /// The figures it was built from.
    pub fn description(&self) -> &NeckDescription {
        &self.description
    }

    /// What its owner calls it.
    pub fn name(&self) -> &str {
        &self.description.name
    }

    /// The capo, if one is on.
    pub fn capo(&self) -> Option<Capo> {
        self.description.capo
    }

    /// The same neck with this capo instead of any it has.
    ///
    /// # Errors
    /// [`NeckError`] if the capo does not fit.
    pub fn with_capo(&self, capo: Capo) -> Result<Neck, NeckError> {
        Neck::build(NeckDescription {
            capo: Some(capo),
            ..self.description.clone()
        })
    }

    /// The same neck with a capo on the full-length strings, and the short
    /// strings raised as much by their own: at fret 2 with the banjo's fifth
    /// at 7. Fret 0 takes the capo off.
    ///
    /// # Errors
    /// [`NeckError`] if there is no such fret to spare.
    pub fn with_capo_at(&self, fret: u8) -> Result<Neck, NeckError> {
        if fret == 0 {
            return Ok(self.without_capo());
        }
        let peg = self
            .description
            .strings
            .iter()
            .map(|s| s.first_fret)
            .max()
            .filter(|peg| *peg > 0);
        self.with_capo(Capo {
            fret,
            short: peg.map(|peg| peg.saturating_add(fret)),
        })
    }

    /// The same neck without a capo.
    pub fn without_capo(&self) -> Neck {
        Neck {
            description: NeckDescription {
                capo: None,
                ..self.description.clone()
            },
        }
    }

    /// How many strings, or courses.
    pub fn string_count(&self) -> u8 {
        // `check` allows 16.
        self.description.strings.len() as u8
    }

    /// A string by number, from 1.
    pub fn string(&self, number: u8) -> Option<&NeckString> {
        self.description
            .strings
            .get(usize::from(number).checked_sub(1)?)
    }

    /// Every string with its number, from string 1.
    pub fn numbered_strings(&self) -> impl Iterator<Item = (u8, &NeckString)> {
        (1..).zip(&self.description.strings)
    }

    /// The fret a string sounds open at: 0, or where its capo sits.
    fn open_fret(&self, string: &NeckString) -> u8 {
        let Some(capo) = self.description.capo else {
            return 0;
        };
        if string.first_fret == 0 {
            capo.fret
        } else {
            capo.short.unwrap_or(0)
        }
    }

    /// Where a string sounds unstopped: fret 0, or the fret its capo sits at.
    pub fn open_position(&self, string: u8) -> Option<Position> {
        let fret = self.open_fret(self.string(string)?);
        Some(Position { string, fret })
    }

    /// A place in words: "string 2, fret 1", "string 1, open".
    pub fn place_in_words(&self, place: Position) -> String {
        if self.open_position(place.string) == Some(place) {
            format!("string {}, open", place.string)
        } else {
            format!("string {}, fret {}", place.string, place.fret)
        }
    }

    /// The pitch of a place. `None` off the neck, behind a capo, or on a short
    /// string at or behind its peg (other than fret 0, its open sound).
    pub fn pitch_at(&self, position: Position) -> Option<Pitch> {
        let string = self.string(position.string)?;
        let open = self.open_fret(string);
        if position.fret < open || position.fret > string.last_fret {
            return None;
        }
        if position.fret == 0 {
            return Some(string.open);
        }
        let raised = position.fret.checked_sub(string.first_fret)?;
        if raised == 0 {
            return None;
        }
        string.open.transposed(i32::from(raised))
    }

    /// Every place of a pitch, sorted by string; at most one on each.
    pub fn places(&self, pitch: Pitch) -> Vec<Position> {
        let place = |(number, string): (u8, &NeckString)| {
            let raised = u8::try_from(string.open.semitones_to(pitch)).ok()?;
            let fret = if raised == 0 {
                0
            } else {
                raised.checked_add(string.first_fret)?
            };
            let position = Position {
                string: number,
                fret,
            };
            self.pitch_at(position).map(|_| position)
        };
        self.numbered_strings().filter_map(place).collect()
    }

    /// Every place on the neck, sorted by string, then fret.
    pub fn positions(&self) -> Vec<Position> {
        let on_string = |(number, string): (u8, &NeckString)| {
            (0..=string.last_fret).map(move |fret| Position {
                string: number,
                fret,
            })
        };
        let all = self.numbered_strings().flat_map(on_string);
        all.filter(|position| self.pitch_at(*position).is_some())
            .collect()
    }

    /// The lowest pitch on the neck.
    pub fn lowest(&self) -> Pitch {
        let opens = self
            .numbered_strings()
            .filter_map(|(n, _)| self.pitch_at(self.open_position(n)?));
        // A built neck has a string, so the fallback is never reached.
        opens.min().unwrap_or(Pitch::MIDDLE_C)
    }

    /// The highest pitch on the neck.
    pub fn highest(&self) -> Pitch {
        let ends = self.numbered_strings().filter_map(|(string, s)| {
            self.pitch_at(Position {
                string,
                fret: s.last_fret,
            })
        });
        ends.max().unwrap_or(Pitch::MIDDLE_C)
    }

    /// Every place a semitone below or above this one, sorted; empty if this
    /// one is not on the neck.
    pub fn neighbours(&self, position: Position) -> Vec<Position> {
        self.places_apart(position, |semitones| semitones == 1)
    }

    /// Every place one or more whole octaves below or above this one, sorted;
    /// empty if this one is not on the neck.
    pub fn octaves(&self, position: Position) -> Vec<Position> {
        self.places_apart(position, |semitones| {
            semitones > 0 && semitones.is_multiple_of(12)
        })
    }

    fn places_apart(&self, position: Position, wanted: impl Fn(u32) -> bool) -> Vec<Position> {
        let Some(here) = self.pitch_at(position) else {
            return Vec::new();
        };
        let mut places = self.positions();
        places.retain(|place| {
            self.pitch_at(*place)
                .is_some_and(|there| wanted(here.semitones_to(there).unsigned_abs()))
        });
        places
    }

    /// How far a fret lies from the main nut, in millimetres.
    pub fn fret_distance_mm(&self, fret: u8) -> f64 {
        self.description.scale_length_mm * fret_ratio(fret)
    }

    /// The highest fret of any string.
    pub fn last_fret(&self) -> u8 {
        self.description
            .strings
            .iter()
            .map(|string| string.last_fret)
            .max()
            .unwrap_or(0)
    }
}

fn check(neck: &NeckDescription) -> Result<(), NeckError> {
    let letters = neck.name.chars().count();
    if neck.name.trim().is_empty()
        || letters > LONGEST_NAME
        || neck.name.len() > LONGEST_NAME_BYTES
        || !may_be_shown(&neck.name)
    {
        return Err(NeckError::Name);
    }
    if !(1..=MOST_STRINGS).contains(&neck.strings.len()) {
        return Err(NeckError::StringCount {
            count: neck.strings.len(),
        });
    }
    if !(SHORTEST_SCALE_MM..=LONGEST_SCALE_MM).contains(&neck.scale_length_mm) {
        return Err(NeckError::ScaleLength {
            mm: neck.scale_length_mm,
        });
    }
    for (number, string) in (1..).zip(&neck.strings) {
        check_string(number, string)?;
    }
    match neck.capo {
        Some(capo) => check_capo(neck, capo),
        None => Ok(()),
    }
}

fn check_string(number: u8, string: &NeckString) -> Result<(), NeckError> {
    let last_fret = string.last_fret;
    if last_fret <= string.first_fret || last_fret > MOST_FRETS {
        let least = string.first_fret.saturating_add(1);
        return Err(NeckError::LastFret {
            string: number,
            last_fret,
            least,
        });
    }
    if string
        .open
        .transposed(i32::from(last_fret - string.first_fret))
        .is_none()
    {
        return Err(NeckError::TooHigh {
            string: number,
            last_fret,
        });
    }
    let too_wide = |semitones: &i8| semitones.unsigned_abs() > WIDEST_COURSE.unsigned_abs();
    if string.course.len() > MOST_IN_COURSE || string.course.iter().any(too_wide) {
        return Err(NeckError::Course { string: number });
    }
    Ok(())
}

fn check_capo(neck: &NeckDescription, capo: Capo) -> Result<(), NeckError> {
    if capo.fret == 0 && capo.short.is_none() {
        return Err(NeckError::CapoNowhere);
    }
    let has_short = neck.strings.iter().any(|string| string.first_fret > 0);
    if capo.short.is_some() && !has_short {
        return Err(NeckError::NoShortString {
            name: neck.name.clone(),
        });
    }
    for (number, string) in (1..).zip(&neck.strings) {
        let fret = if string.first_fret == 0 {
            capo.fret
        } else {
            capo.short.unwrap_or(0)
        };
        if fret >= string.last_fret {
            return Err(NeckError::CapoTooHigh {
                fret,
                string: number,
                most: string.last_fret - 1,
            });
        }
        if let (1.., Some(short)) = (string.first_fret, capo.short)
            && short <= string.first_fret
        {
            return Err(NeckError::ShortCapoBehindPeg {
                fret: short,
                string: number,
                first_fret: string.first_fret,
            });
        }
    }
    Ok(())
}
