//! Lessons on one local network: found by name, told apart, withdrawn.
//!
//! Other lessons may be on the network while this runs, so each test looks
//! only at names of its own.

use std::net::SocketAddr;
use std::time::Duration;

use fifthpeg_host::{Host, HostConfig};
use fifthpeg_link::discovery::{Announcement, FoundLesson};
use fifthpeg_student::{Status, Student, StudentConfig, Target, find_lessons};
use fifthpeg_tests::net::{Remembering, joined, knowing, on_loopback, setup, until};
use fifthpeg_tests::skip;
use tokio::sync::Mutex;

const LOOK: Duration = Duration::from_secs(3);

/// One test at a time: a host that has just answered one keeps quiet to
/// the next for a second (RFC 6762 section 6).
static ALONE: Mutex<()> = Mutex::const_new(());

/// Whether this machine has a network that carries multicast; says so when
/// not, and fails where everything is required.
fn network() -> bool {
    let found = if_addrs::get_if_addrs()
        .unwrap_or_default()
        .iter()
        .any(|i| !i.is_loopback());
    if !found {
        skip("no network interface besides loopback, so lessons cannot be announced");
    }
    found
}

/// A name that another run of these tests on the same network does not use.
fn of_this_run(name: &str) -> String {
    format!("{name} {}", std::process::id())
}

async fn announced(name: &str) -> Host {
    let config = HostConfig {
        lock: on_loopback(setup(name)).lock,
        ..HostConfig::new(setup(name))
    };
    fifthpeg_host::start(config).await.expect("the host starts")
}

async fn looking(name: &str, lesson: Option<&str>) -> Student {
    let target = Target::Lesson(lesson.map(str::to_owned));
    let output = Box::new(Remembering::default());
    fifthpeg_student::start(knowing(StudentConfig::new(name, target, output)))
        .await
        .expect("the terminal starts")
}

/// What is found under these names.
async fn found(prefix: &str) -> Vec<FoundLesson> {
    let mut lessons = find_lessons(LOOK).await.expect("the network is asked");
    lessons.retain(|l| l.name.starts_with(prefix));
    lessons
}

#[tokio::test(flavor = "multi_thread")]
async fn lessons_on_one_network_do_not_mix() {
    if !network() {
        return;
    }
    let _alone = ALONE.lock().await;
    let mixing = of_this_run("Mixing");
    let (monday, friday) = (
        announced(&format!("{mixing}: Monday")).await,
        announced(&format!("{mixing}: Friday")).await,
    );
    let lessons = found(&mixing).await;
    let names: Vec<_> = lessons.iter().map(|l| l.name.as_str()).collect();
    assert_eq!(
        names,
        [format!("{mixing}: Friday"), format!("{mixing}: Monday")]
    );
    for (lesson, host) in lessons.iter().zip([&friday, &monday]) {
        let port = host.local_addrs()[0].port();
        assert!(
            lesson.addresses.iter().all(|a| a.port() == port),
            "{lesson:?}"
        );
    }

    let (a, b) = (
        looking("Ana", Some(&format!("{mixing}: Monday"))).await,
        looking("Ben", Some(&format!("{mixing}: Friday"))).await,
    );
    joined(&a).await;
    joined(&b).await;
    for (host, name) in [(&monday, "Ana"), (&friday, "Ben")] {
        // It is drawn a moment after the student has the welcome.
        until(&mut host.view(), "its own student alone", |view| {
            view.students.iter().map(|s| s.name.as_str()).eq([name])
        })
        .await;
    }
    // Who names none is told of both, and joins neither.
    let undecided = looking("Cleo", None).await;
    let status = until(&mut undecided.status(), "several", |s| {
        matches!(s, Status::Several { .. })
    })
    .await;
    let said = status.to_string();
    assert!(
        said.contains(&format!("{mixing}: Monday")) && said.contains(&format!("{mixing}: Friday")),
        "{said}"
    );
    // It looks on, and that stands meanwhile.
    let mut statuses = undecided.status();
    for _ in 0..2 {
        statuses.changed().await.expect("it looks on");
        let now = statuses.borrow_and_update().clone();
        assert!(matches!(now, Status::Several { .. }), "{now}");
    }
    undecided.leave().await.unwrap();

    monday.end().await.unwrap();
    friday.end().await.unwrap();
    // A goodbye lets a record live one second more (RFC 6762 section 10.1).
    let mut left = found(&mixing).await;
    for _ in 0..10 {
        if left.is_empty() {
            return;
        }
        left = found(&mixing).await;
    }
    panic!("withdrawn, but found: {left:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn two_lessons_of_one_name_get_names_of_their_own() {
    if !network() {
        return;
    }
    let _alone = ALONE.lock().await;
    let clash = of_this_run("Clash");
    let first = announced(&clash).await;
    // A host that has just announced itself keeps quiet for a second (RFC 6762
    // section 6), and would not speak up for its name.
    tokio::time::sleep(Duration::from_secs(2)).await;
    let second = announced(&clash).await;
    assert_eq!(first.announced_name(), clash);
    assert_eq!(second.announced_name(), format!("{clash} (2)"));
    // Both keep the name that was asked for on their screens.
    assert_eq!(second.view().borrow().rules.lesson, clash);
    let student = looking("Ana", Some(&format!("{clash} (2)"))).await;
    joined(&student).await;
    // The host shows it a moment after the student knows.
    let mut view = second.view();
    let in_time = tokio::time::timeout(Duration::from_secs(30), async {
        view.wait_for(|v| v.students.len() == 1).await.is_ok()
    });
    assert!(in_time.await.unwrap_or(false), "the student is in");
    assert!(first.view().borrow().students.is_empty());
    first.end().await.unwrap();
    second.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn an_address_that_belongs_to_another_lesson_is_left_again() {
    if !network() {
        return;
    }
    let _alone = ALONE.lock().await;
    let silent = |name: &str, bind: SocketAddr| HostConfig {
        bind: vec![bind],
        announce: false,
        ..on_loopback(setup(name))
    };
    let anywhere = SocketAddr::from(([127, 0, 0, 1], 0));
    let other = fifthpeg_host::start(silent("Astray: other", anywhere))
        .await
        .unwrap();
    let first = other.local_addrs()[0];
    let second = SocketAddr::from(([127, 0, 0, 2], first.port()));
    let meant = fifthpeg_host::start(silent("Astray: meant", second))
        .await
        .unwrap();
    // The first of these addresses is the other lesson's by now.
    let announcement = Announcement::start_at("Astray: meant", &[first, second], false)
        .await
        .unwrap();
    let student = looking("Ana", Some("Astray: meant")).await;
    joined(&student).await;
    assert_eq!(
        student
            .view()
            .borrow()
            .welcome
            .as_ref()
            .unwrap()
            .rules
            .lesson,
        "Astray: meant"
    );
    until(
        &mut student.status(),
        "in",
        |s| matches!(s, Status::In { address, .. } if *address == second),
    )
    .await;
    // It was there, and left.
    until(&mut other.view(), "nobody", |v| {
        v.students.iter().all(|s| !s.connected)
    })
    .await;
    student.leave().await.unwrap();
    announcement.withdraw().await;
    meant.end().await.unwrap();
    other.end().await.unwrap();
}
