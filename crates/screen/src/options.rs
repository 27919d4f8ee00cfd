//! How a screen is to look. The command line decides it; the screens only read.

/// Which colours a screen may use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Colour {
    /// The sixteen that every terminal has, by name, so that the user's own
    /// palette decides what they look like.
    #[default]
    Full16,
    /// None: signs, words, bold and reverse carry the meaning.
    None,
}

/// How a screen is to look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct ScreenOptions {
    /// Which colours.
    pub colour: Colour,
    /// Draw the neck with the nut on the right.
    pub left_handed: bool,
    /// Nothing beyond ASCII: `F#4` and plain signs.
    pub ascii: bool,
    /// Show note names from the start. Without them everything goes by place
    /// and ear; a key changes it at any time.
    pub names: bool,
    /// Host: begin with the target hidden, for a screen that students see.
    pub hide_target_at_start: bool,
    /// Why nothing is heard at this machine, in a few words; `None` where
    /// tones sound.
    pub silence: Option<&'static str>,
}

impl Default for ScreenOptions {
    fn default() -> Self {
        Self {
            colour: Colour::default(),
            left_handed: false,
            ascii: false,
            names: true,
            hide_target_at_start: false,
            silence: None,
        }
    }
}

/// How a screen came to its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ScreenEnd {
    /// The user left, or the lesson ended.
    Finished,
    /// Somebody else sits at the machine, of this name, and comes in anew.
    SomebodyElse(String),
    /// The process was asked to stop by this signal number (SIGHUP 1, SIGINT 2,
    /// SIGTERM 15). The terminal is as it was before.
    Signal(i32),
}

/// Why a screen could not go on. The terminal has been given back by then.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ScreenError {
    /// The terminal cannot be used.
    #[error(
        "this terminal cannot show the screen ({0}): use --plain, which needs only lines of text"
    )]
    Terminal(#[from] std::io::Error),
    /// Some part of the program panicked.
    #[error("a fault in the program stopped it: start it again, and please report the lines above")]
    Fault,
}
