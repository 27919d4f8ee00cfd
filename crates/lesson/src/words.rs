//! What screens and plain mode say, with what a terminal hears.

pub use fifthpeg_vocab::words::*;

use crate::terminal::{Doubt, Listening};

/// Whether the terminal listens.
pub fn listening(listening: Listening) -> &'static str {
    match listening {
        Listening::Off => "not listening",
        Listening::Muted => "not listening while the tone sounds",
        Listening::On => "listening",
    }
}

/// Why something heard was not one clear note.
pub fn doubt(doubt: Doubt) -> &'static str {
    match doubt {
        Doubt::SeveralNotes => "several notes",
        Doubt::Slide => "a slide",
        Doubt::TooQuiet => "too quiet",
        Doubt::NoClearPitch => "no clear pitch",
        Doubt::Unsteady => "it did not ring steadily",
        Doubt::NotAPluck => "not a pluck",
    }
}

/// What helps a note heard to count, after "not counted: ".
pub fn to_be_counted(doubt: Doubt) -> &'static str {
    match doubt {
        Doubt::SeveralNotes => "damp the other strings",
        Doubt::Slide => "it slid",
        Doubt::TooQuiet => "pluck harder",
        Doubt::Unsteady => "let it ring",
        Doubt::NoClearPitch | Doubt::NotAPluck => "pluck it alone",
    }
}
