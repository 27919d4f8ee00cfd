//! What the programs here share: made-up learners and their dice, and what memory a process takes.

pub mod dice;
pub mod learners;
pub mod memory;
