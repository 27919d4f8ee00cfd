//! The lesson itself: what is kept, who comes and goes, what comes out.
//!
//! What students say is handled in `answering`, what the host orders in
//! `orders`, making and ending calls in `calling`, the friends' turns in
//! `turns`.

use core::time::Duration;
use std::collections::VecDeque;

use fifthpeg_core::{Neck, Reach, Reference};
use fifthpeg_vocab::pace::Untold;

use crate::Moment;
use crate::call::{Call, Part};
use crate::event::{Leaving, LessonEvent};
use crate::learned::Learned;
use crate::message::{
    Mode, Progress, Refusal, Rules, SeatKey, Sounding, StudentId, ToStudent, Welcome,
};
use crate::names;
use crate::outbox::Outbox;
use crate::pace_state::PaceState;
use crate::picker::Picker;
use crate::roster::{Presence, Roster};
use crate::setup::LessonSetup;
use crate::view::CallStage;

/// One lesson as its host keeps it.
///
/// A driver calls one `handle_*` with the moment it happened, then sends all of
/// [`Lesson::poll_message`] and takes all of [`Lesson::poll_event`]. `now` must
/// not go backwards. The same setup, inputs and moments give the same messages,
/// events and views.
#[derive(Debug, Clone)]
pub struct Lesson {
    pub(crate) rules: Rules,
    pub(crate) neck: Neck,
    pub(crate) reach: Reach,
    pub(crate) reference: Reference,
    pub(crate) picker: Picker,
    pub(crate) max_answers: u32,
    pub(crate) lead: Duration,
    pub(crate) speakers_among_friends: bool,
    pub(crate) roster: Roster,
    pub(crate) call: Option<Call>,
    pub(crate) last_call: u32,
    pub(crate) calls_closed: u32,
    /// In a lesson of friends: who calls now or next.
    pub(crate) turn: Option<StudentId>,
    /// What the caller was last told of the others.
    pub(crate) told_progress: Vec<(String, Progress)>,
    pub(crate) ended: bool,
    /// The last moment at which time-outs were looked at.
    pub(crate) settled: Moment,
    pub(crate) outbox: Outbox,
    pub(crate) events: VecDeque<LessonEvent>,
    pub(crate) untold: Untold,
    pub(crate) going: PaceState,
    pub(crate) learned: Learned,
}

impl Lesson {
    /// Begins a lesson.
    ///
    /// # Errors
    ///
    /// [`Refusal::Setup`] for a neck or reference pitch that cannot be,
    /// [`Refusal::Reach`] for a reach of fewer than two notes,
    /// [`Refusal::BadName`] for the lesson's name, [`Refusal::NoSpeakers`] for
    /// friends who would hear nothing.
    pub fn new(setup: LessonSetup, now: Moment) -> Result<Self, Refusal> {
        let untold = setup.untold();
        let mut rules = setup.rules;
        rules.lesson = names::tidy(&rules.lesson)?;
        let neck = Neck::build(rules.neck.clone()).map_err(|e| Refusal::Setup(e.to_string()))?;
        let reach =
            Reach::resolve(&neck, &rules.reach).map_err(|e| Refusal::Reach(e.to_string()))?;
        let reference = Reference::new(rules.a4_hz).map_err(|e| Refusal::Setup(e.to_string()))?;
        can_sound(rules.sounding, rules.mode, setup.speakers_among_friends)?;
        let began = LessonEvent::Began {
            at: now,
            rules: Box::new(rules.clone()),
            seed: setup.seed,
        };
        let mut lesson = Self {
            learned: Learned::new(now, &rules),
            untold,
            going: PaceState::default(),
            rules,
            neck,
            reach,
            reference,
            picker: Picker::new(setup.seed),
            max_answers: setup.max_answers.max(1),
            lead: setup.lead,
            speakers_among_friends: setup.speakers_among_friends,
            roster: Roster::new(setup.max_students),
            call: None,
            last_call: 0,
            calls_closed: 0,
            turn: None,
            told_progress: Vec::new(),
            ended: false,
            settled: now,
            outbox: Outbox::default(),
            events: VecDeque::from([began]),
        };
        lesson.look_at_reach(now);
        Ok(lesson)
    }

    /// A student asks to be let in: afresh under `name`, or with the `key` of
    /// an old seat, which then keeps its name, tally and part in the call.
    /// `new_key` is the asker's fresh randomness for a seat that is new. Who asks
    /// for a new seat twice with the same one gets the same seat: the first
    /// welcome was lost on the way, or the host was killed before it went out.
    ///
    /// If the student of that key is still connected, the new connection
    /// replaces the old one: the driver drops the old, without
    /// [`Lesson::handle_disconnect`].
    ///
    /// # Errors
    ///
    /// [`Refusal::Ended`], [`Refusal::UnknownSeat`], [`Refusal::TakenOut`],
    /// [`Refusal::BadName`], [`Refusal::Full`]. The driver tells the student: nothing is queued, as
    /// there is no student's number to queue it under.
    pub fn handle_join(
        &mut self,
        name: &str,
        key: Option<SeatKey>,
        new_key: SeatKey,
        now: Moment,
    ) -> Result<StudentId, Refusal> {
        if self.ended {
            return Err(Refusal::Ended);
        }
        let its_key = key.unwrap_or(new_key);
        if self.roster.is_taken_out(its_key) {
            return Err(Refusal::TakenOut);
        }
        let had = self.roster.by_key(its_key);
        let id = match (had, key) {
            (Some(had), _) => had,
            (None, Some(_)) => return Err(Refusal::UnknownSeat),
            (None, None) => {
                let (id, given_up) = self.roster.add(name, new_key)?;
                if let Some(student) = given_up {
                    self.happened(LessonEvent::Left {
                        at: now,
                        student,
                        leaving: Leaving::MadeRoom,
                    });
                }
                id
            }
        };
        self.outbox.forget(id);
        self.let_in(id, had.is_some(), now);
        self.settle(now);
        Ok(id)
    }

    /// The key of a student's seat, for whoever has to prove having it before
    /// [`Lesson::handle_join`].
    pub fn seat_key(&self, student: StudentId) -> Option<SeatKey> {
        self.roster.get(student).map(|student| student.key)
    }

    /// The student's connection is lost; the seat is kept.
    pub fn handle_disconnect(&mut self, student: StudentId, now: Moment) {
        self.part_from(student, Presence::Away { since: now }, Leaving::Lost, now);
        self.settle(now);
    }

    /// Time passed: call this at [`Lesson::next_deadline`], or whenever.
    pub fn handle_timeout(&mut self, now: Moment) {
        self.settle(now);
    }

    /// The next message to send, and to whom. Never holds more than
    /// [`crate::outbox::MAX_WAITING`] for one student; one who would need more
    /// is treated as having lost the connection, with
    /// [`Leaving::FellBehind`].
    pub fn poll_message(&mut self) -> Option<(StudentId, ToStudent)> {
        self.outbox.pop()
    }

    /// The next thing that happened. Each is kept until it is taken, however
    /// many there are, since a record must not lose any: a driver that takes
    /// none makes the lesson grow with every input.
    pub fn poll_event(&mut self) -> Option<LessonEvent> {
        self.events.pop_front()
    }

    /// The name of a student on the roster.
    pub fn name_of(&self, student: StudentId) -> Option<&str> {
        self.roster.get(student).map(|s| s.name.as_str())
    }

    /// The rules in force.
    pub fn rules(&self) -> &Rules {
        &self.rules
    }

    /// The neck in everyone's hands.
    pub fn neck(&self) -> &Neck {
        &self.neck
    }

    /// The reach that the next call is picked from.
    pub fn reach(&self) -> &Reach {
        &self.reach
    }

    /// Brings a student who has just come in up to date.
    fn let_in(&mut self, id: StudentId, returning: bool, now: Moment) {
        let rules = self.rules.clone();
        let call = self.call.clone();
        let Some(student) = self.roster.get_mut(id) else {
            return;
        };
        student.presence = Presence::Here;
        let had_part = student.part.is_some();
        if let Some(part) = &mut student.part {
            part.came_back = true;
        }
        if let Some(call) = &call
            && call.stage == CallStage::Open
            && call.caller != Some(id)
            && !had_part
        {
            student.part = Some(Part::new(call, now));
        }
        let mut catch_up = vec![ToStudent::Welcome(Box::new(Welcome {
            student: id,
            key: student.key,
            name: student.name.clone(),
            rules,
            tally: student.tally,
            last_call: call.as_ref().map(Call::as_last),
        }))];
        if let Some(call) = &call {
            if call.stage != CallStage::Closed {
                catch_up.push(ToStudent::Call(
                    call.notice(student.id, student.part.as_ref()),
                ));
            }
            match call.stage {
                CallStage::Open => {}
                CallStage::Revealed => catch_up.push(call.reveal(student.part.as_ref())),
                // Whoever comes back may hold answers to a call that this
                // lesson, taken up again, does not know them to be part of.
                CallStage::Closed if had_part || returning => {
                    // With it come the marks of answers whose own were lost on
                    // the way. Others the terminal sends again.
                    if call.revealed && had_part {
                        catch_up.push(call.reveal(student.part.as_ref()));
                    }
                    catch_up.push(ToStudent::Closed {
                        call: call.id,
                        tally: student.tally,
                    });
                }
                CallStage::Closed => {}
            }
            if call.caller == Some(id) {
                self.told_progress.clear();
            }
        }
        let name = student.name.clone();
        self.happened(LessonEvent::Joined {
            at: now,
            student: id,
            name,
            returning,
        });
        for message in catch_up {
            self.send(id, message, now);
        }
        self.tell_turn_to(id, now);
    }

    /// Marks a student as no longer here, if here.
    pub(crate) fn part_from(
        &mut self,
        id: StudentId,
        presence: Presence,
        leaving: Leaving,
        now: Moment,
    ) {
        let Some(student) = self.roster.get_mut(id).filter(|s| s.here()) else {
            return;
        };
        student.presence = presence;
        self.outbox.forget(id);
        self.happened(LessonEvent::Left {
            at: now,
            student: id,
            leaving,
        });
    }

    /// Queues a message for a student who is here.
    pub(crate) fn send(&mut self, to: StudentId, message: ToStudent, now: Moment) {
        let here = self.roster.get(to).is_some_and(|s| s.here());
        if here && !self.outbox.push(to, message) {
            let away = Presence::Away { since: now };
            self.part_from(to, away, Leaving::FellBehind, now);
        }
    }

    /// Queues a message for everyone who is here.
    pub(crate) fn send_all(
        &mut self,
        now: Moment,
        message: impl Fn(&crate::roster::Student) -> ToStudent,
    ) {
        let messages: Vec<_> = self
            .roster
            .iter()
            .filter(|s| s.here())
            .map(|s| (s.id, message(s)))
            .collect();
        for (to, message) in messages {
            self.send(to, message, now);
        }
    }
}

/// Refuses a lesson of friends that nobody would hear.
pub(crate) fn can_sound(sounding: Sounding, mode: Mode, speakers: bool) -> Result<(), Refusal> {
    match (sounding, mode) {
        (Sounding::HostSpeakers, Mode::Friends) if !speakers => Err(Refusal::NoSpeakers),
        _ => Ok(()),
    }
}
