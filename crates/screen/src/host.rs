//! The host's screen.

mod choosing;
pub mod deeds;
mod door;
pub mod draw;
mod ear;
pub(crate) mod joining;
pub mod keys;
pub mod layers;
pub mod layout;
pub mod menus;
pub mod news;
pub mod pedal;
pub mod people;
mod roster;
mod run;
pub mod state;

pub use run::run;
