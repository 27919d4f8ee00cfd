//! The page for a projector: no student, and shown only what may stand on a wall.

use fifthpeg_lesson::message::{Hall, HallCall, Progress, Refusal, StudentId, ToStudent};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::view::{CallStage, LessonView};
use fifthpeg_link::channel::{Incoming, Receiver, Sender};
use fifthpeg_link::rate::Rate;
use fifthpeg_link::secure::Stream;
use fifthpeg_wire::{ClientFrame, HostFrame};
use tokio::time::{Instant, sleep, sleep_until};

use crate::Notice;
use crate::entering::answer_clock;
use crate::shared::Shared;
use crate::writing::{encoded, goodbye, write};

/// What is shown of a lesson, where these have found a note and were not told so yet.
fn shown(view: &LessonView, untold: &[StudentId]) -> Hall {
    let here = view.students.iter().filter(|student| student.connected);
    let progress = || {
        view.students.iter().filter_map(|s| {
            let how = match s.progress? {
                Progress::Found if untold.contains(&s.id) => Progress::Searching,
                how => how,
            };
            Some((s, how))
        })
    };
    let count = |of: usize| u32::try_from(of).unwrap_or(u32::MAX);
    let call = view.call.as_ref().map(|call| {
        // Whatever the host's own screen shows of it meanwhile.
        let told = call.revealed;
        HallCall {
            number: call.id.0,
            open: call.stage == CallStage::Open,
            found: count(
                progress()
                    .filter(|(_, how)| *how == Progress::Found)
                    .count(),
            ),
            of: count(progress().count()),
            note: told.then_some(call.pitch),
            places: if told {
                call.places.clone()
            } else {
                Vec::new()
            },
        }
    });
    let names = progress().map(|(student, how)| (student.name.clone(), how));
    Hall {
        here: count(here.count()),
        call,
        names: match view.rules.hall_names {
            true => names.collect(),
            false => Vec::new(),
        },
        rules: view.rules.clone(),
    }
}

/// Shows the lesson over a connection that has come in, until one of the two ends.
pub(crate) async fn show(
    shared: &Shared,
    mut sender: Sender<Stream, HostFrame>,
    mut receiver: Receiver<Stream, ClientFrame>,
) {
    let limits = &shared.limits;
    let Ok(_room) = shared.halls.try_acquire() else {
        let limit = limits.halls;
        shared.tell(Notice::HallsFull { limit });
        let full = Refusal::HallsFull(u32::try_from(limit).unwrap_or(u32::MAX));
        return say_last(shared, sender, receiver, ToStudent::Refused(full)).await;
    };
    let (mut view, mut untold) = (shared.view.clone(), shared.untold.clone());
    view.mark_changed();
    let mut said = None;
    let mut rate = Rate::new(limits.frames_per_second, limits.burst, Instant::now());
    let mut silent_at = Instant::now() + limits.silence;
    loop {
        tokio::select! {
            changed = async {
                tokio::select! {
                    changed = view.changed() => changed,
                    changed = untold.changed() => changed,
                }
            } => {
                let (now, ended) = {
                    let (view, untold) = (view.borrow_and_update(), untold.borrow_and_update());
                    (shown(&view, &untold), view.ended)
                };
                if said.as_ref() != Some(&now) {
                    let Ok(bytes) = encoded(&HostFrame::Hall(Box::new(now.clone()))) else { return };
                    if write(&mut sender, limits, bytes).await.is_err() {
                        return;
                    }
                    said = Some(now);
                }
                if ended || changed.is_err() {
                    // As to a student who has done nothing.
                    let over = ToStudent::Ended { tally: Tally::default(), removed: false };
                    return say_last(shared, sender, receiver, over).await;
                }
            }
            heard = receiver.hear() => {
                let now = shared.clock.now();
                match heard {
                    Ok(Some(Incoming::Ping)) => {}
                    Ok(Some(Incoming::Frame(ClientFrame::ClockAsk { t1 }))) => {
                        silent_at = Instant::now() + limits.silence;
                        if answer_clock(&mut sender, shared, t1, now).await.is_err() {
                            return;
                        }
                    }
                    _ => return,
                }
                sleep(rate.count(Instant::now())).await;
            }
            () = sleep_until(silent_at) => return,
        }
    }
}

/// Says one more thing, and hangs up.
async fn say_last(
    shared: &Shared,
    mut sender: Sender<Stream, HostFrame>,
    receiver: Receiver<Stream, ClientFrame>,
    last: ToStudent,
) {
    if let Ok(bytes) = encoded(&HostFrame::Lesson(last)) {
        let _ = write(&mut sender, &shared.limits, bytes).await;
    }
    goodbye(&mut sender, receiver).await;
}

#[cfg(test)]
mod tests {
    use fifthpeg_fixture::{Room, at, setup};
    use fifthpeg_lesson::HostOrder;

    use super::*;

    /// The wall while a call is open and once it is revealed.
    fn wall(names: bool) -> [Hall; 2] {
        let mut setup = setup();
        setup.rules.hall_names = names;
        let (mut room, _) = Room::with(setup, &["Mette", "Jonas"]);
        let mut seen = |order| {
            room.lesson.handle_host(order, room.now).expect("granted");
            shown(&room.lesson.view(), &[])
        };
        [seen(HostOrder::CallAt(at("1/4"))), seen(HostOrder::Reveal)]
    }

    #[test]
    fn the_wall_has_no_note_before_the_reveal_and_no_name_unless_the_host_says_so() {
        let [open, revealed] = wall(false);
        let call = open.call.expect("a call");
        assert!(call.open && call.note.is_none() && call.places.is_empty());
        assert!(open.names.is_empty() && revealed.names.is_empty());
        let call = revealed.call.expect("a call");
        assert_eq!(call.note.map(|note| note.midi()), Some(66));
        assert!(!call.places.is_empty());
        let [open, ..] = wall(true);
        let names: Vec<_> = open.names.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!(names, ["Mette", "Jonas"]);
    }

    #[test]
    fn a_call_closed_without_a_reveal_is_never_named() {
        let (mut room, _) = Room::with(setup(), &["Mette", "Jonas"]);
        for order in [HostOrder::CallAt(at("1/4")), HostOrder::Close] {
            room.lesson.handle_host(order, room.now).expect("granted");
        }
        let note = shown(&room.view(), &[]).call.and_then(|call| call.note);
        assert_eq!(note, None);
    }

    #[test]
    fn a_note_that_was_shown_stays_until_the_next_call() {
        let (mut room, _) = Room::with(setup(), &["Mette", "Jonas"]);
        let mut noted = |order| {
            room.order(order);
            let call = shown(&room.view(), &[]).call.expect("a call");
            (call.note.map(|note| note.midi()), !call.places.is_empty())
        };
        assert_eq!(noted(HostOrder::CallAt(at("1/4"))), (None, false));
        for order in [HostOrder::Reveal, HostOrder::Close] {
            assert_eq!(noted(order), (Some(66), true));
        }
        assert_eq!(noted(HostOrder::CallAt(at("2/1"))), (None, false));
    }

    #[test]
    fn who_was_not_told_yet_is_not_shown_to_have_found_it() {
        let mut setup = setup();
        setup.rules.hall_names = true;
        let (mut room, ids) = Room::with(setup, &["Mette", "Jonas"]);
        room.order(HostOrder::CallAt(at("1/4")));
        room.answer(ids[0], at("1/4")).expect("a mark");
        let found = |untold: &[StudentId]| {
            let hall = shown(&room.view(), untold);
            let names = hall.names.iter();
            let named = names.filter(|(_, how)| *how == Progress::Found).count();
            (hall.call.expect("a call").found, named)
        };
        assert_eq!(found(&[]), (1, 1));
        assert_eq!(found(&ids), (0, 0));
    }
}
