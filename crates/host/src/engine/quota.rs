//! How much one student may say in one call: each message is written down, so
//! the lesson book and the lesson would grow with them.

use std::collections::HashMap;

use fifthpeg_lesson::message::{FromStudent, StudentId};

/// Frames that a student may send at once after a pause. Each may be an answer, and
/// each answer gets a word: as many may wait for the book and for the way.
pub const BURST: u32 = 200;

/// Messages taken of one student from one call to the next: a try every second
/// for half an hour.
pub const MESSAGES_PER_CALL: u32 = 2000;

/// Messages kept back for answers, and for leaving: whoever searched too much
/// can still say what was found.
pub const ANSWERS_BEYOND: u32 = 200;

#[derive(Debug, Default)]
pub(super) struct Quota(HashMap<StudentId, u32>);

impl Quota {
    /// Counts a message; whether it is taken.
    pub(super) fn takes(&mut self, student: StudentId, message: &FromStudent) -> bool {
        let said = self.0.entry(student).or_default();
        let most = match message {
            FromStudent::Answer(_) | FromStudent::Leave => MESSAGES_PER_CALL + ANSWERS_BEYOND,
            _ => MESSAGES_PER_CALL,
        };
        let takes = *said < most;
        *said += u32::from(takes);
        takes
    }

    /// A call was made: everyone may speak afresh.
    pub(super) fn begin_again(&mut self) {
        self.0.clear();
    }

    pub(super) fn forget(&mut self, student: StudentId) {
        self.0.remove(&student);
    }
}

#[cfg(test)]
mod tests {
    use fifthpeg_lesson::message::CallId;

    use super::*;

    #[test]
    fn too_many_tries_leave_room_to_leave() {
        let (mia, ben) = (StudentId(1), StudentId(2));
        let hearing = FromStudent::Hearing { call: CallId(1) };
        let mut quota = Quota::default();
        let mut taken = 0;
        while quota.takes(mia, &hearing) {
            taken += 1;
        }
        assert_eq!(taken, MESSAGES_PER_CALL);
        assert!(quota.takes(ben, &hearing));
        for _ in 0..ANSWERS_BEYOND {
            assert!(quota.takes(mia, &FromStudent::Leave));
        }
        assert!(!quota.takes(mia, &FromStudent::Leave));
        quota.begin_again();
        assert!(quota.takes(mia, &hearing));
    }
}
