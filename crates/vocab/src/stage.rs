//! How far a call has come.

/// How far a call has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CallStage {
    /// Taking answers.
    Open,
    /// The note is shown; answers no longer count.
    Revealed,
    /// Over.
    Closed,
}
