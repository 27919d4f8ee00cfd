//! What peers may do at most: the table of all limits, the counts of how often
//! each was met, and what of that is told.

mod counter;
mod table;
mod teller;

pub use counter::Counter;
pub use table::{HostLimit, PER_CONNECTION_BYTES, bounds};
pub(crate) use teller::Teller;

#[cfg(test)]
mod page;
