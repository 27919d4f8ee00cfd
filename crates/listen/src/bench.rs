//! The strings on the bench: which one is being tuned, and how each one is.

use std::time::{Duration, Instant};

use fifthpeg_core::{Neck, Pitch, Reference, cents_between};
use fifthpeg_ear::tuner::Reading;

/// A string this near its pitch is in tune, in cents. Common practice, no source.
pub const IN_TUNE_CENTS: f64 = 3.0;
/// Readings that must agree before one counts, and within how many cents.
const READINGS_TO_COUNT: u32 = 5;
const AGREE_CENTS: f64 = 2.0;
/// A reading this near another string, and as far from the chosen one, is that
/// other string, in cents.
const OTHER_STRING_CENTS: f64 = 150.0;
/// How long after an own tone the room and the tuner still hold some of it.
const ECHO: Duration = Duration::from_millis(450);

/// How a string was when it was plucked last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StringState {
    /// Not heard yet.
    Unheard,
    /// So many cents above its pitch (below nought: below it).
    Off(f64),
    /// In tune, within so many cents.
    InTune(f64),
}

/// One string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BenchString {
    /// Its number, 1 for the one at the top of a tablature.
    pub number: u8,
    /// What it is tuned to, capo included.
    pub pitch: Pitch,
    /// The same in hertz.
    pub target_hz: f64,
    /// How it was last.
    pub state: StringState,
}

/// Something to tell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BenchNews {
    /// A pluck of the chosen string is read: so many cents off.
    Read {
        /// The string's number.
        string: u8,
        /// Cents above its pitch.
        cents: f64,
    },
    /// What was plucked is nearer to another string than the chosen one.
    Other {
        /// That string's number.
        string: u8,
    },
    /// The chosen one is done with, or nobody has chosen yet, and another was
    /// plucked: that one is chosen now.
    Moved {
        /// That string's number.
        string: u8,
    },
}

/// The strings of a neck.
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    strings: Vec<BenchString>,
    chosen: usize,
    /// Whether it was chosen on purpose: by hand, or by being sounded.
    on_purpose: bool,
    /// Whether it is shown how far a string is off. At first it is not: the ear
    /// comes first.
    pub meter: bool,
    /// The chosen string, while it rings.
    ringing: Option<f64>,
    /// The reading before, and how many in a row agreed with it.
    row: Option<(f64, u32)>,
    deaf_until: Option<Instant>,
}

impl Bench {
    /// The strings of a neck; the first chosen is the one of the highest number
    /// that runs the whole length, with which tuning usually begins (common
    /// practice, no source).
    pub fn new(neck: &Neck, reference: Reference) -> Self {
        let strings: Vec<BenchString> = neck
            .numbered_strings()
            .filter_map(|(number, _)| {
                let pitch = neck.pitch_at(neck.open_position(number)?)?;
                Some(BenchString {
                    number,
                    pitch,
                    target_hz: pitch.frequency_hz(reference),
                    state: StringState::Unheard,
                })
            })
            .collect();
        let long = |number: u8| neck.string(number).is_some_and(|s| s.first_fret == 0);
        let chosen = strings.iter().rposition(|s| long(s.number)).unwrap_or(0);
        Self {
            strings,
            chosen,
            on_purpose: false,
            meter: false,
            ringing: None,
            row: None,
            deaf_until: None,
        }
    }

    /// All strings, by number.
    pub fn strings(&self) -> &[BenchString] {
        &self.strings
    }

    /// The string being tuned; every neck has one.
    pub fn chosen(&self) -> &BenchString {
        &self.strings[self.chosen]
    }

    /// How many cents above its pitch the chosen string is while it rings.
    pub fn ringing(&self) -> Option<f64> {
        self.ringing
    }

    /// How many strings are in tune.
    pub fn in_tune(&self) -> usize {
        let in_tune = |s: &&BenchString| matches!(s.state, StringState::InTune(_));
        self.strings.iter().filter(in_tune).count()
    }

    /// Chooses the string of a number; whether there is one.
    pub fn choose(&mut self, number: u8) -> bool {
        let found = self.strings.iter().position(|s| s.number == number);
        if let Some(found) = found {
            self.go_to(found);
        }
        found.is_some()
    }

    /// Chooses another string, so many further down the list.
    pub fn step(&mut self, by: isize) {
        let count = self.strings.len() as isize;
        let next = (self.chosen as isize + by).rem_euclid(count);
        self.go_to(next as usize);
    }

    /// Own speakers sound until then: nothing counts meanwhile.
    pub fn own_tone(&mut self, until: Instant) {
        self.on_purpose = true;
        self.deaf_until = Some(until + ECHO);
        self.silent();
    }

    /// Whether own speakers sound.
    pub fn is_deaf(&self, now: Instant) -> bool {
        self.deaf_until.is_some_and(|until| now < until)
    }

    /// Takes what the tuner reads now.
    pub fn take(&mut self, reading: Option<Reading>, now: Instant) -> Option<BenchNews> {
        let Some(reading) = reading.filter(|_| !self.is_deaf(now)) else {
            self.silent();
            return None;
        };
        let hz = reading.frequency_hz;
        let count = match self.row {
            Some((before, count)) if cents_between(before, hz).abs() < AGREE_CENTS => count + 1,
            _ => 1,
        };
        self.row = Some((hz, count));
        let off = |string: &BenchString| cents_between(string.target_hz, hz);
        let cents = off(self.chosen());
        if cents.abs() > OTHER_STRING_CENTS
            && let Some(other) = self.nearest(|s| off(s).abs(), OTHER_STRING_CENTS)
        {
            self.ringing = None;
            if count != READINGS_TO_COUNT {
                return None;
            }
            let string = self.strings[other].number;
            let leaves = match self.chosen().state {
                StringState::InTune(_) => true,
                // Whoever plucks a string before choosing one has chosen it.
                StringState::Unheard => !self.on_purpose,
                StringState::Off(_) => false,
            };
            if !leaves {
                return Some(BenchNews::Other { string });
            }
            self.chosen = other;
            self.row = Some((hz, 1));
            return Some(BenchNews::Moved { string });
        }
        self.ringing = Some(cents);
        if count < READINGS_TO_COUNT {
            return None;
        }
        let string = &mut self.strings[self.chosen];
        string.state = if cents.abs() <= IN_TUNE_CENTS {
            StringState::InTune(cents)
        } else {
            StringState::Off(cents)
        };
        (count == READINGS_TO_COUNT).then_some(BenchNews::Read {
            string: string.number,
            cents,
        })
    }

    fn nearest(&self, off: impl Fn(&BenchString) -> f64, within: f64) -> Option<usize> {
        (0..self.strings.len())
            .filter(|at| off(&self.strings[*at]) <= within)
            .min_by(|a, b| off(&self.strings[*a]).total_cmp(&off(&self.strings[*b])))
    }

    fn go_to(&mut self, chosen: usize) {
        self.chosen = chosen;
        self.on_purpose = true;
        self.silent();
    }

    fn silent(&mut self) {
        self.ringing = None;
        self.row = None;
    }
}
