//! How it stands with the lesson book, and the time that is written into it.

/// How it stands with the lesson book.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum BookState {
    /// None was asked for.
    #[default]
    None,
    /// The lesson could not be begun in it and is not written down.
    Unusable {
        /// Why, in a sentence.
        sentence: String,
    },
    /// The lesson is being written down.
    Writing,
    /// Nothing can be written just now; it is tried again, and confirmations
    /// wait for it.
    Waits {
        /// Why, in a sentence.
        sentence: String,
        /// The book is not at its place any more, or not the same: the host can
        /// order to go on in a new one.
        is_lost: bool,
    },
    /// The host ordered to go on without it.
    Left,
}

/// A lesson is held without its book, for this reason.
pub fn without_book(why: &dyn std::fmt::Display) -> String {
    format!("{why}; the lesson goes on, but nothing of it is written down")
}

impl BookState {
    /// What a book that could not be begun says.
    pub fn trouble(&self) -> Option<String> {
        match self {
            BookState::Unusable { sentence } => Some(without_book(sentence)),
            _ => None,
        }
    }

    /// Whether the lesson is written down, now or once it can be.
    pub fn is_kept(&self) -> bool {
        matches!(self, BookState::Writing | BookState::Waits { .. })
    }

    /// Whether the book is not at its place any more, or not the same.
    pub fn is_lost(&self) -> bool {
        matches!(self, BookState::Waits { is_lost: true, .. })
    }
}
