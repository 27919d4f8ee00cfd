//! Singing a note before searching for it, as the lesson takes it.

pub use fifthpeg_vocab::sung::{HINT_CENTS, SUNG_RANGE_HZ, SUNG_WITHIN_CENTS, SungMark};

use crate::Moment;
use crate::event::LessonEvent;
use crate::lesson::Lesson;
use crate::message::{CallId, StudentId, ToStudent};
use crate::view::CallStage;

/// Sung notes taken of one student in one call; later ones are dropped without
/// a word. A lesson does not come near it, and no peer fills a record with them.
pub const MAX_SUNG: u32 = 200;

impl Lesson {
    /// A student sang. Left out without a word where nobody was asked to, the
    /// call is not open, or the student is not there to answer it.
    pub(crate) fn singing(
        &mut self,
        id: StudentId,
        call: CallId,
        frequency_hz: f64,
        spread_cents: f32,
        now: Moment,
    ) {
        let target = self
            .call
            .as_ref()
            .filter(|c| c.stage == CallStage::Open && c.id == call);
        let Some(target) = target.filter(|_| self.rules.sing_first) else {
            return;
        };
        let Some(sung) = SungMark::of(frequency_hz, target.tone.frequency_hz) else {
            return;
        };
        let Some(student) = self.roster.get_mut(id) else {
            return;
        };
        let Some(part) = student.part.as_mut().filter(|p| p.times_sung < MAX_SUNG) else {
            return;
        };
        part.times_sung += 1;
        part.active = true;
        part.sung = Some(sung);
        let first = sung.is_it() && !part.sang_it;
        part.sang_it |= first;
        student.tally.sung = student.tally.sung.saturating_add(u32::from(first));
        self.happened(LessonEvent::Sung {
            at: now,
            student: id,
            call,
            frequency_hz,
            spread_cents,
            sung,
        });
        let sung = sung.told(self.rules.telling);
        self.send(id, ToStudent::Sung { call, sung }, now);
    }
}
