//! Who sounds a call, and which hearings count, in the three ways to sound it.

use fifthpeg_fixture::{Room, at, setup};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::message::{CallId, FromStudent, Progress, Sounding, StudentId, ToStudent};
use fifthpeg_lesson::setup::HostOrder;

const CALL: CallId = CallId(1);

fn room(sounding: Sounding) -> (Room, StudentId) {
    let mut setup = setup();
    setup.rules.sounding = sounding;
    let (mut room, ids) = Room::with(setup, &["Mia"]);
    room.order(HostOrder::CallAt(at("1/0")));
    room.wait_ms(4000);
    (room, ids[0])
}

fn hear(room: &mut Room, id: StudentId) {
    let heard = room.say(id, FromStudent::Hearing { call: CALL });
    assert_eq!(heard, Ok(()));
}

fn host_sounds(room: &Room) -> usize {
    let sounds = |e: &&LessonEvent| matches!(e, LessonEvent::HostSound { .. });
    room.events.iter().filter(sounds).count()
}

#[test]
fn with_every_terminal_the_first_comes_by_itself_and_every_asking_counts() {
    let (mut room, mia) = room(Sounding::EveryTerminal);
    hear(&mut room, mia);
    hear(&mut room, mia);
    assert_eq!(room.student(mia).hearings, 2);
    assert_eq!(room.student(mia).tally.hearings, 2);
    assert_eq!(room.student(mia).progress, Some(Progress::Searching));
    assert_eq!(host_sounds(&room), 0);
}

#[test]
fn on_asking_the_first_asking_is_free() {
    let (mut room, mia) = room(Sounding::OnAsking);
    assert!(matches!(room.last(mia), Some(ToStudent::Call(n)) if n.on_asking && n.tone.is_some()));
    hear(&mut room, mia);
    assert_eq!(room.student(mia).hearings, 0);
    hear(&mut room, mia);
    assert_eq!(room.student(mia).hearings, 1);
    let free: Vec<bool> = room
        .events
        .iter()
        .filter_map(|e| match e {
            LessonEvent::Heard { free, .. } => Some(*free),
            _ => None,
        })
        .collect();
    assert_eq!(free, [true, false]);
}

#[test]
fn with_the_hosts_speakers_asking_sounds_in_the_room() {
    let (mut room, mia) = room(Sounding::HostSpeakers);
    assert!(matches!(room.last(mia), Some(ToStudent::Call(n)) if n.tone.is_none()));
    assert_eq!(host_sounds(&room), 1);
    hear(&mut room, mia);
    assert_eq!(host_sounds(&room), 2);
    assert_eq!(room.student(mia).hearings, 1);
}

#[test]
fn several_who_ask_at_once_hear_one_sounding_of_the_hosts_speakers() {
    let (mut room, mia) = room(Sounding::HostSpeakers);
    let ole = room.join("Ole");
    for _ in 0..20 {
        hear(&mut room, mia);
        hear(&mut room, ole);
        room.wait_ms(10);
    }
    assert_eq!(host_sounds(&room), 2);
    assert_eq!(room.student(mia).hearings, 20);
    // Ole came in when the first had faded, so the first asking was free.
    assert_eq!(room.student(ole).hearings, 19);
}

#[test]
fn the_host_sounds_it_again_for_all_and_nobody_pays() {
    for sounding in [
        Sounding::EveryTerminal,
        Sounding::OnAsking,
        Sounding::HostSpeakers,
    ] {
        let (mut room, mia) = room(sounding);
        let before = host_sounds(&room);
        room.order(HostOrder::HearAgain);
        let Some(ToStudent::HearAgain { call: CALL, start }) = room.last(mia) else {
            panic!("told to sound it again");
        };
        assert!(*start > room.now);
        assert_eq!(room.student(mia).hearings, 0);
        assert_eq!(room.call().sounded_again, 1);
        let by_host = usize::from(sounding == Sounding::HostSpeakers);
        assert_eq!(host_sounds(&room) - before, by_host);
    }
}

#[test]
fn after_the_reveal_hearings_are_free() {
    let (mut room, mia) = room(Sounding::HostSpeakers);
    room.order(HostOrder::Reveal);
    hear(&mut room, mia);
    assert_eq!(host_sounds(&room), 2, "it still sounds");
    assert_eq!(room.student(mia).hearings, 0);
    room.order(HostOrder::HearAgain);
    room.order(HostOrder::Close);
    hear(&mut room, mia);
    assert_eq!(host_sounds(&room), 3, "a closed call is silent");
}

#[test]
fn once_the_host_sounds_it_again_a_late_one_has_had_the_free_hearing() {
    let (mut room, _) = room(Sounding::HostSpeakers);
    let [ole, sol] = ["Ole", "Sol"].map(|name| room.join(name));
    hear(&mut room, ole);
    assert_eq!(room.student(ole).hearings, 0, "the first is free");
    room.order(HostOrder::HearAgain);
    hear(&mut room, sol);
    assert_eq!(room.student(sol).hearings, 1, "it was heard with all");
}

#[test]
fn who_comes_before_the_speakers_start_is_not_late() {
    let mut setup = setup();
    setup.rules.sounding = Sounding::HostSpeakers;
    let (mut room, _) = Room::with(setup, &["Mia"]);
    room.order(HostOrder::CallAt(at("1/0")));
    room.wait_ms(100);
    let ole = room.join("Ole");
    room.wait_ms(3000);
    hear(&mut room, ole);
    assert_eq!(room.student(ole).hearings, 1);
}

#[test]
fn everyone_is_told_when_the_hosts_speakers_sound_for_one() {
    let mut setup = setup();
    setup.rules.sounding = Sounding::HostSpeakers;
    let (mut room, ids) = Room::with(setup, &["Mia", "Ivo"]);
    room.order(HostOrder::CallAt(at("1/0")));
    room.wait_ms(4000);
    room.inboxes.clear();
    hear(&mut room, ids[0]);
    // Only just sounding: nothing more sounds, and nothing is told.
    hear(&mut room, ids[1]);
    let start = |e: &LessonEvent| match e {
        LessonEvent::HostSound { start, .. } => Some(*start),
        _ => None,
    };
    let start = room.events.iter().rev().find_map(start).expect("a sound");
    for id in ids {
        let told = ToStudent::HostSounds { call: CALL, start };
        assert_eq!(room.inbox(id), [told]);
    }
}
