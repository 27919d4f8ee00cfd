use super::*;
use fifthpeg_core::HeardNote;
use fifthpeg_sound::OutputChoice;
use fifthpeg_sound::{Level, ToneSpec, Voice, open as open_output};

fn tuning() -> Tuning {
    Tuning {
        lowest: Pitch::new(50).expect("D3"),
        highest: Pitch::new(84).expect("C6"),
        reference: Reference::default(),
    }
}

/// Takes what comes until this holds, or ten seconds have passed.
async fn until(
    ear: &mut Ear,
    from: &mut mpsc::Receiver<FromEar>,
    mut holds: impl FnMut(&Ear, Option<&Listened>) -> bool,
) {
    let wait = async {
        loop {
            let next = from.recv().await.expect("the ear lives");
            let heard = ear.take(next);
            if holds(ear, heard.as_ref()) {
                return;
            }
        }
    };
    let done = tokio::time::timeout(Duration::from_secs(10), wait).await;
    assert!(done.is_ok(), "not in time: {:?}", ear.status().borrow());
}

/// A file with a pluck of middle C.
fn pluck() -> std::path::PathBuf {
    let file = std::env::temp_dir().join(format!("fifthpeg-ear-{}.wav", std::process::id()));
    let choice: OutputChoice = format!("wav:{}", file.display()).parse().expect("a choice");
    let mut output = open_output(&choice).expect("a file");
    let tone = ToneSpec {
        frequency_hz: 261.63,
        voice: Voice::Banjo,
        pluck_seed: 1,
        level: Level::from_percent(80).expect("a level"),
    };
    let at = Instant::now() + Duration::from_millis(50);
    output.play(&tone, at).expect("played");
    output.finish().expect("written");
    file
}

#[tokio::test]
async fn it_listens_once_it_knows_to_what_and_stops_when_told() {
    let file = pluck();
    let choice = format!("wav:{}", file.display()).parse().expect("a choice");
    let (mut ear, mut from) = Ear::new(choice);
    assert_eq!(ear.status().borrow().state, EarState::Waiting);
    assert!(!ear.calibrate(), "nothing is open yet");
    ear.tune(tuning());
    assert_eq!(ear.status().borrow().state, EarState::Opening);
    until(
        &mut ear,
        &mut from,
        |_, heard| matches!(heard, Some(Listened::Note(HeardNote::Pluck { pitch, .. })) if pitch.midi() == 60),
    )
    .await;
    assert!(ear.is_listening());
    let status = ear.status();
    let last = status.borrow().last.map(|(last, _)| last);
    assert!(matches!(last, Some(LastHeard::Pluck { pitch, .. }) if pitch.midi() == 60));

    assert!(ear.listen(false));
    assert_eq!(status.borrow().state, EarState::Off);
    assert_eq!(status.borrow().last, None);
    // What was on its way is dropped.
    while let Ok(late) = from.try_recv() {
        assert_eq!(ear.take(late), None);
    }
    assert!(ear.listen(true));
    until(&mut ear, &mut from, |ear, _| ear.is_listening()).await;
    let _ = std::fs::remove_file(file);
}

#[tokio::test]
async fn a_microphone_that_cannot_be_opened_is_told_and_tried_again() {
    let choice = "wav:/dev/null/nowhere.wav".parse().expect("a choice");
    let (mut ear, mut from) = Ear::new(choice);
    ear.tune(tuning());
    let lost = |ear: &Ear| matches!(ear.status().borrow().state, EarState::Lost(_));
    until(&mut ear, &mut from, |ear, _| lost(ear)).await;
    let again = ear.next_deadline().expect("it is tried again");
    ear.handle_timeout(again - Duration::from_millis(1));
    assert_eq!(ear.next_deadline(), Some(again), "not before its time");
    ear.handle_timeout(again);
    // The trouble stands until the microphone is open.
    assert!(lost(&ear));
    assert_eq!(ear.next_deadline(), None);
    until(&mut ear, &mut from, |ear, _| ear.next_deadline().is_some()).await;
    assert!(ear.listen(false));
    assert_eq!(ear.next_deadline(), None, "nobody wants it");
}

#[tokio::test]
async fn without_a_microphone_there_is_nothing_to_turn_on() {
    let (mut ear, _from) = Ear::new(InputChoice::none());
    ear.tune(tuning());
    assert!(!ear.listen(true));
    assert!(ear.listen(false));
    assert!(!ear.calibrate());
    assert_eq!(ear.status().borrow().state, EarState::Off);
}
