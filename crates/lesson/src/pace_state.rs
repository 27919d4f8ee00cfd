//! How it stands with a lesson that goes on by itself (`pace`).

use crate::Moment;
use fifthpeg_vocab::pace::PaceStop;

/// How the pace stands.
#[derive(Debug, Clone, Default)]
pub(crate) struct PaceState {
    /// It goes: a call was made by hand.
    pub runs: bool,
    /// Why it no longer does.
    pub stopped: Option<PaceStop>,
    /// When it was last set: a pause that runs begins anew.
    pub set: Moment,
    /// When the call was revealed or closed.
    pub over: Option<Moment>,
    /// Calls running that nobody answered.
    pub unanswered: u32,
}
