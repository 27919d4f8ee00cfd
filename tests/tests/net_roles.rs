//! Who may say what over a connection: the rows of the table of roles that no
//! lesson sees, and a student who was taken out.

use fifthpeg_host::{Host, Limits, Notice};
use std::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, FromStudent, Refusal, SeatKey, Source, StudentId, ToStudent,
};
use fifthpeg_lesson::roles::{May, Role, Said, TABLE, may};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_link::channel::StudentChannel;
use fifthpeg_link::secure::Stream;
use fifthpeg_tests::net::{PATIENCE, host, setup};
use fifthpeg_tests::peers::{new_key, notice, raw};
use fifthpeg_wire::{ClientFrame, HostFrame};

/// A frame of each kind.
fn frame(said: Said) -> ClientFrame {
    let call = CallId(1);
    let at = Answer::Pitch(Pitch::MIDDLE_C);
    match said {
        Said::Join => join("Mia", None),
        Said::ClockAsk => ClientFrame::ClockAsk { t1: Moment(7) },
        Said::Sounded => ClientFrame::Lesson(FromStudent::Sounded { call }),
        Said::Hearing => ClientFrame::Lesson(FromStudent::Hearing { call }),
        Said::Try => ClientFrame::Lesson(FromStudent::Try {
            call,
            at,
            source: Source::Screen,
        }),
        Said::Sung => ClientFrame::Lesson(FromStudent::Sung {
            call,
            frequency_hz: 220.0,
            spread_cents: 5.0,
        }),
        Said::Answer => ClientFrame::Lesson(FromStudent::Answer(AnswerNotice {
            call,
            serial: 1,
            answer: at,
            source: Source::Screen,
            response: None,
            uncertainty: Duration::from_micros(0),
        })),
        Said::Pick => ClientFrame::Lesson(FromStudent::Pick { at: None }),
        Said::CallerHearAgain => ClientFrame::Lesson(FromStudent::CallerHearAgain { call }),
        Said::CallerReveal => ClientFrame::Lesson(FromStudent::CallerReveal { call }),
        Said::NotSounded => ClientFrame::Lesson(FromStudent::NotSounded { call }),
        Said::CallerClose => ClientFrame::Lesson(FromStudent::CallerClose { call }),
        Said::Leave => ClientFrame::Lesson(FromStudent::Leave),
        Said::KeyAnswer => ClientFrame::KeyAnswer { public: None },
        Said::Watch => ClientFrame::Watch,
    }
}

fn join(name: &str, key: Option<SeatKey>) -> ClientFrame {
    ClientFrame::Join {
        name: name.into(),
        key,
        new_key: new_key(),
    }
}

async fn heard(channel: &mut StudentChannel<Stream>) -> Option<HostFrame> {
    let heard = tokio::time::timeout(PATIENCE, channel.recv());
    heard.await.expect("an answer or an end").ok().flatten()
}

/// In the lesson; with the key to come back with.
async fn joined(host: &Host, name: &str) -> (StudentChannel<Stream>, SeatKey) {
    let mut channel = raw(host.local_addrs()[0]).await;
    channel.send(&join(name, None)).await.unwrap();
    match heard(&mut channel).await {
        Some(HostFrame::Lesson(ToStudent::Welcome(welcome))) => (channel, welcome.key),
        other => panic!("{other:?}"),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_door_does_as_the_table_says() {
    let host = host(setup("Door roles")).await;
    for (said, _) in TABLE {
        let mut channel = raw(host.local_addrs()[0]).await;
        channel.send(&frame(said)).await.unwrap();
        let heard = heard(&mut channel).await;
        match may(Role::AtDoor, said) {
            May::Yes if said == Said::Join => {
                assert!(
                    matches!(heard, Some(HostFrame::Lesson(ToStudent::Welcome(_)))),
                    "{said:?}"
                );
            }
            May::Yes if said == Said::Watch => {
                assert!(matches!(heard, Some(HostFrame::Hall(_))), "{said:?}");
            }
            May::Yes => {
                assert!(
                    matches!(heard, Some(HostFrame::ClockAnswer { .. })),
                    "{said:?}"
                );
            }
            May::HungUp => assert_eq!(heard, None, "{said:?}"),
            other => panic!("{said:?} {other:?}"),
        }
    }
    // Only the one who joined is there, and nothing was called.
    let view = host.view().borrow().clone();
    assert_eq!(view.students.len(), 1);
    assert!(view.call.is_none());
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_page_for_a_projector_too_many_is_told_so() {
    let host = host(setup("Walls")).await;
    let mut walls = Vec::new();
    for _ in 0..Limits::default().halls {
        let mut wall = raw(host.local_addrs()[0]).await;
        wall.send(&ClientFrame::Watch).await.unwrap();
        assert!(matches!(heard(&mut wall).await, Some(HostFrame::Hall(_))));
        walls.push(wall);
    }
    let mut one_more = raw(host.local_addrs()[0]).await;
    one_more.send(&ClientFrame::Watch).await.unwrap();
    let full = Refusal::HallsFull(walls.len() as u32);
    let told = HostFrame::Lesson(ToStudent::Refused(full));
    assert_eq!(heard(&mut one_more).await, Some(told));
    assert_eq!(heard(&mut one_more).await, None);
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_student_in_the_lesson_cannot_join_again_and_may_ask_for_the_clock() {
    let host = host(setup("Twice")).await;
    let mut notices = host.notices();
    let (mut channel, _) = joined(&host, "Mia").await;
    assert_eq!(may(Role::InClass, Said::ClockAsk), May::Yes);
    channel.send(&frame(Said::ClockAsk)).await.unwrap();
    let answer = heard(&mut channel).await;
    assert!(matches!(answer, Some(HostFrame::ClockAnswer { .. })));
    assert_eq!(may(Role::InClass, Said::Join), May::HungUp);
    channel.send(&join("Ben", None)).await.unwrap();
    assert_eq!(heard(&mut channel).await, None);
    let told = notice(&mut notices, |n| matches!(n, Notice::Confused { .. })).await;
    assert!(told.to_string().contains("Mia"), "{told}");
    assert_eq!(host.view().borrow().students.len(), 1);
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn who_is_taken_out_stays_out() {
    let host = host(setup("Taken out")).await;
    let (mut channel, key) = joined(&host, "Mia").await;
    host.order(HostOrder::Remove(StudentId(1))).await.unwrap();
    let end = heard(&mut channel).await;
    assert!(matches!(
        end,
        Some(HostFrame::Lesson(ToStudent::Ended { removed: true, .. }))
    ));
    // What still comes over the old connection reaches no lesson.
    let _ = channel.send(&frame(Said::Pick)).await;
    assert_eq!(heard(&mut channel).await, None);
    for (name, key) in [("Mia", Some(key)), ("Ruth", Some(key)), ("M\u{456}a", None)] {
        let mut again = raw(host.local_addrs()[0]).await;
        again.send(&join(name, key)).await.unwrap();
        match heard(&mut again).await {
            Some(HostFrame::Lesson(ToStudent::Refused(Refusal::TakenOut))) => {}
            other => panic!("{name}: {other:?}"),
        }
    }
    assert!(host.view().borrow().students.is_empty());
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_student_learns_nothing_of_the_target_and_nothing_of_another() {
    let host = host(setup("Secrets")).await;
    let (mut mia, _) = joined(&host, "Mia").await;
    let (mut ben, _) = joined(&host, "Ben").await;
    host.order(HostOrder::CallRandom).await.unwrap();
    // Ben tries everything a student can say; Mia hears of none of it.
    for (said, _) in TABLE {
        if !matches!(said, Said::Join | Said::Leave) {
            ben.send(&frame(said)).await.unwrap();
        }
    }
    ben.send(&frame(Said::Leave)).await.unwrap();
    while let Some(frame) = heard(&mut ben).await {
        let tells = matches!(
            frame,
            HostFrame::Lesson(ToStudent::Reveal { .. })
                | HostFrame::Lesson(ToStudent::Progress { .. })
        );
        assert!(!tells, "{frame:?}");
    }
    mia.send(&frame(Said::ClockAsk)).await.unwrap();
    let mut told = Vec::new();
    loop {
        match heard(&mut mia).await {
            Some(HostFrame::ClockAnswer { .. }) => break,
            Some(frame) => told.push(frame),
            None => panic!("cut off"),
        }
    }
    let [HostFrame::Lesson(ToStudent::Call(notice))] = &told[..] else {
        panic!("{told:?}");
    };
    assert_eq!((&notice.target, &notice.caller), (&None, &None));
    host.end().await.unwrap();
}
