//! What a student's terminal is started with.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

use fifthpeg_lesson::message::SeatKey;
use fifthpeg_lesson::terminal::HandsFree;
use fifthpeg_link::inside::InsideDoor;
use fifthpeg_sound::{InputChoice, Level, Output};

use crate::Entry;

/// How long an answer may be unconfirmed before that is said.
pub const UNWRITTEN_PATIENCE: Duration = Duration::from_secs(1);

/// What a student's terminal is started with.
pub struct StudentConfig {
    /// The student's name. The lesson may make it different from another's.
    pub name: String,
    /// Where the lesson is.
    pub target: Target,
    /// Where tones are sounded.
    pub output: Box<dyn Output>,
    /// How loud.
    pub level: Level,
    /// The folder in which the seat in the lesson is kept while it lasts, so
    /// that a program that was killed gets it back when it is started again
    /// under the same name. `None` keeps nothing.
    pub state_folder: Option<PathBuf>,
    /// What is known of the lesson's lock.
    pub entry: Entry,
    /// The microphone to listen to; none at all unless it is asked for.
    pub microphone: InputChoice,
    /// What a note heard from it means.
    pub hands_free: HandsFree,
}

impl StudentConfig {
    /// At the usual level, with nothing kept in files, no passphrase and no
    /// microphone.
    pub fn new(name: impl Into<String>, target: Target, output: Box<dyn Output>) -> Self {
        Self {
            name: name.into(),
            target,
            output,
            level: Level::default(),
            state_folder: None,
            entry: Entry::default(),
            microphone: InputChoice::none(),
            hands_free: HandsFree::default(),
        }
    }
}

/// Where the lesson is.
#[derive(Debug, Clone)]
pub enum Target {
    /// At one of these addresses; all are tried. Works across subnets.
    Address(Vec<SocketAddr>),
    /// Announced under this name on the local network; `None` for whichever
    /// is the only one.
    Lesson(Option<String>),
    /// In this same program: no network is used.
    Inside {
        /// The host's door.
        door: InsideDoor,
        /// The seat to take back, in a lesson taken up again.
        key: Option<SeatKey>,
    },
}
