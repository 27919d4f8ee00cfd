use fifthpeg_fixture::class::Class;
use fifthpeg_lesson::message::Mode;

use fifthpeg_lesson::view::CallStage;

use super::*;

/// What the terminal of a friend shows who called a note and revealed it.
fn own_call(revealed: bool) -> TerminalView {
    let mut friends = Class::with(&["Mia"], |setup| setup.rules.mode = Mode::Friends);
    friends.student(0, StudentOrder::Pick(None));
    if revealed {
        friends.student(0, StudentOrder::CallerReveal);
    }
    friends.students[0].1.view(friends.now)
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
