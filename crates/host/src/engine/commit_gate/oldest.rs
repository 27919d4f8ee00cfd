//! The moment since when the oldest waits is kept and not looked for. Whatever
//! happens, it is the earliest of all that waits.

use core::time::Duration;

use fifthpeg_book::BatchNumber;
use fifthpeg_lesson::message::{CallId, StudentId, ToStudent};
use fifthpeg_lesson::{Moment, tally::Tally};
use proptest::prelude::*;

use super::tests::{called, marked, refused, reveal};
use super::{CommitGate, Out};

#[derive(Debug, Clone)]
enum Step {
    /// Something is for a student, of the batch so many after the last.
    Put(u32, u8, u64),
    /// All but so many batches are stored.
    Stored(u64),
    GoAhead,
    LetGo,
    Forget(u32),
    /// So many microseconds pass.
    Pass(u64),
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        6 => (0..4_u32, 0..7_u8, 0..3_u64).prop_map(|(who, what, n)| Step::Put(who, what, n)),
        2 => (0..4_u64).prop_map(Step::Stored),
        1 => Just(Step::GoAhead),
        1 => Just(Step::LetGo),
        2 => (0..4_u32).prop_map(Step::Forget),
        3 => (0..1000_u64).prop_map(Step::Pass),
    ]
}

/// One of each kind that is treated in a way of its own.
fn out(what: u8, call: u32) -> Out {
    match what {
        0 => marked(call, 1),
        1 => called(call, 0),
        2 => called(call, 2),
        3 => refused(call),
        4 => reveal(call, &[1]),
        5 => Out::Message(ToStudent::Closed {
            call: CallId(call),
            tally: Tally::default(),
        }),
        _ => Out::Leave,
    }
}

proptest! {
    #[test]
    fn it_is_the_earliest_of_all_that_waits(steps in prop::collection::vec(step(), 0..120)) {
        let mut commit_gate = CommitGate::default();
        let mut now = Moment::from_micros(1);
        let mut last = 0;
        for (n, step) in steps.into_iter().enumerate() {
            match step {
                Step::Put(who, what, further) => {
                    last += further;
                    // Calls are made one after the other.
                    let call = 1 + n as u32 / 8;
                    let _ = commit_gate.put(StudentId(who), out(what, call), Some(BatchNumber(last)), now);
                }
                Step::Stored(but) => drop(commit_gate.stored(BatchNumber(last.saturating_sub(but)))),
                Step::GoAhead => drop(commit_gate.go_ahead()),
                Step::LetGo => drop(commit_gate.let_go()),
                Step::Forget(who) => commit_gate.forget(StudentId(who)),
                Step::Pass(us) => now = now + Duration::from_micros(us),
            }
            let all = commit_gate.waiting.values().flatten().map(|held| held.since);
            prop_assert_eq!(commit_gate.oldest, all.min());
            prop_assert!(commit_gate.waiting.values().all(|queue| !queue.is_empty()));
            let told = commit_gate.waits_since();
            prop_assert!(told.is_none() || (told == commit_gate.oldest && !commit_gate.ahead));
        }
    }
}
