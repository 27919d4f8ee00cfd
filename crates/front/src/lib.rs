//! What all fronts of the program share, be they screens, plain mode, pages or
//! the command line: the one way out for text ([`out`]), why it ends ([`failure`]),
//! values and necks as they are asked for, and
//! sentences that must be the same everywhere.

pub mod drafts;
pub mod failure;
pub mod files;
pub mod folder_draft;
pub mod html;
pub mod neck_text;
pub mod necks;
pub mod once;
pub mod out;
pub mod qr;
pub mod stops;
pub mod values;
pub mod wrap;

#[cfg(test)]
mod scratch;
mod sentences;

pub use sentences::{
    CAUTION, NAMES_HINT, NOBODY_HERE, NOBODY_KNOWN, NOTHING_MET, OPEN, SHORT_HELP, all_stuck,
};
