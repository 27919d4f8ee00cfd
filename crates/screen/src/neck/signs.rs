//! What a place on the neck can be marked as.

use crate::theme::{Signs, Theme, Tint};

/// The mark on a place. Each has a sign of its own; colour only repeats it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PlaceSign {
    /// Sounded while searching.
    Tried,
    /// Answered; the host has not said yet how it is marked.
    Waiting,
    /// Answered and missed.
    Missed,
    /// A place of the note.
    Place,
    /// The very place that was picked.
    Picked,
    /// Answered and right.
    Found,
}

impl PlaceSign {
    /// Each sign once, with what it means, for the help.
    pub fn help(theme: Theme) -> Vec<(String, String)> {
        // A place found is a place of the note, and has its sign.
        [
            Self::Tried,
            Self::Waiting,
            Self::Missed,
            Self::Found,
            Self::Picked,
        ]
        .iter()
        .map(|sign| (sign.sign(theme.signs()).to_owned(), sign.word().to_owned()))
        .collect()
    }

    /// The sign.
    pub fn sign(self, signs: &Signs) -> &'static str {
        match self {
            Self::Tried => signs.tried,
            Self::Waiting => signs.waiting,
            Self::Missed => signs.missed,
            Self::Found | Self::Place => signs.found,
            Self::Picked => signs.picked,
        }
    }

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Tried => "tried",
            Self::Waiting => "answered, not marked yet",
            Self::Missed => "missed",
            Self::Found | Self::Place => "found, or a place of the note",
            Self::Picked => "the place picked",
        }
    }

    /// Its style.
    pub fn style(self, theme: Theme) -> ratatui::style::Style {
        theme.style(match self {
            Self::Tried | Self::Waiting => Tint::Tried,
            Self::Missed => Tint::Missed,
            Self::Found => Tint::Right,
            Self::Place | Self::Picked => Tint::Target,
        })
    }
}
