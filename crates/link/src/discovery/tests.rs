//! Discovery over this machine's own networks. Where a machine has none that
//! carries multicast, not even loopback, these tests fail rather than pass
//! unseen.

use core::time::Duration;

use super::{Announcement, Finder, FoundLesson, find};

const WAIT: Duration = Duration::from_secs(5);

/// Test runs side by side must not find one another's lessons.
fn unique(name: &str) -> String {
    format!("{name} {}", std::process::id())
}

fn named<'a>(lessons: &'a [FoundLesson], name: &str) -> Option<&'a FoundLesson> {
    lessons.iter().find(|l| l.name == name)
}

#[tokio::test]
async fn a_lesson_is_found_with_its_port_and_gone_when_withdrawn() {
    let name = unique("Village hall, St. Anne's");
    let announced = Announcement::start(&name, 4711).await.unwrap();
    assert_eq!(announced.name(), name);

    let found = Finder::start()
        .unwrap()
        .look(WAIT, |l| named(l, &name).is_some())
        .await
        .unwrap();
    let lesson = named(&found, &name).expect("the lesson is listed");
    assert_eq!(lesson.lesson, name);
    assert!(!lesson.addresses.is_empty());
    assert!(lesson.addresses.iter().all(|a| a.port() == 4711));
    let spoken = (
        fifthpeg_wire::PROTOCOL_OLDEST,
        fifthpeg_wire::PROTOCOL_NEWEST,
    );
    assert_eq!(lesson.protocol, Some(spoken));

    announced.withdraw().await;
    let found = find(Duration::from_millis(600)).await.unwrap();
    assert!(named(&found, &name).is_none());
}

#[tokio::test]
async fn lessons_do_not_mix_and_a_clash_gets_a_number() {
    let (hall, barn) = (unique("Hall"), unique("Barn"));
    let first = Announcement::start(&hall, 5001).await.unwrap();
    let other = Announcement::start(&barn, 5002).await.unwrap();
    let second = Announcement::start(&hall, 5003).await.unwrap();
    assert_eq!(first.name(), hall);
    assert_eq!(other.name(), barn);
    assert_eq!(second.name(), format!("{hall} (2)"));

    let names = [first.name(), other.name(), second.name()];
    let found = Finder::start()
        .unwrap()
        .look(WAIT, |l| names.iter().all(|n| named(l, n).is_some()))
        .await
        .unwrap();
    for (name, port) in names.iter().zip([5001, 5002, 5003]) {
        let lesson = named(&found, name).expect("each lesson is listed");
        assert!(
            lesson.addresses.iter().all(|a| a.port() == port),
            "{lesson:?}"
        );
    }
    assert_eq!(named(&found, second.name()).unwrap().lesson, hall);
}

#[tokio::test]
async fn a_lesson_on_one_address_announces_only_that() {
    let name = unique("Loopback only");
    let at = "127.0.0.1:5010".parse().unwrap();
    let _announced = Announcement::start_at(&name, &[at], true).await.unwrap();
    let found = Finder::start()
        .unwrap()
        .look(WAIT, |l| named(l, &name).is_some())
        .await
        .unwrap();
    let listed = named(&found, &name).expect("listed");
    assert_eq!(listed.addresses, [at]);
    assert!(listed.open);
}

#[tokio::test]
async fn two_that_start_at_the_same_moment_end_with_two_names() {
    let barn = unique("Same moment");
    let (one, two) = tokio::join!(
        Announcement::start(&barn, 5021),
        Announcement::start(&barn, 5022)
    );
    let (one, two) = (one.unwrap(), two.unwrap());
    assert_ne!(one.name(), two.name());
    let both = |l: &[FoundLesson]| named(l, one.name()).is_some() && named(l, two.name()).is_some();
    let found = Finder::start().unwrap().look(WAIT, both).await.unwrap();
    for (announced, port) in [(&one, 5021), (&two, 5022)] {
        let lesson = named(&found, announced.name()).expect("each lesson is listed");
        assert!(
            lesson.addresses.iter().all(|a| a.port() == port),
            "{lesson:?}"
        );
    }
}
