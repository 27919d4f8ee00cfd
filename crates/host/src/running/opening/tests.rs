use std::net::Ipv4Addr;

use fifthpeg_core::neck::{LONGEST_NAME_BYTES, MOST_FRETS, MOST_IN_COURSE, MOST_STRINGS};
use fifthpeg_core::{Neck, NeckDescription, NeckString, Pitch};
use fifthpeg_wire::ClientFrame;

use super::super::{GOODBYE, start};
use super::*;

fn setup(lesson: &str) -> LessonSetup {
    let string = NeckString {
        open: Pitch::new(48).unwrap(),
        first_fret: 0,
        last_fret: MOST_FRETS,
        course: vec![0; MOST_IN_COURSE],
    };
    let neck = NeckDescription {
        name: "\u{1f3b8}".repeat(LONGEST_NAME_BYTES / 4),
        strings: vec![string; MOST_STRINGS],
        scale_length_mm: 650.0,
        capo: None,
    };
    LessonSetup::new(lesson, &Neck::build(neck).unwrap())
}

#[tokio::test]
async fn the_largest_neck_can_be_told_of() {
    let config = HostConfig {
        bind: vec![(Ipv4Addr::LOCALHOST, 0).into()],
        announce: false,
        ..HostConfig::new(setup(&"\u{1f3b8}".repeat(MAX_NAME_CHARS as usize)))
    };
    let host = start(config).await.unwrap();
    assert_eq!(host.announce_trouble(), None);
    host.end().await.unwrap();
}

#[tokio::test]
async fn a_taken_port_gives_way_to_a_free_one_only_where_allowed() {
    let holder = listen_all(&[(Ipv4Addr::LOCALHOST, 0).into()]).unwrap();
    let taken = holder[0].local_addr().unwrap();
    let config = |any_port_instead| HostConfig {
        bind: vec![taken],
        announce: false,
        any_port_instead,
        ..HostConfig::new(setup("Hall"))
    };
    assert!(matches!(
        prepare(config(false)),
        Err(HostError::Listen { .. })
    ));
    let host = prepare(config(true)).unwrap().open().await;
    assert_ne!(host.local_addrs()[0].port(), taken.port());
    host.end().await.unwrap();
}

#[tokio::test]
async fn without_a_network_a_terminal_of_this_program_comes_in_by_its_own_door() {
    let config = HostConfig {
        network: false,
        ..HostConfig::new(setup("Hall"))
    };
    let host = start(config).await.unwrap();
    assert_eq!(host.local_addrs(), []);
    assert!(!host.is_announced());
    assert_eq!(host.announce_trouble(), None);
    let inside = host.inside().connect(GOODBYE).await.unwrap();
    let (mut sender, mut receiver) = inside.split();
    let join = ClientFrame::join("Mia", None, SeatKey(1));
    sender.send(&join).await.unwrap();
    let welcome = receiver.recv().await.unwrap().unwrap();
    assert!(matches!(welcome, HostFrame::Lesson(ToStudent::Welcome(_))));
    drop((sender, receiver));
    host.end().await.unwrap();
}

#[test]
fn rules_that_fit_no_message_are_refused() {
    let mut rules = setup("Hall").rules;
    let string = rules.neck.strings[0].clone();
    rules.neck.strings = vec![string; fifthpeg_core::neck::MOST_STRINGS + 1];
    let error = can_be_told(rules).unwrap_err();
    assert!(matches!(error, HostError::Unsendable(_)), "{error}");
}
