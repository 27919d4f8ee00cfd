//! The same lesson once more, made from what is written down of the first: a
//! lesson can be replayed.

use fifthpeg_book::Batch;
use fifthpeg_host::engine::Engine;

use crate::world::World;

impl World {
    /// The shadow is given what is written down, and must say the same.
    pub fn shadow_follows(&mut self, batch: &Batch) {
        let Some(shadow) = &mut self.host.shadow else {
            return;
        };
        for given in &batch.inputs {
            shadow.give(given);
        }
        let mut other = None;
        for event in &batch.events {
            let same = shadow.events.pop_front();
            if same.as_ref() != Some(event) {
                other = Some((event.clone(), same));
                break;
            }
        }
        let more = shadow.events.pop_front();
        if let Some((event, same)) = other {
            self.fail(format!(
                "the lesson replayed is another: {event:?} was written down, {same:?} comes of it"
            ));
        } else if let Some(more) = more {
            self.fail(format!(
                "the lesson replayed is another: {more:?} comes of it and was not written down"
            ));
        }
    }

    pub fn compare_with_shadow(&mut self) {
        let (Some(engine), Some(shadow)) = (&self.host.engine, &self.host.shadow) else {
            return;
        };
        let same = engine.lesson().view() == shadow.lesson().view();
        let dated = engine.lesson().began_when() == shadow.lesson().began_when();
        let asleep = Engine::lesson(engine).next_deadline() == shadow.lesson().next_deadline();
        self.check(same, || "the lesson replayed looks otherwise".to_owned());
        self.check(dated, || "the lesson replayed is of another day".to_owned());
        self.check(asleep, || "the lesson replayed waits otherwise".to_owned());
    }
}
