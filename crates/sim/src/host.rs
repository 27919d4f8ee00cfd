//! The host's machine: the real engine around the real lesson, between
//! connections and the book, as the lesson's task drives it.

use fifthpeg_core::{Pitch, ReachStep};
use fifthpeg_host::engine::{
    ConnectionId, Engine, GoneWhy, JoinRequest, NotTaken, StudentConnection, Todo,
};
use fifthpeg_host::{BookState, Limits};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{Answer, AnswerNotice, FromStudent, Sounding, StudentId, ToStudent};
use fifthpeg_lesson::setup::{HostOrder, Picking};
use fifthpeg_lesson::{Lesson, Moment};
use fifthpeg_vocab::Setting;
use fifthpeg_wire::{ClientFrame, HostFrame, decode_client, encode_client};

use crate::act::HostAct;
use crate::bug::Bug;
use crate::clock::{MS, SECOND, span};
use crate::world::World;

/// How long a frame may wait to be written.
fn write_within() -> u64 {
    span(Limits::default().write_within)
}

/// How long the end of a lesson waits for the book.
const LAST_LINES: u64 = 3 * SECOND;

impl World {
    pub fn host_now(&self) -> Moment {
        self.host.clock.read(self.now)
    }

    /// Whether the host takes anything in.
    pub fn host_works(&self) -> bool {
        self.host.engine.as_ref().is_some_and(|h| !h.is_ended())
    }

    fn is_of_host(&self, conn: usize) -> bool {
        let c = &self.conns[conn];
        c.host_open && c.life == self.host.life && self.host.engine.is_some()
    }

    /// The host's process starts with this lesson, which `begins` or goes on.
    pub fn host_begins(&mut self, lesson: Lesson, book: BookState, begins: bool) {
        self.host.engine = Some(Engine::new(lesson, book));
        self.begin_recalling(begins);
        self.with_engine(|engine, now| engine.begin(now));
    }

    pub fn with_engine<T>(&mut self, what: impl FnOnce(&mut Engine, Moment) -> T) -> Option<T> {
        let now = self.host_now();
        let done = self.host.engine.as_mut().map(|engine| what(engine, now));
        self.host_acts();
        done
    }

    /// Does what the engine says, as the lesson's task does.
    fn host_acts(&mut self) {
        let mut stored_any = false;
        loop {
            let mut todos = Vec::new();
            while let Some(todo) = self.host.engine.as_mut().and_then(Engine::poll) {
                todos.push(todo);
            }
            if todos.is_empty() {
                break;
            }
            for todo in &todos {
                if let Todo::Event(event) = todo {
                    self.host_event(event);
                }
            }
            for todo in todos {
                match todo {
                    Todo::Store(ticket, mut batch) => {
                        stored_any = true;
                        self.forget_who(&mut batch);
                        self.shadow_follows(&batch);
                        self.store(ticket, batch);
                    }
                    Todo::Send(seat, message) => self.host_sends(seat, message),
                    Todo::Leave(seat) => {
                        let conn = seat.connection.0 as usize;
                        self.conns[conn].leaving = true;
                        self.write_down(conn);
                    }
                    Todo::Cut(seat) => {
                        self.note("host", format_args!("cuts student {}", seat.student.0));
                        self.host_cuts(seat.connection.0 as usize);
                    }
                    Todo::Sound(_, start) => self.speakers_sound(start),
                    Todo::Recall(student, name) => self.looks_up(student, &name),
                    // Looked at above.
                    Todo::Event(_) => {}
                    Todo::Notice(notice) => self.note("host", format_args!("tells: {notice}")),
                    Todo::Book(state) => self.note("host", format_args!("book {state:?}")),
                }
            }
        }
        if stored_any {
            self.compare_with_shadow();
            self.check_who();
        }
        self.check_host();
        if self.host.engine.as_ref().is_some_and(Engine::is_ended)
            && self.host.ending_until.is_none()
        {
            self.host.ending_until = Some(self.now + LAST_LINES);
        }
    }

    fn host_event(&mut self, event: &LessonEvent) {
        self.note("lesson", format_args!("{event:?}"));
        self.truth.take(event);
        self.note_who(event);
        match event {
            LessonEvent::CallMade { .. } => self.counts.calls += 1,
            LessonEvent::Answered { .. } => self.check_answered(event),
            _ => {}
        }
    }

    fn speakers_sound(&mut self, start: Moment) {
        let call = self
            .host
            .engine
            .as_ref()
            .and_then(|h| h.lesson().view().call);
        let Some(call) = call else { return };
        let at = self.host.clock.true_of(start) + self.host.speakers_late_us;
        self.host.sounds.push((call.id, at));
    }

    fn host_sends(&mut self, seat: StudentConnection, mut message: ToStudent) {
        self.spoil_down(seat.student, &mut message);
        self.note("host", format_args!("to {}: {message:?}", seat.student.0));
        self.check_told(seat.student, &message);
        let frame = HostFrame::Lesson(message);
        let conn = seat.connection.0 as usize;
        let why = if !self.is_of_host(conn) {
            Some(NotTaken::Closed)
        } else if !self.queue_down(conn, &frame) {
            Some(NotTaken::Slow)
        } else {
            None
        };
        if let Some(why) = why {
            if why == NotTaken::Slow {
                self.host_cuts(conn);
            }
            let now = self.host_now();
            if let Some(engine) = &mut self.host.engine {
                engine.handle_not_taken(seat, why, now);
            }
        }
    }

    /// Bugs in what the host says.
    fn spoil_down(&mut self, student: StudentId, message: &mut ToStudent) {
        match message {
            ToStudent::Call(notice) if self.has(Bug::TellsTarget) && !notice.you_call => {
                let pitch = self.truth.calls.get(&notice.call).map(|c| c.pitch);
                notice.target = pitch.map(|p| (p, None));
            }
            ToStudent::Marked {
                call, serial, mark, ..
            } if self.has(Bug::TellsTooMuch) => {
                let view = self.host.engine.as_ref().map(|h| h.lesson().view());
                let full = view.and_then(|v| {
                    let told = v.call.filter(|c| c.id == *call)?;
                    let _ = told;
                    let student = v.students.into_iter().find(|s| s.id == student)?;
                    let index = (*serial as usize).checked_sub(1)?;
                    student.answers.get(index).map(|a| a.mark)
                });
                *mark = full.unwrap_or(*mark);
            }
            _ => {}
        }
    }

    pub fn reaches_host(&mut self, conn: usize, bytes: &[u8]) {
        let c = &self.conns[conn];
        if c.up_lost || !self.is_of_host(conn) || !self.host_works() {
            return;
        }
        self.conns[conn].heard = self.now;
        let frame = match decode_client(bytes) {
            Ok(frame) => frame,
            Err(e) => return self.fail(format!("the host cannot read a frame: {e}")),
        };
        let again = encode_client(&frame);
        self.check(again.as_deref() == Ok(bytes), || {
            format!("{frame:?} is not the same when written again")
        });
        match frame {
            ClientFrame::Join { name, key, new_key } => {
                let asking = JoinRequest {
                    name,
                    by_class_key: false,
                    key,
                    new_key,
                };
                self.host_lets_in(conn, asking);
            }
            ClientFrame::ClockAsk { t1 } => self.host_tells_clock(conn, t1),
            ClientFrame::KeyAnswer { .. } | ClientFrame::Watch => {}
            ClientFrame::Lesson(message) => self.host_hears(conn, message),
        }
    }

    fn host_lets_in(&mut self, conn: usize, asking: JoinRequest) {
        let now = self.host_now();
        let connection = ConnectionId(conn as u64);
        let Some(engine) = &mut self.host.engine else {
            return;
        };
        match engine.handle_join(asking, connection, now) {
            Ok(student) => self.conns[conn].student = Some(student),
            Err(refusal) => {
                let frame = HostFrame::Lesson(ToStudent::Refused(refusal));
                self.queue_down(conn, &frame);
                self.conns[conn].leaving = true;
                self.write_down(conn);
            }
        }
        self.host_acts();
    }

    fn host_tells_clock(&mut self, conn: usize, t1: Moment) {
        // Whoever does not read gets no answer either.
        if !self.conns[conn].queue.is_empty() {
            return;
        }
        let mut t2 = self.host_now();
        if self.has(Bug::ConvertsClockWrongly) {
            t2 = Moment::from_micros(t2.micros() + 30 * MS);
        }
        let frame = HostFrame::ClockAnswer { t1, t2, t3: t2 };
        self.queue_down(conn, &frame);
    }

    fn host_hears(&mut self, conn: usize, mut message: FromStudent) {
        let Some(student) = self.conns[conn].student else {
            return;
        };
        if self.has(Bug::TimesNetwork)
            && let FromStudent::Answer(AnswerNotice {
                response: Some(response),
                ..
            }) = &mut message
        {
            *response += core::time::Duration::from_millis(400);
        }
        self.note("host", format_args!("from {}: {message:?}", student.0));
        let from = StudentConnection {
            student,
            connection: ConnectionId(conn as u64),
        };
        self.with_engine(|engine, now| engine.handle_message(from, message, now));
    }

    pub fn host_sees_end(&mut self, conn: usize) {
        if self.is_of_host(conn) {
            self.conns[conn].host_open = false;
            self.conns[conn].queue.clear();
            self.host_loses(conn, None);
        }
    }

    fn host_loses(&mut self, conn: usize, why: Option<GoneWhy>) {
        let Some(student) = self.conns[conn].student else {
            return;
        };
        if self.has(Bug::ForgetsDisconnect) || !self.host_works() {
            return;
        }
        let seat = StudentConnection {
            student,
            connection: ConnectionId(conn as u64),
        };
        self.with_engine(|engine, now| engine.handle_gone(seat, why, now));
    }

    pub fn conn_deadline(&self, conn: usize) -> Option<u64> {
        if !self.is_of_host(conn) {
            return None;
        }
        let c = &self.conns[conn];
        let writes = (!c.queue.is_empty()).then_some(c.waits_since + write_within());
        let speaks = match c.student {
            None => c.opened + span(Limits::default().join_within),
            Some(_) => c.heard + span(Limits::default().silence),
        };
        Some(writes.map_or(speaks, |w| w.min(speaks)))
    }

    pub fn conn_timeout(&mut self, conn: usize) {
        let c = &self.conns[conn];
        let slow = !c.queue.is_empty() && c.waits_since + write_within() <= self.now;
        self.host_cuts(conn);
        self.conns[conn].host_open = false;
        let why = if slow {
            GoneWhy::Slow
        } else {
            GoneWhy::Silent {
                seconds: Limits::default().silence.as_secs(),
            }
        };
        self.host_loses(conn, Some(why));
    }

    pub fn host_deadline(&self) -> Option<u64> {
        let engine = self.host.engine.as_ref()?;
        if let Some(until) = self.host.ending_until {
            return Some(if engine.is_all_stored() {
                self.now
            } else {
                until
            });
        }
        let at = engine.next_deadline()?;
        Some(self.host.clock.true_of(at) + 1)
    }

    pub fn host_timeout(&mut self) {
        if self.host.ending_until.is_some() {
            return self.host_ends();
        }
        self.with_engine(|engine, now| engine.handle_timeout(now));
    }

    /// The lesson is over and the book is not waited for any longer.
    fn host_ends(&mut self) {
        self.with_engine(|engine, _| engine.tell_end());
        for conn in 0..self.conns.len() {
            if self.is_of_host(conn) {
                self.conns[conn].leaving = true;
                self.write_down(conn);
            }
        }
        self.host.engine = None;
        self.host.over = true;
        self.note("host", format_args!("is over"));
    }

    pub fn host_order(&mut self, order: HostOrder) {
        let said = format!("{order:?}");
        let lesson = self.host.engine.as_ref().map(Engine::lesson);
        let sleeps = lesson.is_some_and(|lesson| lesson.view().pace_stopped.is_some());
        if sleeps && order == HostOrder::HearAgain && self.has(Bug::SleepsAfterKill) {
            return;
        }
        let done = self.with_engine(|engine, now| engine.handle_order(order, now));
        self.note("host", format_args!("orders {said}: {done:?}"));
    }

    pub fn host_act(&mut self, act: HostAct) {
        if !self.host_works() {
            return;
        }
        match act {
            HostAct::WithoutBook => self.leave_book(),
            HostAct::StuckKey(n) => {
                for _ in 0..2 * u32::from(n) {
                    self.host_order(HostOrder::HearAgain);
                }
            }
            act => {
                let lesson = self.host.engine.as_ref().map(Engine::lesson);
                if let Some(order) = lesson.and_then(|lesson| host_order(act, lesson)) {
                    self.host_order(order);
                }
            }
        }
    }

    fn leave_book(&mut self) {
        if self.with_engine(|engine, now| engine.go_without_book(now)) == Some(true) {
            self.host.left_book = true;
            self.disk_closes();
        }
    }
}

/// What this act orders of a lesson, if it is an order.
pub fn host_order(act: HostAct, lesson: &Lesson) -> Option<HostOrder> {
    Some(match act {
        HostAct::CallRandom => HostOrder::CallRandom,
        HostAct::CallPlace(n) => {
            let places = lesson.neck().positions();
            HostOrder::CallAt(Answer::Place(places[usize::from(n) % places.len()]))
        }
        HostAct::CallPitch(n) => HostOrder::CallAt(Answer::Pitch(Pitch::new(40 + n % 48)?)),
        HostAct::HearAgain => HostOrder::HearAgain,
        HostAct::Reveal => HostOrder::Reveal,
        HostAct::Close => HostOrder::Close,
        HostAct::PassTurn => HostOrder::PassTurn,
        HostAct::Reach(n) => {
            let steps = ReachStep::all();
            HostOrder::Set(Setting::Reach(steps[usize::from(n) % steps.len()].into()))
        }
        HostAct::Marking(n) => HostOrder::Set(Setting::Marking(marking(n))),
        HostAct::Sounding(n) => HostOrder::Set(Setting::Sounding(sounding(n))),
        HostAct::Telling(n) => HostOrder::Set(Setting::Telling(telling(n))),
        HostAct::SingFirst(on) => HostOrder::Set(Setting::SingFirst(on)),
        HostAct::Teach(true) => HostOrder::Set(Setting::Picking(Picking::Teaching)),
        HostAct::Teach(false) => HostOrder::Set(Setting::Picking(Picking::Random)),
        HostAct::Remove(n) => {
            let students = lesson.view().students;
            HostOrder::Remove(students.get(usize::from(n) % students.len().max(1))?.id)
        }
        HostAct::Same(n) => {
            let students = lesson.view().students;
            let nth = |n: u8| students.get(usize::from(n) % students.len().max(1));
            HostOrder::KnownAs {
                student: nth(n)?.id,
                name: nth(n / 16)?.name.clone(),
                person: None,
            }
        }
        HostAct::StuckKey(_) | HostAct::WithoutBook => return None,
    })
}

/// One of the markings.
pub(crate) fn marking(n: u8) -> Marking {
    [Marking::SamePitch, Marking::ExactPlace, Marking::AnyOctave][usize::from(n % 3)]
}

/// One of the soundings.
pub(crate) fn sounding(n: u8) -> Sounding {
    [
        Sounding::EveryTerminal,
        Sounding::OnAsking,
        Sounding::HostSpeakers,
    ][usize::from(n % 3)]
}

/// One of the tellings.
pub(crate) fn telling(n: u8) -> Telling {
    [Telling::Verdict, Telling::Hint, Telling::Interval][usize::from(n % 3)]
}
