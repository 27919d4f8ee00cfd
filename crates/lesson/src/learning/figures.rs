//! The figures of the model. Those without a source are our choice: plausible
//! sizes, tried in the simulation of `docs/picking.md`, never fitted to people.

/// The share of first answers that should be right: Wilson, Shenhav, Straccia
/// and Cohen, "The Eighty Five Percent Rule for optimal learning", Nature
/// Communications 10:4646 (2019), find 84.13% for Gaussian noise.
pub const AIM: f64 = 0.85;
/// Below this share a student is drowning. Our choice.
pub const DROWNING: f64 = 0.6;

/// Ability of somebody not heard yet, in logits above guessing. Our choice: in
/// a reach of two notes it stands for 88% right, in an octave for 38%.
pub const ABILITY_MEAN: f64 = 2.0;
/// Standard deviation of ability between people, in logits. Our choice.
pub const ABILITY_SD: f64 = 1.5;
/// Standard deviation of a register's offset, in logits. Our choice.
pub const REGISTER_SD: f64 = 0.6;
/// Standard deviation of a note's offset, in logits. Our choice.
pub const NOTE_SD: f64 = 0.9;
/// Standard deviation of a student's manner at one step, in logits. Our choice.
pub const MANNER_SD: f64 = 1.0;

/// Semitones between the points where a register's offset is kept; between two
/// it is interpolated. Our choice: half an octave.
pub const REGISTER_SEMITONES: u8 = 6;

/// How much of the ear shows in the steps after the first answer, beside 1 for
/// the first answer. Our choice: half, since the rest is manner.
pub const STEP_SLOPE: f64 = 0.5;
/// Logit of finding after a wrong first answer, for one who guesses. Our choice.
pub const LATER_LOGIT: f64 = 0.0;
/// Logit of not searching long, for one who guesses. Our choice.
pub const SHORT_LOGIT: f64 = 1.0;
/// Logit of finding at once instead of after a search. Our choice.
pub const AT_ONCE_LOGIT: f64 = -0.5;

/// Tries of one who finds at once, with no extra hearing. Our choice: with a microphone the answer
/// itself is two plucks, and each is a try.
pub const AT_ONCE_TRIES: u32 = 3;
/// Seconds within which one finds at once. Our choice.
pub const AT_ONCE_SECONDS: f64 = 10.0;
/// Extra hearings from which a search was long. Our choice.
pub const LONG_HEARINGS: u32 = 3;
/// Tries from which a search was long. Our choice.
pub const LONG_TRIES: u32 = 9;
/// Wrong answers to one note from which somebody is stuck on it. Our choice.
pub const MANY_WRONG: u32 = 3;
/// Seconds from which a search was long. Our choice.
pub const LONG_SECONDS: f64 = 45.0;

/// Days in which what is known of the ability falls to 1/e of itself. Our choice.
pub const ABILITY_DAYS: f64 = 120.0;
/// The same of registers and notes. Our choice: single notes fade sooner.
pub const NOTE_DAYS: f64 = 45.0;
/// The same of manners. Our choice.
pub const MANNER_DAYS: f64 = 365.0;
/// The same of the counts of confusions. Our choice.
pub const CONFUSION_DAYS: f64 = 60.0;

/// Variance that one call adds to the ability heard, because hearing teaches;
/// squared logits. Our choice.
pub const ABILITY_STIR: f64 = 0.003;
/// Variance that one call adds to the note heard, squared logits. Our choice.
pub const NOTE_STIR: f64 = 0.08;

/// Prior count of each kind of confusion: Jeffreys' one half.
pub const CONFUSION_PRIOR: f64 = 0.5;
/// How many misses the student's own habit counts for, in looking at one note.
/// Our choice.
pub const HABIT_WEIGHT: f64 = 4.0;

/// Earlier calls of a student that a lesson is given, the latest ones. Our
/// choice: about ten lessons. What lies before has mostly faded, and what it
/// still says is said again by so many later calls.
pub const EARLIER_CALLS: usize = 300;
/// Calls of each student that are kept for words and glances. Our choice.
pub const RECENT: usize = 20;
/// How much the last call counts in a student's running share; about the last
/// six calls are felt. Our choice.
pub const RUNNING_STEP: f64 = 0.15;
/// Seconds without a call after which the running share begins anew: six hours.
/// Our choice.
pub const NEW_LESSON_SECONDS: i64 = 6 * 3600;
