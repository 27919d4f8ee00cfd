//! Why what was heard is no note that counts, as a lesson tells it apart.

/// Why something heard was not one clear note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Doubt {
    /// Several notes at once.
    SeveralNotes,
    /// The pitch slid away.
    Slide,
    /// Too quiet beside the room's noise.
    TooQuiet,
    /// No clear pitch.
    NoClearPitch,
    /// It wavered, or was stopped too soon.
    Unsteady,
    /// Not a pluck: a voice, a beep, a knock.
    NotAPluck,
}

impl Doubt {
    /// Whether a player would call it a pluck, and so wants to know why it does not
    /// count.
    pub fn is_pluck_like(self) -> bool {
        self != Self::NotAPluck
    }
}
