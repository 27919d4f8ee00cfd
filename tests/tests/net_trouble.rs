//! What a network can do to a lesson: cut, stall, swallow. The lesson goes on
//! for everyone else, and nobody loses a place or an answer.

use std::time::Duration;

use fifthpeg_host::{Limits, Notice};
use fifthpeg_lesson::marking::{Mark, Telling};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::terminal::StudentOrder;
use fifthpeg_student::Status;
use fifthpeg_tests::forwarder::Forwarder;
use fifthpeg_tests::net::{host, joined, right_answer, setup, student, until};
use fifthpeg_tests::peers::{goes_on, host_with, notice, raw_joined};
use fifthpeg_vocab::Setting;

#[tokio::test(flavor = "multi_thread")]
async fn a_cut_connection_comes_back_with_its_place_and_its_answer() {
    let host = host(setup("Cut")).await;
    let way = Forwarder::to(host.local_addrs()[0]).await;
    let student = student("Marta", way.address()).await;
    joined(&student).await;
    host.order(HostOrder::CallRandom).await.unwrap();
    until(&mut student.view(), "the call", |v| v.call.is_some()).await;

    way.cut();
    until(&mut student.view(), "alone", |v| !v.connected).await;
    until(&mut host.view(), "seen to be away", |v| {
        !v.students[0].connected
    })
    .await;
    let lost = until(&mut student.status(), "said to be lost", |s| {
        matches!(s, Status::Lost { .. })
    })
    .await;
    assert!(lost.to_string().contains("trying again in"), "{lost}");
    // Given while nobody hears it.
    let answer = right_answer(&host);
    student.order(StudentOrder::Answer(answer)).await.unwrap();

    way.mend();
    until(&mut student.view(), "back and found", |v| {
        v.connected && v.call.as_ref().is_some_and(|c| c.found)
    })
    .await;
    let view = until(&mut host.view(), "the answer", |v| {
        v.students[0].connected && !v.students[0].answers.is_empty()
    })
    .await;
    assert_eq!(view.students.len(), 1, "the same place");
    assert_eq!(view.students[0].name, "Marta");
    assert_eq!(view.students[0].answers.len(), 1);
    assert_eq!(view.students[0].answers[0].mark, Mark::Right);
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn an_answer_whose_mark_was_lost_counts_once() {
    let host = host(setup("Deaf")).await;
    let way = Forwarder::to(host.local_addrs()[0]).await;
    let student = student("Idris", way.address()).await;
    joined(&student).await;
    host.order(HostOrder::CallRandom).await.unwrap();
    until(&mut student.view(), "the call", |v| v.call.is_some()).await;

    // The answer arrives, its mark does not.
    way.deafen();
    let answer = right_answer(&host);
    student.order(StudentOrder::Answer(answer)).await.unwrap();
    until(&mut host.view(), "the answer", |v| {
        v.students[0].answers.len() == 1
    })
    .await;
    assert_eq!(
        student.view().borrow().call.as_ref().unwrap().answers,
        [(answer, None)]
    );
    way.cut();
    until(&mut host.view(), "away", |v| !v.students[0].connected).await;
    way.mend();
    until(&mut student.view(), "marked", |v| {
        v.call
            .as_ref()
            .is_some_and(|c| c.answers == [(answer, Some(Mark::Right))])
    })
    .await;
    let view = host.view().borrow().clone();
    assert_eq!(view.students.len(), 1);
    assert_eq!(view.students[0].answers.len(), 1);
    assert_eq!(view.students[0].tally.found, 1);
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_dead_peer_is_noticed_and_comes_back() {
    let limits = Limits {
        silence: Duration::from_millis(4500),
        ..Limits::default()
    };
    let host = host_with("Silence", limits).await;
    let mut notices = host.notices();
    let way = Forwarder::to(host.local_addrs()[0]).await;
    let (quiet, other) = (
        student("Bo", way.address()).await,
        student("Ana", host.local_addrs()[0]).await,
    );
    joined(&quiet).await;
    joined(&other).await;
    // As when a laptop's lid is closed: nothing comes, nobody hangs up.
    way.stall();
    let told = notice(&mut notices, |n| matches!(n, Notice::Silent { .. })).await;
    assert!(told.to_string().contains("from Bo"), "{told}");
    until(&mut host.view(), "away", |v| {
        v.students.iter().any(|s| s.name == "Bo" && !s.connected)
    })
    .await;
    goes_on(&host, &other).await;
    way.mend();
    until(&mut host.view(), "back", |v| {
        v.students.iter().all(|s| s.connected)
    })
    .await;
    goes_on(&host, &quiet).await;
    assert_eq!(host.view().borrow().students.len(), 2);
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_host_that_started_anew_takes_its_students_in_afresh() {
    let first = host(setup("First")).await;
    let way = Forwarder::to(first.local_addrs()[0]).await;
    let student = student("Marta", way.address()).await;
    joined(&student).await;
    way.cut();
    until(&mut student.view(), "alone", |v| !v.connected).await;
    drop(first);
    let second = host(setup("Second")).await;
    way.lead_to(second.local_addrs()[0]);
    way.mend();
    until(&mut student.view(), "in the second lesson", |v| {
        v.connected
            && v.welcome
                .as_ref()
                .is_some_and(|w| w.rules.lesson == "Second")
    })
    .await;
    goes_on(&second, &student).await;
    second.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_student_who_does_not_read_delays_nobody() {
    let limits = Limits {
        queue: 16,
        // Only the full queue is to be what drops it.
        silence: Duration::from_secs(600),
        write_within: Duration::from_secs(600),
        ..Limits::default()
    };
    let host = host_with("Stalled", limits).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let good = student("Ana", address).await;
    joined(&good).await;
    let stalled = raw_joined(address, "Bo").await;
    let mut view = good.view();
    let mut dropped = false;
    for round in 0..20_000 {
        let telling = if round % 2 == 0 {
            Telling::Verdict
        } else {
            Telling::Interval
        };
        host.order(HostOrder::Set(Setting::Telling(telling)))
            .await
            .unwrap();
        // The one who reads is told each time, while the other is stuck.
        until(&mut view, "the rule", |v| {
            v.welcome
                .as_ref()
                .is_some_and(|w| w.rules.telling == telling)
        })
        .await;
        if let Ok(notice) = notices.try_recv() {
            assert_eq!(notice, Notice::Slow { name: "Bo".into() });
            dropped = true;
            break;
        }
    }
    assert!(dropped, "nobody noticed that Bo does not read");
    let bo = host.view().borrow().students[1].clone();
    assert!(!bo.connected, "{bo:?}");
    goes_on(&host, &good).await;
    drop(stalled);
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn who_is_busy_when_the_lesson_ends_is_told_as_well() {
    let host = host(setup("Busy")).await;
    let mut students = Vec::new();
    for i in 0..6 {
        let student = student(&format!("Student {i}"), host.local_addrs()[0]).await;
        joined(&student).await;
        students.push(student);
    }
    host.order(HostOrder::CallRandom).await.unwrap();
    let at = right_answer(&host);
    let mut busy = Vec::new();
    for student in students {
        busy.push(tokio::spawn(async move {
            // Until the lesson is over for this terminal.
            while student.order(StudentOrder::Try(at)).await.is_ok() {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
            student.status().borrow().clone()
        }));
    }
    until(&mut host.view(), "everyone busy", |v| {
        v.students.iter().all(|s| s.tries > 5)
    })
    .await;
    host.end().await.unwrap();
    for status in busy {
        assert_eq!(status.await.unwrap(), Status::Ended);
    }
}
