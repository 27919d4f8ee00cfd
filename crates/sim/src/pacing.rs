//! A lesson that goes on by itself, and whose host is killed: after one key, with
//! somebody there, it goes on.

use core::time::Duration;

use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::{CallStage, LessonView};
use fifthpeg_vocab::pace::{Pace, PaceStop};

use crate::clock::SECOND;
use crate::dice::Dice;
use crate::world::World;

/// How long the call that is to be on when the host is killed has to be stored, and
/// how long everybody may take to come back.
const STORED_IN: u64 = 2 * SECOND;
const BACK_IN: u64 = 30 * SECOND;

/// A pace, for one class in four.
pub(crate) fn pace(seed: u64, friends: bool) -> Option<Pace> {
    let mut dice = Dice::new(seed ^ 0x9ace);
    let paced = dice.chance(250) && !friends;
    paced.then(|| Pace {
        shown_after: Some(Duration::from_secs(dice.between(5, 20))),
        next_after: Some(Duration::from_secs(dice.between(1, 8))),
        until_help: false,
    })
}

impl World {
    fn lesson_view(&self) -> Option<LessonView> {
        Some(self.host.engine.as_ref()?.lesson().view())
    }

    /// While nothing else goes wrong the host is killed with a call on.
    pub fn check_pace_goes_on(&mut self) {
        let Some(pace) = self.setup.pace else { return };
        let here = |view: &LessonView| view.students.iter().any(|s| s.connected);
        let stands = self.lesson_view().is_some_and(|view| here(&view));
        if self.failure.is_some() || self.disk.transactions.is_none() || !stands {
            return;
        }
        self.host_order(HostOrder::Close);
        self.host_order(HostOrder::CallRandom);
        self.pass_until(self.now + STORED_IN);
        let open = |view: &LessonView| {
            let call = view.call.as_ref();
            call.filter(|call| call.stage == CallStage::Open)
                .map(|call| call.id)
        };
        let Some(call) = self.lesson_view().as_ref().and_then(open) else {
            // A reach without a note, or it was found at once.
            return;
        };
        self.kill_host(SECOND);
        self.pass_until(self.now + BACK_IN);
        let Some(view) = self.lesson_view() else {
            return self.fail("the host is not back");
        };
        self.check(view.untold.pace == Some(pace), || {
            format!(
                "the pace was {pace}, and is {:?} after a kill",
                view.untold.pace
            )
        });
        if !here(&view) {
            return;
        }
        self.check(view.pace_stopped == Some(PaceStop::Nobody), || {
            format!("after a kill the pace stands at {:?}", view.pace_stopped)
        });
        self.host_order(HostOrder::HearAgain);
        let due = pace.shown_after.unwrap_or_default() + Duration::from_secs(1);
        self.pass_until(self.now + due.as_micros() as u64);
        let goes_on = self.lesson_view().is_some_and(|v| open(&v) != Some(call));
        self.counts.went_on += u64::from(goes_on);
        self.check(goes_on, || {
            format!(
                "call {} is not shown, though somebody pressed a key",
                call.0
            )
        });
    }
}
