//! The host's screen.

pub mod draw;
pub mod keys;
pub mod layers;
pub mod layout;
mod menus;
mod roster;
mod run;
pub mod state;

pub use run::run;
