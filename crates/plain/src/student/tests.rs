use fifthpeg_core::Neck;
use fifthpeg_lesson::message::{Mode, SeatKey};
use fifthpeg_lesson::terminal::Terminal;
use fifthpeg_lesson::{Lesson, LessonSetup, Moment};

use super::*;

/// What the terminal of a friend shows who called a note and revealed it.
fn own_call(revealed: bool) -> TerminalView {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    let mut setup = LessonSetup::new("Thursday", &neck);
    setup.rules.mode = Mode::Friends;
    let now = Moment::from_micros(1_000_000);
    let mut lesson = Lesson::new(setup, now).expect("a lesson");
    let mia = lesson.handle_join("Mia", None, SeatKey(1), now);
    let mia = mia.expect("let in");
    let mut terminal = Terminal::new();
    terminal.handle_connected(now);
    let orders = [StudentOrder::Pick(None), StudentOrder::CallerReveal];
    for order in orders.into_iter().take(if revealed { 2 } else { 1 }) {
        settle(&mut lesson, mia, &mut terminal, now);
        terminal.handle_order(order, now).expect("granted");
    }
    settle(&mut lesson, mia, &mut terminal, now);
    terminal.view(now)
}

fn settle(
    lesson: &mut Lesson,
    student: fifthpeg_lesson::message::StudentId,
    terminal: &mut Terminal,
    now: Moment,
) {
    while let Some(message) = terminal.poll_message() {
        let _ = lesson.handle_message(student, message, now);
    }
    while let Some((_, message)) = lesson.poll_message() {
        terminal.handle_message(message, now);
    }
}

#[test]
fn a_call_that_was_found_before_anyone_looked_is_not_waited_for_in_vain() {
    let open = own_call(false);
    let over = own_call(true);
    assert_eq!(number_of_call(&open), 1);
    let stage = over.call.as_ref().map(|call| call.stage);
    assert_eq!(stage, Some(CallStage::Revealed));
    let began_before = KnownCalls::default();
    let began_after = KnownCalls {
        over_before: 1,
        ..began_before
    };
    let waited_already = KnownCalls {
        waited_for: 1,
        ..began_before
    };
    for (known, wanted_open, wanted_over) in [
        (began_before, true, true),
        (began_after, true, false),
        (waited_already, false, false),
    ] {
        assert_eq!(holds(StudentWait::Call, &open, known), wanted_open);
        assert_eq!(holds(StudentWait::Call, &over, known), wanted_over);
    }
}
