//! Whole lessons in virtual time, with everything going wrong, from one seed
//! each.
//!
//! The parts are the program's own: the host's engine around the lesson, the
//! terminals, the wire's frames and their conversion, the lesson book and its
//! taking up again. What is simulated is what lies between and around them:
//! clocks, network, disk, processes that are killed, people. One seed decides
//! all of it. At every step what must always hold (DEVELOPERS.md) is held
//! against what is.

pub mod act;
pub mod bug;
mod checks;
mod clock;
mod dice;
mod disk;
mod doing;
mod host;
mod network;
mod pacing;
mod parts;
mod recalling;
mod run;
mod script;
mod seat;
mod shadow;
mod trace;
mod truth;
mod world;

pub use bug::Bug;
pub use host::host_order;
pub use run::{RunOptions, RunOutcome, run, run_acts};
pub use world::Counts;
