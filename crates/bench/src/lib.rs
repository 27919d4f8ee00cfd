//! What the programs here share: made-up learners and their dice.

pub mod dice;
pub mod learners;
