//! A lesson whose notes are picked so that they teach, and what its host sees
//! of that.

use std::time::Duration;

use fifthpeg_core::{Pitch, Reach, ReachStep};
use fifthpeg_fixture::script::{ScriptStep, aimed, learning, lesson_setup, script};
use fifthpeg_fixture::{Room, at, banjo, friends, setup};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::learning::gather::Gatherer;
use fifthpeg_lesson::learning::help::State;
use fifthpeg_lesson::learning::suggest::ReachChange;
use fifthpeg_lesson::learning::{Evidence, Model, Outcome, StudentKey, Weighing, When, teaching};
use fifthpeg_lesson::message::{
    Answer, CallId, FromStudent, Mode, SeatKey, Source, StudentId, ToStudent,
};
use fifthpeg_lesson::picker::Picker;
use fifthpeg_lesson::setup::{HostOrder, LessonSetup};
use fifthpeg_lesson::{Lesson, Moment, Picking};
use fifthpeg_vocab::Setting;
use proptest::prelude::*;

const BEGAN: When = When(1_764_000_000);

fn teaching_setup(mut setup: LessonSetup) -> LessonSetup {
    setup.picking = Picking::Teaching;
    setup.rules.reach = "octave".parse().expect("a reach");
    setup
}

/// A weak and a strong ear's last week, note by note.
fn last_week(student: StudentKey, weak: bool) -> Vec<Evidence> {
    let reach = Reach::resolve(&banjo(), &ReachStep::OctaveLow.into()).expect("a reach");
    let record = |(n, pitch): (usize, &Pitch)| Evidence {
        student,
        pitch: *pitch,
        reach_size: reach.pitches().len() as u16,
        outcome: if weak && n % 3 > 0 {
            Outcome::NotFound
        } else {
            Outcome::FoundFirst
        },
        hearings: 0,
        tries: 1,
        response: None,
        miss: None,
        when: When(BEGAN.0 - 7 * 86_400 + n as i64),
    };
    let twice = reach.pitches().iter().chain(reach.pitches());
    twice.enumerate().map(record).collect()
}

/// The lesson's picks, made again from its events alone with the published
/// pieces: gatherer, model, picker and rule.
struct Again {
    model: Model,
    gatherer: Gatherer,
    picker: Picker,
    began_at: Moment,
}

impl Again {
    fn pick(&mut self, for_whom: &[StudentKey], now: Moment) -> Pitch {
        let reach = Reach::resolve(&banjo(), &ReachStep::OctaveLow.into()).expect("a reach");
        let when = BEGAN.after(now.since(self.began_at));
        let weighing = Weighing::of(for_whom.len());
        let pitches = reach.pitches();
        let pick = teaching::pick(
            &self.model,
            &mut self.picker,
            for_whom,
            pitches,
            when,
            &weighing,
        );
        let pitch = pick.expect("a note").pitch;
        self.picker.remember(pitch);
        self.picker.pluck_seed();
        pitch
    }

    fn take(&mut self, events: &[LessonEvent], key_of: impl Fn(StudentId) -> StudentKey) {
        for event in events {
            for record in self.gatherer.take(event, |id| Some(key_of(id))) {
                self.model.learn(&record);
            }
        }
    }
}

fn key_of(id: StudentId) -> StudentKey {
    StudentKey(500 + u128::from(id.0))
}

/// A room that a book has told who is who, and the pieces to pick again with.
fn told(setup: LessonSetup, names: &[&str]) -> (Room, Vec<StudentId>, Again) {
    let (mut room, ids) = Room::with(setup.clone(), names);
    let began_at = room.now;
    let mut records = Vec::new();
    for (n, id) in ids.iter().enumerate() {
        records.extend(last_week(key_of(*id), n == 0));
        let told = room.lesson.handle_student_key(*id, key_of(*id), room.now);
        told.expect("on the roster");
    }
    let again = Again {
        model: Model::from_evidence(records.clone()),
        gatherer: Gatherer::new(BEGAN, began_at, room.lesson.rules()),
        picker: Picker::new(setup.seed),
        began_at,
    };
    let told = room.lesson.handle_learning(records, BEGAN, room.now);
    told.expect("a lesson that has not ended");
    (room, ids, again)
}

#[test]
fn the_host_s_random_call_is_picked_for_everyone_who_is_here() {
    let (mut room, ids, mut again) = told(teaching_setup(setup()), &["Mia", "Ivo", "Ruth"]);
    room.lose(ids[2]);
    let here = [key_of(ids[0]), key_of(ids[1])];
    for n in 0..15 {
        room.wait_ms(20_000);
        let expected = again.pick(&here, room.now);
        room.order(HostOrder::CallRandom);
        assert_eq!(room.call().pitch, expected, "call {n}");
        room.answer(ids[0], Answer::Pitch(expected))
            .expect("an answer");
        let other = if n % 2 == 0 { at("1/0") } else { at("3/2") };
        let _ = room.answer(ids[1], other);
        room.order(HostOrder::Reveal);
        again.take(&core::mem::take(&mut room.events), key_of);
    }
}

#[test]
fn a_friend_s_random_call_is_picked_for_the_others() {
    let (mut room, ids, mut again) = told(teaching_setup(friends()), &["Mia", "Ivo", "Ruth"]);
    for n in 0..9 {
        room.wait_ms(20_000);
        let caller = room.view().turn.expect("somebody's turn");
        let others: Vec<StudentKey> = ids
            .iter()
            .filter(|id| **id != caller)
            .map(|id| key_of(*id))
            .collect();
        let expected = again.pick(&others, room.now);
        room.say(caller, FromStudent::Pick { at: None })
            .expect("a call");
        assert_eq!(room.call().pitch, expected, "call {n}");
        let call = room.call().id;
        room.say(caller, FromStudent::CallerReveal { call })
            .expect("shown");
        again.take(&core::mem::take(&mut room.events), key_of);
    }
}

#[test]
fn picking_can_be_changed_in_mid_lesson_and_is_no_rule_told_to_students() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    assert_eq!(room.view().untold.picking, Picking::Random);
    room.order(HostOrder::CallRandom);
    room.inboxes.clear();
    room.order(HostOrder::Set(Setting::Picking(Picking::Teaching)));
    assert_eq!(room.view().untold.picking, Picking::Teaching);
    assert!(room.inbox(ids[0]).is_empty());
}

#[test]
fn records_given_again_are_not_counted_twice() {
    let (mut room, ids, _) = told(teaching_setup(setup()), &["Mia"]);
    let view = room.view();
    let again = last_week(key_of(ids[0]), true);
    let now = room.now;
    room.lesson
        .handle_learning(again, BEGAN, now)
        .expect("no end");
    assert_eq!(room.view().students, view.students);
    assert_eq!(room.view().suggestion, view.suggestion);
}

/// Everyone finds, or misses, the note of `calls` calls.
fn calls(room: &mut Room, ids: &[StudentId], calls: u32, found: bool) {
    for _ in 0..calls {
        room.wait_ms(10_000);
        room.order(HostOrder::CallRandom);
        let pitch = room.call().pitch;
        for id in ids {
            let answer = if found {
                pitch
            } else {
                Pitch::new(pitch.midi() + 1).expect("a pitch")
            };
            room.answer(*id, Answer::Pitch(answer)).expect("an answer");
        }
        room.order(HostOrder::Reveal);
    }
}

#[test]
fn a_reach_found_easy_may_be_widened_and_a_hard_one_narrowed_between_calls() {
    let mut easy = setup();
    easy.rules.reach = ReachStep::TwoOpen.into();
    let new = Lesson::new(easy.clone(), Moment::default()).expect("a lesson");
    let first = new.view().suggestion.expect("looked at from the start");
    assert!(!first.is_change());
    let (mut room, ids) = Room::with(easy, &["Mia", "Ivo"]);
    assert!(!room.view().suggestion.expect("looked at").is_change());
    calls(&mut room, &ids, 15, true);
    let suggestion = room.view().suggestion.expect("looked at");
    assert!(
        matches!(suggestion.change, ReachChange::Widen(Some(_))),
        "{suggestion}"
    );
    assert_eq!((suggestion.found, suggestion.of), (30, 30));
    room.order(HostOrder::CallRandom);
    assert_eq!(room.view().suggestion, None, "a call is open");
    room.order(HostOrder::Close);
    // Nobody decides but the teacher.
    assert_eq!(room.view().rules.reach, ReachStep::TwoOpen.into());
    room.order(HostOrder::Set(Setting::Reach(ReachStep::WholeNeck.into())));
    assert!(!room.view().suggestion.expect("looked at").is_change());
    calls(&mut room, &ids, 15, false);
    let suggestion = room.view().suggestion.expect("looked at");
    assert!(
        matches!(suggestion.change, ReachChange::Narrow(Some(_))),
        "{suggestion}"
    );
}

#[test]
fn who_needs_help_stands_first() {
    let (mut room, ids) = Room::with(setup(), &["Mia", "Ivo", "Ruth", "Ole"]);
    let [mia, ivo, ruth, ole] = ids[..] else {
        panic!()
    };
    for _ in 0..6 {
        room.wait_ms(10_000);
        room.order(HostOrder::CallAt(at("1/0")));
        room.answer(mia, at("1/0")).expect("an answer");
        room.answer(ole, at("1/0")).expect("an answer");
        // A whole tone away.
        room.answer(ivo, at("1/2")).expect("an answer");
        room.order(HostOrder::Close);
    }
    let names = |room: &Room| -> Vec<String> {
        let view = room.view();
        let glances = view.glances(room.now);
        glances
            .iter()
            .map(|(s, g)| format!("{}: {g}", s.name))
            .collect()
    };
    let between = names(&room);
    assert_eq!(
        between,
        [
            "Ruth: silent for 6 calls",
            "Ivo: missed 6 of the last 6 at first, mostly by a whole tone",
            "Mia: steady",
            "Ole: steady",
        ]
    );
    // In an open call a long search counts, by time or by tries.
    room.order(HostOrder::CallAt(at("1/0")));
    assert_eq!(names(&room), between);
    let call = room.call().id;
    for _ in 0..9 {
        let tried = FromStudent::Try {
            call,
            at: at("1/3"),
            source: Source::Instrument,
        };
        room.say(ole, tried).expect("a try");
    }
    room.say(ruth, FromStudent::Hearing { call })
        .expect("a hearing");
    room.wait_ms(1_250);
    assert_eq!(
        names(&room),
        [
            "Ivo: missed 6 of the last 6 at first, mostly by a whole tone",
            "Ole: searching long now: 1 s, 9 tries",
            "Mia: steady",
            "Ruth: too few calls to say",
        ]
    );
    room.answer(ole, at("1/0")).expect("an answer");
    room.wait_ms(45_000);
    assert_eq!(
        names(&room),
        [
            // Nothing comes from there: that is the most urgent.
            "Mia: nothing for 46 s",
            "Ivo: missed 6 of the last 6 at first, mostly by a whole tone",
            "Ruth: searching long now: 46 s, 1 hearing",
            "Ole: steady",
        ]
    );
    // Who is away cannot be helped now.
    room.lose(ivo);
    assert_eq!(names(&room)[3], "Ole: steady");
    assert!(names(&room)[2].starts_with("Ivo"), "{:?}", names(&room));
}

#[test]
fn a_hearing_after_the_reveal_is_no_search() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    for _ in 0..4 {
        room.order(HostOrder::CallRandom);
        let call = room.call().id;
        room.order(HostOrder::Reveal);
        room.say(ids[0], FromStudent::Hearing { call })
            .expect("a hearing");
        room.order(HostOrder::Close);
    }
    let glance = room.student(ids[0]).glance;
    assert_eq!(glance.state, State::Silent { calls: 4 });
}

type Messages = Vec<(StudentId, ToStudent)>;

/// All messages of a lesson, and the calls with the reach they were made in.
fn run(
    setup: LessonSetup,
    steps: &[(u64, ScriptStep)],
    with_book: bool,
) -> (Messages, Vec<(Pitch, Reach)>) {
    let mut now = Moment::from_micros(5);
    let mut lesson = Lesson::new(setup, now).expect("a lesson");
    let (mut messages, mut called) = (Vec::new(), Vec::new());
    for (n, (pause_ms, input)) in steps.iter().enumerate() {
        now = now + Duration::from_millis(*pause_ms);
        let reach = lesson.reach().clone();
        let last = lesson.view().call.map_or(CallId(0), |c| c.id);
        match input.clone() {
            ScriptStep::Join(name, place) => {
                let key = SeatKey(10_000 + n as u128);
                let _ = lesson.handle_join(&name, place.map(SeatKey), key, now);
            }
            ScriptStep::Lose(id) => lesson.handle_disconnect(id, now),
            ScriptStep::Say(id, message) => {
                let _ = lesson.handle_message(id, aimed(message, last), now);
            }
            ScriptStep::Host(order) => {
                let _ = lesson.handle_host(order, now);
            }
            ScriptStep::TimeOut => lesson.handle_timeout(now),
            ScriptStep::Learning(evidence, began) if with_book => {
                // One that is refused lets no time pass.
                let _ = lesson.handle_learning(evidence, began, now);
                lesson.handle_timeout(now);
            }
            ScriptStep::Key(id, key) if with_book => {
                let _ = lesson.handle_student_key(id, key, now);
                lesson.handle_timeout(now);
            }
            // Any input lets time pass.
            ScriptStep::Learning(..) | ScriptStep::Key(..) => lesson.handle_timeout(now),
        }
        messages.extend(std::iter::from_fn(|| lesson.poll_message()));
        while let Some(event) = lesson.poll_event() {
            if let LessonEvent::CallMade { pitch, .. } = event {
                called.push((pitch, reach.clone()));
            }
        }
    }
    (messages, called)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn no_note_picked_leaves_the_reach(steps in script(), friends: bool) {
        let mut setup = lesson_setup(if friends { Mode::Friends } else { Mode::Class });
        setup.picking = Picking::Teaching;
        for (pitch, reach) in run(setup, &steps, true).1 {
            prop_assert!(reach.contains_pitch(pitch), "{:?}", pitch);
        }
    }

    /// What the book knows, and all that is made of it for the host, is in no
    /// message: with plain picks, a lesson that knows everything tells its
    /// students what one that knows nothing does.
    #[test]
    fn what_is_known_of_students_is_never_told_to_them(
        steps in script(), friends: bool, (records, began) in learning(),
    ) {
        let setup = lesson_setup(if friends { Mode::Friends } else { Mode::Class });
        let plain = |(pause, input): &(u64, ScriptStep)| match input {
            ScriptStep::Host(HostOrder::Set(Setting::Picking(_))) => (*pause, ScriptStep::TimeOut),
            other => (*pause, other.clone()),
        };
        let mut steps: Vec<(u64, ScriptStep)> = steps.iter().map(plain).collect();
        let known = [
            ScriptStep::Learning(records, began),
            ScriptStep::Key(StudentId(1), StudentKey(1000)),
            ScriptStep::Key(StudentId(2), StudentKey(1001)),
        ];
        for (n, input) in known.into_iter().enumerate() {
            steps.insert(2 + n, (0, input));
        }
        prop_assert_eq!(run(setup.clone(), &steps, true).0, run(setup, &steps, false).0);
    }
}
