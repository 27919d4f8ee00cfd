//! Where the note of a call came from is told with it.

use fifthpeg_fixture::{Room, at, friends, pitch, setup};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::message::FromStudent;
use fifthpeg_lesson::{HostOrder, Picked, Picking};
use fifthpeg_vocab::Setting;

fn picked(room: &Room) -> Vec<Option<Picked>> {
    let calls = room.events.iter().filter_map(|event| match event {
        LessonEvent::CallMade { picked, .. } => Some(*picked),
        _ => None,
    });
    calls.collect()
}

#[test]
fn a_class_is_called_for_in_four_ways() {
    let (mut room, _) = Room::with(setup(), &["Mia"]);
    let ways = [
        (HostOrder::CallRandom, Picked::Random),
        (HostOrder::CallAt(at("2/1")), Picked::Hand),
        (HostOrder::CallPlayed(pitch(60)), Picked::Instrument),
        (
            HostOrder::Set(Setting::Picking(Picking::Teaching)),
            Picked::Teaching,
        ),
        (HostOrder::CallRandom, Picked::Teaching),
    ];
    let mut wanted = Vec::new();
    for (order, by) in ways {
        let calls = !matches!(order, HostOrder::Set(Setting::Picking(_)));
        room.order(order);
        if calls {
            wanted.push(Some(by));
            room.order(HostOrder::Close);
        }
    }
    assert_eq!(picked(&room), wanted);
}

#[test]
fn a_friends_own_note_is_told_from_one_picked_for_the_friend() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole"]);
    for (n, at) in [Some(at("1/0")), None].into_iter().enumerate() {
        room.say(ids[n], FromStudent::Pick { at }).expect("a call");
        room.order(HostOrder::Close);
    }
    assert_eq!(picked(&room), [Some(Picked::Friend), Some(Picked::Random)]);
}
