//! The lesson as a state machine, and the student's terminal as another: no
//! clock, no input or output. Both take `now`, and are driven with `handle_*`
//! and `poll_*`.

pub mod marking;
pub mod message;
pub mod moment;
pub mod tally;
pub mod view;

pub use moment::Moment;
