//! Pitches, note names without octave, and the reference pitch.
//!
//! Twelve-tone equal temperament with A4 at 440 Hz unless set otherwise
//! (ISO 16:1975). Numbers are MIDI note numbers (MIDI 1.0 Detailed
//! Specification: 60 is middle C, 69 is the A above it).

use serde::{Deserialize, Serialize};
use std::fmt;

/// MIDI number of A4.
const A4_MIDI: i32 = 69;

/// One pitch: a MIDI note number, 0 to 127.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "u8", into = "u8")]
pub struct Pitch(u8);

impl TryFrom<u8> for Pitch {
    type Error = &'static str;

    fn try_from(midi: u8) -> Result<Self, &'static str> {
        Pitch::new(midi).ok_or("a pitch beyond 127")
    }
}

impl From<Pitch> for u8 {
    fn from(pitch: Pitch) -> u8 {
        pitch.0
    }
}

impl Pitch {
    /// Middle C, C4.
    pub const MIDDLE_C: Pitch = Pitch(60);
    /// The A that tuning starts from, A4.
    pub const A4: Pitch = Pitch(69);

    /// The pitch of a MIDI note number; `None` above 127.
    pub const fn new(midi: u8) -> Option<Pitch> {
        if midi <= 127 { Some(Pitch(midi)) } else { None }
    }

    /// For tables in this crate whose numbers are checked by tests.
    pub(crate) const fn known(midi: u8) -> Pitch {
        assert!(midi <= 127);
        Pitch(midi)
    }

    /// The MIDI note number, 0 to 127.
    pub const fn midi(self) -> u8 {
        self.0
    }

    /// The note without its octave.
    pub const fn class(self) -> PitchClass {
        PitchClass(self.0 % 12)
    }

    /// The octave in scientific pitch notation: 4 from middle C to the B above
    /// it, -1 for the lowest MIDI notes.
    pub const fn octave(self) -> i8 {
        (self.0 / 12) as i8 - 1
    }

    /// This pitch moved by some semitones, up if positive; `None` outside 0 to
    /// 127.
    pub fn transposed(self, semitones: i32) -> Option<Pitch> {
        let moved = i32::from(self.0).checked_add(semitones)?;
        Pitch::new(u8::try_from(moved).ok()?)
    }

    /// How many semitones `other` lies above this pitch (negative: below).
    pub fn semitones_to(self, other: Pitch) -> i32 {
        i32::from(other.0) - i32::from(self.0)
    }

    /// Frequency of the fundamental, in hertz.
    pub fn frequency_hz(self, reference: Reference) -> f64 {
        let octaves = f64::from(i32::from(self.0) - A4_MIDI) / 12.0;
        reference.a4_hz() * octaves.exp2()
    }

    /// The pitch nearest to a frequency in hertz, and how many cents the
    /// frequency lies above it (within 50 either way). `None` for what is no
    /// frequency, or further than half a semitone outside MIDI 0 to 127.
    pub fn nearest(frequency_hz: f64, reference: Reference) -> Option<(Pitch, f64)> {
        if !frequency_hz.is_finite() || frequency_hz <= 0.0 {
            return None;
        }
        let cents_from_a4 = cents_between(reference.a4_hz(), frequency_hz);
        let semitones = (cents_from_a4 / 100.0).round();
        if semitones.abs() > 127.0 {
            return None;
        }
        let pitch = Pitch::A4.transposed(semitones as i32)?;
        Some((pitch, cents_from_a4 - semitones * 100.0))
    }
}

/// A note name without octave: 0 is C, 11 is B.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "u8", into = "u8")]
pub struct PitchClass(u8);

impl TryFrom<u8> for PitchClass {
    type Error = &'static str;

    fn try_from(number: u8) -> Result<Self, &'static str> {
        PitchClass::new(number).ok_or("a note name beyond B")
    }
}

impl From<PitchClass> for u8 {
    fn from(class: PitchClass) -> u8 {
        class.0
    }
}

impl PitchClass {
    /// The class of a number; `None` above 11.
    pub const fn new(number: u8) -> Option<PitchClass> {
        if number <= 11 {
            Some(PitchClass(number))
        } else {
            None
        }
    }

    /// Semitones above C, 0 to 11.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// The class some semitones above this one, 0 to 11 being this octave.
    pub const fn raised(self, semitones: u8) -> PitchClass {
        PitchClass((self.0 + semitones % 12) % 12)
    }

    /// How many semitones `other` lies above this class, 0 to 11.
    pub const fn semitones_up_to(self, other: PitchClass) -> u8 {
        (other.0 + 12 - self.0) % 12
    }
}

/// The frequency of A4 that everything is tuned to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reference {
    a4_hz: f64,
}

impl Reference {
    /// Lowest A4 accepted, in hertz: a little below 18th-century pitch.
    pub const LOWEST_HZ: f64 = 390.0;
    /// Highest A4 accepted, in hertz: a little above the old choir pitch.
    pub const HIGHEST_HZ: f64 = 470.0;

    /// Tunes A4 to a frequency in hertz.
    ///
    /// # Errors
    /// [`ReferenceError`] outside [`Reference::LOWEST_HZ`] to
    /// [`Reference::HIGHEST_HZ`], which is further than a semitone from 440.
    pub fn new(a4_hz: f64) -> Result<Reference, ReferenceError> {
        if (Self::LOWEST_HZ..=Self::HIGHEST_HZ).contains(&a4_hz) {
            Ok(Reference { a4_hz })
        } else {
            Err(ReferenceError { a4_hz })
        }
    }

    /// The frequency of A4, in hertz.
    pub const fn a4_hz(self) -> f64 {
        self.a4_hz
    }
}

impl Default for Reference {
    /// A4 = 440 Hz (ISO 16:1975).
    fn default() -> Self {
        Reference { a4_hz: 440.0 }
    }
}

impl fmt::Display for Reference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "A4 = {} Hz", self.a4_hz)
    }
}

/// A reference pitch that no instrument is tuned to.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{a4_hz} Hz is no pitch to tune A4 to: give between 390 and 470 Hz, such as 440")]
pub struct ReferenceError {
    /// What was asked for, in hertz.
    pub a4_hz: f64,
}

/// How many cents `to_hz` lies above `from_hz`: 100 to a semitone, 1200 to an
/// octave. Both in hertz and above nought; anything else gives NaN or an
/// infinity, as the logarithm does.
pub fn cents_between(from_hz: f64, to_hz: f64) -> f64 {
    1200.0 * (to_hz / from_hz).log2()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn middle_c_and_a4() {
        assert_eq!(Pitch::MIDDLE_C.octave(), 4);
        assert_eq!(Pitch::MIDDLE_C.class().number(), 0);
        assert_eq!(Pitch::A4.frequency_hz(Reference::default()), 440.0);
        assert_eq!(Pitch::new(0).map(Pitch::octave), Some(-1));
        assert_eq!(Pitch::new(128), None);
    }

    #[test]
    fn nearest_says_how_far_off() {
        let a4 = Reference::default();
        let (pitch, cents) = Pitch::nearest(445.0, a4).unwrap();
        assert_eq!(pitch, Pitch::A4);
        // 1200·log2(445/440), worked out by hand: 19.56.
        assert!((cents - 19.56).abs() < 0.01, "{cents}");
        for bad in [0.0, -3.0, f64::NAN, f64::INFINITY, 1e-300, 1e9] {
            assert_eq!(Pitch::nearest(bad, a4), None, "{bad}");
        }
    }

    #[test]
    fn nearest_undoes_frequency_at_every_reference() {
        for a4_hz in [390.0, 415.0, 440.0, 442.0, 470.0] {
            let reference = Reference::new(a4_hz).unwrap();
            for midi in 0..=127 {
                let pitch = Pitch::new(midi).unwrap();
                let (back, cents) =
                    Pitch::nearest(pitch.frequency_hz(reference), reference).unwrap();
                assert_eq!(back, pitch);
                assert!(cents.abs() < 1e-6);
            }
        }
    }

    #[test]
    fn transposing_stays_in_range() {
        assert_eq!(Pitch::A4.transposed(58), Pitch::new(127));
        assert_eq!(Pitch::A4.transposed(59), None);
        assert_eq!(Pitch::A4.transposed(-70), None);
        assert_eq!(Pitch::A4.transposed(i32::MAX), None);
        assert_eq!(Pitch::A4.semitones_to(Pitch::MIDDLE_C), -9);
    }

    #[test]
    fn a_reference_has_bounds() {
        for bad in [389.9, 470.1, f64::NAN, f64::INFINITY, -440.0] {
            assert!(Reference::new(bad).is_err(), "{bad}");
        }
        assert!(Reference::new(390.0).is_ok() && Reference::new(470.0).is_ok());
    }
}
