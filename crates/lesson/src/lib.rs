//! The lesson as a state machine, and the student's terminal as another: no
//! clock, no input or output. Both take `now`, and are driven with `handle_*`
//! and `poll_*`.

pub mod backoff;
pub mod call;
pub mod calling;
pub mod clock;
pub mod input;
pub mod learning;
pub mod marking;
pub mod names;
pub mod outbox;
mod pace;
pub mod past;
pub mod picker;
pub mod roles;
pub mod singing;
pub mod terminal;
pub mod times;
pub mod track;
pub mod turns;
pub mod view;
pub mod words;

mod answering;
mod known;
mod learned;
mod lesson;
mod orders;
mod pace_state;
mod picture;
mod roster;

pub use fifthpeg_vocab::{choice, event, message, moment, setup, tally};

pub use event::LessonEvent;
pub use input::{GivenInput, LessonInput};
pub use lesson::Lesson;
pub use moment::Moment;
pub use setup::{HostOrder, LessonSetup, Picked, Picking};
