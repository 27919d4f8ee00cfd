//! A whole lesson over loopback, with the real host and the real terminals.

use std::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_host::OrderError;
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{Answer, Refusal};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::terminal::StudentOrder;
use fifthpeg_lesson::view::CallStage;
use fifthpeg_student::{Status, StudentError};
use fifthpeg_tests::forwarder::Forwarder;
use fifthpeg_tests::net::{
    Remembering, host, joined, on_loopback, right_answer, setup, student, student_with, until,
};

#[tokio::test(flavor = "multi_thread")]
async fn three_students_hear_answer_and_are_told() {
    let host = host(setup("Village hall")).await;
    let address = host.local_addrs()[0];
    let mut students = Vec::new();
    for name in ["Marta", "Idris", "Bo"] {
        let student = student(name, address).await;
        joined(&student).await;
        students.push(student);
    }
    until(&mut host.view(), "three in the roster", |v| {
        v.students.iter().filter(|s| s.connected).count() == 3
    })
    .await;

    host.order(HostOrder::CallRandom).await.unwrap();
    for student in &students {
        let view = until(&mut student.view(), "the call", |v| v.call.is_some()).await;
        let call = view.call.as_ref().unwrap();
        assert_eq!(call.stage, CallStage::Open);
        assert_eq!(call.revealed, None, "nothing is revealed before the reveal");
    }
    assert_eq!(
        host.order(HostOrder::CallRandom).await,
        Err(OrderError::Refused(Refusal::CallOpen))
    );

    // One is right, one misses and then is right, one is silent.
    let right = right_answer(&host);
    let Answer::Pitch(target) = right else {
        panic!("a pitch")
    };
    let low = Answer::Pitch(Pitch::new(target.midi() - 1).unwrap());
    students[0]
        .order(StudentOrder::Answer(right))
        .await
        .unwrap();
    students[1].order(StudentOrder::Try(low)).await.unwrap();
    students[1].order(StudentOrder::Answer(low)).await.unwrap();
    until(&mut students[1].view(), "a miss", |v| {
        matches!(
            v.call.as_ref().unwrap().answers[..],
            [(_, Some(Mark::Missed(_)))]
        )
    })
    .await;
    students[1]
        .order(StudentOrder::Answer(right))
        .await
        .unwrap();
    for student in &students[..2] {
        until(&mut student.view(), "found", |v| {
            v.call.as_ref().is_some_and(|c| c.found)
        })
        .await;
    }

    host.order(HostOrder::Reveal).await.unwrap();
    let shown = until(&mut students[2].view(), "the reveal", |v| {
        v.call.as_ref().is_some_and(|c| c.revealed.is_some())
    })
    .await;
    let (pitch, places) = shown.call.as_ref().unwrap().revealed.clone().unwrap();
    assert_eq!(pitch, target);
    assert!(!places.is_empty());
    host.order(HostOrder::Close).await.unwrap();

    let tallies: Vec<_> = host
        .view()
        .borrow()
        .students
        .iter()
        .map(|s| s.tally)
        .collect();
    assert_eq!(
        tallies.iter().map(|t| t.found).collect::<Vec<_>>(),
        [1, 1, 0]
    );
    assert_eq!(
        tallies.iter().map(|t| t.found_first).collect::<Vec<_>>(),
        [1, 0, 0]
    );
    assert_eq!(tallies[1].tries, 1);

    let views: Vec<_> = students.iter().map(|s| (s.view(), s.status())).collect();
    host.end().await.unwrap();
    for ((mut view, mut status), student) in views.into_iter().zip(students) {
        until(&mut status, "the end", |s| *s == Status::Ended).await;
        let last = until(&mut view, "the last tally", |v| v.ended).await;
        assert_eq!(last.tally.calls, 1);
        let late = student.order(StudentOrder::Answer(right)).await;
        assert!(matches!(late, Err(StudentError::Refused(Refusal::Ended))));
        student.leave().await.unwrap();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn everyone_starts_a_call_together_however_far_away() {
    const FAR: Duration = Duration::from_millis(70);
    let host = host(setup("Together")).await;
    let near = host.local_addrs()[0];
    let long_way = Forwarder::delayed(near, FAR).await;
    let outputs: Vec<_> = (0..4).map(|_| Remembering::default()).collect();
    let mut students = Vec::new();
    for (i, output) in outputs.iter().enumerate() {
        let name = format!("Student {i}");
        let address = if i == 0 { long_way.address() } else { near };
        students.push(student_with(&name, address, Box::new(output.clone())).await);
    }
    for student in &students {
        joined(student).await;
        until(&mut student.view(), "a clock", |v| {
            v.clock_uncertainty.is_some()
        })
        .await;
    }
    // A few more exchanges, so that one spoilt by a busy machine is not used.
    tokio::time::sleep(Duration::from_millis(1500)).await;
    for round in 1..=5 {
        host.order(HostOrder::CallRandom).await.unwrap();
        for student in &students {
            until(&mut student.view(), "sounded", |v| {
                v.call
                    .as_ref()
                    .is_some_and(|c| c.number as usize == round && c.started.is_some())
            })
            .await;
        }
        let plays: Vec<_> = outputs.iter().map(|o| o.played()[round - 1]).collect();
        let first = plays.iter().map(|p| p.1).min().unwrap();
        let last = plays.iter().map(|p| p.1).max().unwrap();
        // All in one process, so their instants are on one clock. Without the
        // clock exchange the far one would start its delay late.
        assert!(
            last - first < FAR / 3,
            "round {round}: {:?} apart",
            last - first
        );
        for play in &plays {
            assert_eq!(play.0, plays[0].0, "the same tone everywhere");
        }
        host.order(HostOrder::Reveal).await.unwrap();
        host.order(HostOrder::Close).await.unwrap();
    }
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_called_is_in_the_wav_file() {
    let folder = std::env::temp_dir().join(format!("fifthpeg-net-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let file = folder.join("marta.wav");
    let host = host(setup("To file")).await;
    let choice = format!("wav:{}", file.display()).parse().unwrap();
    let output = fifthpeg_sound::open(&choice).unwrap();
    let student = student_with("Marta", host.local_addrs()[0], output).await;
    joined(&student).await;
    host.order(HostOrder::CallRandom).await.unwrap();
    until(&mut student.view(), "sounded", |v| {
        v.call.as_ref().is_some_and(|c| c.started.is_some())
    })
    .await;
    host.end().await.unwrap();
    student.leave().await.unwrap();

    let mut wav = hound::WavReader::open(&file).unwrap();
    let loudest = match wav.spec().sample_format {
        hound::SampleFormat::Float => wav
            .samples::<f32>()
            .map(|s| s.unwrap().abs())
            .fold(0.0, f32::max),
        hound::SampleFormat::Int => {
            let full = 2_f32.powi(i32::from(wav.spec().bits_per_sample) - 1);
            wav.samples::<i32>()
                .map(|s| s.unwrap().unsigned_abs() as f32 / full)
                .fold(0.0, f32::max)
        }
    };
    std::fs::remove_dir_all(&folder).unwrap();
    assert!(loudest > 0.01, "only silence was written ({loudest})");
    assert!(loudest <= 0.5, "louder than the ceiling ({loudest})");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_full_roster_turns_the_next_one_away_with_a_reason() {
    let mut small = setup("Two chairs");
    small.max_students = 2;
    let host = host(small).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let (a, b) = (student("Ana", address).await, student("Ben", address).await);
    joined(&a).await;
    joined(&b).await;
    let c = student("Cleo", address).await;
    let status = until(&mut c.status(), "turned away", Status::is_final).await;
    assert_eq!(status, Status::Refused(Refusal::Full(2)));
    assert!(status.to_string().contains("full (2 students)"), "{status}");
    let notice = notices.recv().await.unwrap().to_string();
    assert!(notice.starts_with("Cleo was not let in"), "{notice}");
    // The lesson goes on for the others.
    host.order(HostOrder::CallRandom).await.unwrap();
    until(&mut a.view(), "the call", |v| v.call.is_some()).await;
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn the_hosts_speakers_sound_the_call_when_they_are_to() {
    let speakers = Remembering::default();
    let mut setup = setup("In one room");
    setup.rules.sounding = fifthpeg_lesson::message::Sounding::HostSpeakers;
    let mut config = on_loopback(setup);
    config.output = Some(Box::new(speakers.clone()));
    let host = fifthpeg_host::start(config).await.unwrap();
    let output = Remembering::default();
    let student = student_with("Marta", host.local_addrs()[0], Box::new(output.clone())).await;
    joined(&student).await;
    host.order(HostOrder::CallRandom).await.unwrap();
    until(&mut student.view(), "the call", |v| v.call.is_some()).await;
    let answer = right_answer(&host);
    student.order(StudentOrder::Answer(answer)).await.unwrap();
    until(&mut student.view(), "found", |v| {
        v.call.as_ref().is_some_and(|c| c.found)
    })
    .await;
    host.end().await.unwrap();
    assert_eq!(speakers.played().len(), 1);
    assert!(output.played().is_empty(), "the terminal stays silent");
    student.leave().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_student_the_host_removes_stays_out() {
    let host = host(setup("One less")).await;
    let student = student("Marta", host.local_addrs()[0]).await;
    joined(&student).await;
    // The student may know of it a moment before the host's view shows it.
    until(&mut host.view(), "in the host's view", |v| {
        !v.students.is_empty()
    })
    .await;
    let id = host.view().borrow().students[0].id;
    host.order(HostOrder::Remove(id)).await.unwrap();
    until(&mut student.status(), "out for good", |s| {
        *s == Status::Removed
    })
    .await;
    assert!(host.view().borrow().students.is_empty());
    host.end().await.unwrap();
}
