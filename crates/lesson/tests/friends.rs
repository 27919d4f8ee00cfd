//! Friends who call in turn.

use fifthpeg_fixture::{Room, at, friends, pitch};
use fifthpeg_lesson::event::{Leaving, LessonEvent};
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{
    Answer, FromStudent, Progress, Refusal, Sounding, Source, StudentId, ToStudent,
};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::turns::AWAY_GRACE;
use fifthpeg_lesson::view::CallStage;
use fifthpeg_lesson::{Lesson, Moment};
use fifthpeg_vocab::Setting;

fn pick(room: &mut Room, id: StudentId, text: &str) {
    let at = Some(at(text));
    assert_eq!(room.say(id, FromStudent::Pick { at }), Ok(()));
}

fn random(room: &mut Room, id: StudentId) -> Result<(), Refusal> {
    room.say(id, FromStudent::Pick { at: None })
}

fn reveal(room: &mut Room, id: StudentId) -> Result<(), Refusal> {
    let call = room.call().id;
    room.say(id, FromStudent::CallerReveal { call })
}

fn turn(room: &Room) -> Option<StudentId> {
    room.view().turn
}

#[test]
fn two_friends_call_in_turn_and_the_caller_does_not_answer() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole"]);
    let [mia, ole] = ids[..] else { panic!() };
    for round in 0..3 {
        let (caller, other) = if round % 2 == 0 {
            (mia, ole)
        } else {
            (ole, mia)
        };
        assert_eq!(turn(&room), Some(caller));
        assert_eq!(random(&mut room, other), Err(Refusal::NotYourTurn));
        pick(&mut room, caller, "2/1");
        let notice = |room: &Room, id| {
            room.inbox(id)
                .iter()
                .rev()
                .find_map(|m| match m {
                    ToStudent::Call(n) => Some(n.clone()),
                    _ => None,
                })
                .expect("a call")
        };
        assert!(notice(&room, caller).you_call && !notice(&room, other).you_call);
        let name = Some(room.student(caller).name);
        assert_eq!(notice(&room, other).caller, name);
        assert_eq!(room.answer(caller, at("2/1")), Err(Refusal::CallerAnswers));
        assert_eq!(room.student(caller).progress, None);
        assert_eq!(room.answer(other, at("3/5")), Ok(Mark::Right));
        assert_eq!(
            room.call().stage,
            CallStage::Revealed,
            "everyone who answers has found it"
        );
    }
    assert_eq!(room.student(mia).tally.calls, 1);
    assert_eq!(room.student(ole).tally.calls, 2);
    assert_eq!(room.view().calls_closed, 2, "the third is still shown");
}

#[test]
fn everyone_is_told_whose_turn_it_is() {
    let mut room = Room::new(friends());
    let mia = room.join("Mia");
    let ole = room.join("Ole");
    let told = |room: &Room, id| match room.last(id) {
        Some(ToStudent::Turn { caller, yours }) => (caller.clone(), *yours),
        other => panic!("not told: {other:?}"),
    };
    assert_eq!(told(&room, mia), ("Mia".to_owned(), true));
    assert_eq!(told(&room, ole), ("Mia".to_owned(), false));
    assert_eq!(random(&mut room, mia), Ok(()));
    assert_eq!(reveal(&mut room, mia), Ok(()));
    assert_eq!(told(&room, mia), ("Ole".to_owned(), false));
    assert_eq!(told(&room, ole), ("Ole".to_owned(), true));
}

#[test]
fn only_the_caller_sees_how_far_the_others_are() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole", "Sol"]);
    let [mia, ole, sol] = ids[..] else { panic!() };
    pick(&mut room, mia, "2/1");
    room.answer(ole, at("2/0")).expect("taken");
    let call = room.call().id;
    let tried = FromStudent::Try {
        source: Source::Screen,
        call,
        at: at("1/0"),
    };
    for _ in 0..5 {
        assert_eq!(room.say(sol, tried.clone()), Ok(()));
    }
    let Some(ToStudent::Progress { students, .. }) = room.last(mia) else {
        panic!("told of the others");
    };
    let expected = [
        ("Ole".to_owned(), Progress::Missed),
        ("Sol".to_owned(), Progress::Searching),
    ];
    assert_eq!(students[..], expected);
    let told = |id| {
        let progress = |m: &&ToStudent| matches!(m, ToStudent::Progress { .. });
        room.inbox(id).iter().filter(progress).count()
    };
    assert_eq!((told(mia), told(ole), told(sol)), (3, 0, 0));
}

#[test]
fn a_caller_may_hear_again_close_unrevealed_and_pick_at_random() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole"]);
    let [mia, ole] = ids[..] else { panic!() };
    assert_eq!(random(&mut room, mia), Ok(()));
    let call = room.call().id;
    assert_eq!(random(&mut room, mia), Err(Refusal::CallOpen));
    let again = FromStudent::CallerHearAgain { call };
    assert_eq!(room.say(ole, again.clone()), Err(Refusal::NotYourTurn));
    assert_eq!(room.say(mia, again), Ok(()));
    assert_eq!(room.call().sounded_again, 1);
    assert_eq!(room.say(mia, FromStudent::CallerClose { call }), Ok(()));
    assert_eq!(room.call().stage, CallStage::Closed);
    assert_eq!(turn(&room), Some(ole));
}

#[test]
fn a_caller_who_revealed_may_close_though_the_turn_has_passed() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole"]);
    let [mia, ole] = ids[..] else { panic!() };
    assert_eq!(random(&mut room, mia), Ok(()));
    assert_eq!(reveal(&mut room, mia), Ok(()));
    assert_eq!(turn(&room), Some(ole));
    let call = room.call().id;
    assert_eq!(reveal(&mut room, mia), Ok(()), "revealing twice is no harm");
    assert_eq!(room.say(mia, FromStudent::CallerClose { call }), Ok(()));
    assert_eq!(turn(&room), Some(ole), "it passes once");
}

#[test]
fn a_caller_who_leaves_passes_the_turn() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole", "Sol"]);
    let [mia, ole, sol] = ids[..] else { panic!() };
    assert_eq!(room.say(mia, FromStudent::Leave), Ok(()));
    assert_eq!(turn(&room), Some(ole));
    assert_eq!(random(&mut room, ole), Ok(()));
    assert_eq!(room.say(ole, FromStudent::Leave), Ok(()));
    assert_eq!(
        room.call().stage,
        CallStage::Revealed,
        "nobody else could reveal it"
    );
    assert_eq!(turn(&room), Some(sol));
}

#[test]
fn a_removed_caller_passes_the_turn_too() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole"]);
    assert_eq!(random(&mut room, ids[0]), Ok(()));
    room.order(HostOrder::Remove(ids[0]));
    assert_eq!(room.call().stage, CallStage::Revealed);
    assert_eq!(turn(&room), Some(ids[1]));
}

#[test]
fn a_lost_caller_is_waited_for_and_then_passed_over() {
    let mut room = Room::new(friends());
    let mia = room.join("Mia");
    let ole = room.join("Ole");
    let key = room.key(mia);
    assert_eq!(random(&mut room, mia), Ok(()));
    room.lose(mia);
    assert_eq!(room.lesson.next_deadline(), Some(room.now + AWAY_GRACE));
    room.wait(AWAY_GRACE / 2);
    room.time_out();
    assert_eq!(room.call().stage, CallStage::Open);
    assert_eq!(room.try_join("Mia", Some(key)), Ok(mia));
    assert!(matches!(room.last(mia), Some(ToStudent::Progress { .. })));
    assert_eq!(room.lesson.next_deadline(), None);

    room.lose(mia);
    room.wait(AWAY_GRACE);
    room.time_out();
    assert_eq!(room.call().stage, CallStage::Revealed);
    assert_eq!(turn(&room), Some(ole));
    assert_eq!(room.lesson.next_deadline(), None);
}

#[test]
fn a_lost_answerer_is_waited_for_before_the_note_is_shown() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole", "Sol"]);
    let [mia, ole, sol] = ids[..] else { panic!() };
    pick(&mut room, mia, "1/0");
    room.lose(sol);
    room.wait_ms(1000);
    assert_eq!(room.answer(ole, at("1/0")), Ok(Mark::Right));
    assert_eq!(room.call().stage, CallStage::Open);
    let deadline = room.lesson.next_deadline().expect("waiting for Sol");
    room.now = deadline;
    room.time_out();
    assert_eq!(room.call().stage, CallStage::Revealed);
}

#[test]
fn one_who_leaves_is_not_waited_for() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole", "Sol"]);
    let [mia, ole, sol] = ids[..] else { panic!() };
    pick(&mut room, mia, "1/0");
    assert_eq!(room.answer(ole, at("1/0")), Ok(Mark::Right));
    assert_eq!(room.call().stage, CallStage::Open);
    assert_eq!(room.say(sol, FromStudent::Leave), Ok(()));
    assert_eq!(room.call().stage, CallStage::Revealed);
    let left = |e: &LessonEvent| matches!(e, LessonEvent::Left { student, leaving: Leaving::Left, .. } if *student == sol);
    assert!(room.events.iter().any(left));
}

#[test]
fn the_first_friend_back_in_an_empty_room_has_the_turn() {
    let (mut room, ids) = Room::with(friends(), &["Mia"]);
    assert_eq!(room.say(ids[0], FromStudent::Leave), Ok(()));
    assert_eq!(turn(&room), None);
    assert_eq!(room.host(HostOrder::CallRandom), Err(Refusal::NobodyToCall));
    assert_eq!(room.host(HostOrder::PassTurn), Err(Refusal::NobodyToCall));
    let ole = room.join("Ole");
    assert_eq!(turn(&room), Some(ole));
}

#[test]
fn the_host_does_not_call_but_moves_on_a_stuck_lesson() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole"]);
    let [mia, ole] = ids[..] else { panic!() };
    let by_hand = HostOrder::CallAt(Answer::Pitch(pitch(62)));
    for order in [HostOrder::CallRandom, by_hand] {
        assert_eq!(room.host(order), Err(Refusal::NotYourTurn));
    }
    room.order(HostOrder::PassTurn);
    assert_eq!(turn(&room), Some(ole));
    assert_eq!(random(&mut room, ole), Ok(()));
    assert_eq!(room.host(HostOrder::PassTurn), Err(Refusal::CallOpen));
    room.order(HostOrder::Reveal);
    assert_eq!(turn(&room), Some(mia));
    // The turn has come already: passing it goes on, and skips nobody.
    room.order(HostOrder::PassTurn);
    assert_eq!(room.call().stage, CallStage::Closed);
    assert_eq!(turn(&room), Some(mia));
    // She has nodded off as well.
    room.order(HostOrder::PassTurn);
    assert_eq!(turn(&room), Some(ole));
    room.order(HostOrder::End);
    assert_eq!(turn(&room), None);
    assert_eq!(room.lesson.next_deadline(), None);
}

#[test]
fn a_friend_alone_may_call_and_a_late_one_answers() {
    let (mut room, ids) = Room::with(friends(), &["Mia"]);
    pick(&mut room, ids[0], "1/0");
    assert_eq!(room.call().stage, CallStage::Open);
    let ole = room.join("Ole");
    assert_eq!(room.answer(ole, at("1/0")), Ok(Mark::Right));
    assert_eq!(room.call().stage, CallStage::Revealed);
    assert_eq!(turn(&room), Some(ole));
}

#[test]
fn friends_are_refused_speakers_that_nobody_hears() {
    let mut setup = friends();
    setup.rules.sounding = Sounding::HostSpeakers;
    let silent = Lesson::new(setup.clone(), Moment::default());
    assert_eq!(silent.err(), Some(Refusal::NoSpeakers));
    let speakers = HostOrder::Set(Setting::Sounding(Sounding::HostSpeakers));
    let (mut room, _) = Room::with(friends(), &["Mia", "Ole"]);
    assert_eq!(room.host(speakers.clone()), Err(Refusal::NoSpeakers));
    assert_eq!(room.view().rules.sounding, Sounding::EveryTerminal);
    room.order(HostOrder::Set(Setting::Sounding(Sounding::OnAsking)));

    // A host that says it has speakers may sound through them.
    setup.speakers_among_friends = true;
    let (mut room, ids) = Room::with(setup, &["Mia", "Ole"]);
    assert_eq!(random(&mut room, ids[0]), Ok(()));
    let sounds = |e: &LessonEvent| matches!(e, LessonEvent::HostSound { .. });
    assert!(room.events.iter().any(sounds));
    room.order(HostOrder::Close);
    room.order(HostOrder::Set(Setting::Sounding(Sounding::EveryTerminal)));
    room.order(speakers);
}

#[test]
fn who_picks_at_random_learns_the_note_and_nobody_else_does() {
    let mut room = Room::new(friends());
    let [mia, ole] = ["Mia", "Ole"].map(|name| room.join(name));
    let key = room.key(mia);
    assert_eq!(random(&mut room, mia), Ok(()));
    let call = room.call();
    let told = |room: &Room, id| {
        let notice = |m: &ToStudent| match m {
            ToStudent::Call(n) => Some(n.target),
            _ => None,
        };
        room.inbox(id)
            .iter()
            .rev()
            .find_map(notice)
            .expect("called")
    };
    assert_eq!(told(&room, mia), Some((call.pitch, call.place)));
    assert_eq!(told(&room, ole), None);
    // The caller is told again when coming back.
    room.lose(mia);
    room.inboxes.clear();
    assert_eq!(room.try_join("Mia", Some(key)), Ok(mia));
    assert_eq!(told(&room, mia), Some((call.pitch, call.place)));
    let sol = room.join("Sol");
    assert_eq!(told(&room, sol), None);
}

#[test]
fn friends_are_told_who_left_for_good() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole", "Sol"]);
    let left = |room: &Room, id| -> Vec<String> {
        let name = |m: &ToStudent| match m {
            ToStudent::FriendLeft { name } => Some(name.clone()),
            _ => None,
        };
        room.inbox(id).iter().filter_map(name).collect()
    };
    // A lost connection may come back any moment: nobody has left.
    room.lose(ids[2]);
    assert_eq!(left(&room, ids[0]), [""; 0]);
    assert_eq!(room.say(ids[1], FromStudent::Leave), Ok(()));
    assert_eq!(left(&room, ids[0]), ["Ole"]);
    room.order(HostOrder::Remove(ids[2]));
    assert_eq!(left(&room, ids[0]), ["Ole", "Sol"]);
    assert_eq!(left(&room, ids[1]), [""; 0]);

    let (mut room, ids) = Room::with(fifthpeg_fixture::setup(), &["Mia", "Ole"]);
    assert_eq!(room.say(ids[1], FromStudent::Leave), Ok(()));
    assert_eq!(left(&room, ids[0]), [""; 0], "a class goes on");
}
