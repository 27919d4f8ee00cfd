//! Checks a message against the table of roles.

pub use fifthpeg_vocab::roles::{May, Role, Said, TABLE, host_may, may};

use crate::lesson::Lesson;
use crate::message::{CallId, FromStudent, Mode, Refusal, StudentId};
pub use crate::roster::MAX_TAKEN_OUT;
use crate::view::CallStage;

impl Lesson {
    /// What a student is just now.
    pub fn role(&self, student: StudentId) -> Role {
        if !self.roster.get(student).is_some_and(|s| s.here()) {
            return Role::Out;
        }
        match self.rules.mode {
            Mode::Class => Role::InClass,
            Mode::Friends if self.turn == Some(student) => Role::OnTurn,
            Mode::Friends => Role::OffTurn,
        }
    }

    /// What the table says to a message.
    pub(crate) fn heed_role(&self, id: StudentId, message: &FromStudent) -> Result<(), Refusal> {
        match (may(self.role(id), Said::from(message)), message.call()) {
            (May::Yes, _) => Ok(()),
            (May::OfOthers, Some(call)) if self.is_open(call) && self.calls(id) => {
                Err(Refusal::CallerAnswers)
            }
            (May::OfOwn, Some(call)) if self.is_unclosed(call) && !self.calls(id) => {
                Err(Refusal::NotYourTurn)
            }
            // Of a call that is over, or of none, the lesson says so itself.
            (May::OfOthers | May::OfOwn, _) => Ok(()),
            (May::NotYourTurn, _) => Err(Refusal::NotYourTurn),
            (May::HostOnly, _) => Err(Refusal::HostOnly),
            (May::HungUp | May::Unheard, _) => Err(Refusal::NoStudent),
        }
    }

    /// Whether the last call is this student's.
    fn calls(&self, id: StudentId) -> bool {
        self.call.as_ref().is_some_and(|c| c.caller == Some(id))
    }

    pub(crate) fn is_open(&self, id: CallId) -> bool {
        self.stage() == Some(CallStage::Open) && self.is_unclosed(id)
    }

    fn is_unclosed(&self, id: CallId) -> bool {
        let unclosed = self.call.as_ref().filter(|c| c.stage != CallStage::Closed);
        unclosed.is_some_and(|c| c.id == id)
    }
}
