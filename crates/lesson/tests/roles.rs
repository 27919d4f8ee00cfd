//! Who may say what: a real lesson does as the table says, for every role and
//! every message that reaches a lesson. The rows of the door are tried over
//! sockets.

use std::time::Duration;

use fifthpeg_fixture::script::{ScriptStep, aimed, lesson_setup, script};
use fifthpeg_fixture::{Room, at, friends, setup};
use fifthpeg_lesson::message::{
    AnswerNotice, CallId, FromStudent, Mode, Refusal, SeatKey, Source, StudentId, ToStudent,
};
use fifthpeg_lesson::roles::{May, Role, Said, TABLE, host_may, may};
use fifthpeg_lesson::setup::{HostOrder, Picking};
use fifthpeg_lesson::{Lesson, Moment};
use fifthpeg_vocab::Setting;
use proptest::prelude::*;

/// Whose call is there when the message comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum There {
    Nothing,
    Own,
    Others,
}

/// A message of this kind about this call; `None` for those of the door.
fn message(said: Said, call: CallId) -> Option<FromStudent> {
    let source = Source::Screen;
    Some(match said {
        Said::Join | Said::ClockAsk | Said::KeyAnswer | Said::Watch => return None,
        Said::Sounded => FromStudent::Sounded { call },
        Said::Hearing => FromStudent::Hearing { call },
        Said::Try => {
            let at = at("2/0");
            FromStudent::Try { call, at, source }
        }
        Said::Sung => FromStudent::Sung {
            call,
            frequency_hz: 220.0,
            spread_cents: 5.0,
        },
        Said::Answer => FromStudent::Answer(AnswerNotice {
            call,
            serial: 1,
            answer: at("2/0"),
            source,
            response: None,
            uncertainty: Duration::ZERO,
        }),
        Said::Pick => FromStudent::Pick { at: None },
        Said::CallerHearAgain => FromStudent::CallerHearAgain { call },
        Said::CallerReveal => FromStudent::CallerReveal { call },
        Said::CallerClose => FromStudent::CallerClose { call },
        Said::NotSounded => FromStudent::NotSounded { call },
        Said::Leave => FromStudent::Leave,
    })
}

/// A lesson in which the student returned has that role, with such a call;
/// `None` where that cannot be.
fn room(role: Role, there: There) -> Option<(Room, StudentId)> {
    let names = ["Mia", "Ivo", "Ruth"];
    let in_friends = |room: &mut Room, caller: StudentId| {
        assert_eq!(room.say(caller, FromStudent::Pick { at: None }), Ok(()));
    };
    Some(match (role, there) {
        (Role::AtDoor, _) | (Role::InClass, There::Own) => return None,
        (Role::InClass, there) => {
            let (mut room, ids) = Room::with(setup(), &names);
            if there == There::Others {
                room.order(HostOrder::CallRandom);
            }
            (room, ids[0])
        }
        (Role::Out, there) => {
            let (mut room, ids) = Room::with(friends(), &names);
            if there != There::Nothing {
                in_friends(&mut room, ids[0]);
            }
            // Taken out while their own call is open, or somebody else's.
            let out = ids[usize::from(there == There::Others)];
            room.order(HostOrder::Remove(out));
            (room, out)
        }
        (Role::OnTurn, there) => {
            let (mut room, ids) = Room::with(friends(), &names);
            match there {
                There::Nothing => (room, ids[0]),
                There::Own => {
                    in_friends(&mut room, ids[0]);
                    (room, ids[0])
                }
                There::Others => {
                    // Revealed, so that the turn has passed on.
                    in_friends(&mut room, ids[0]);
                    let call = room.call().id;
                    let reveal = FromStudent::CallerReveal { call };
                    assert_eq!(room.say(ids[0], reveal), Ok(()));
                    (room, ids[1])
                }
            }
        }
        (Role::OffTurn, there) => {
            let (mut room, ids) = Room::with(friends(), &names);
            match there {
                There::Nothing => (room, ids[1]),
                There::Others => {
                    in_friends(&mut room, ids[0]);
                    (room, ids[1])
                }
                There::Own => {
                    in_friends(&mut room, ids[0]);
                    let call = room.call().id;
                    let reveal = FromStudent::CallerReveal { call };
                    assert_eq!(room.say(ids[0], reveal), Ok(()));
                    (room, ids[0])
                }
            }
        }
    })
}

#[test]
fn a_lesson_does_as_the_table_says() {
    let mut tried = 0;
    for (said, cells) in TABLE {
        for (role, may) in Role::ALL.into_iter().zip(cells) {
            for there in [There::Nothing, There::Own, There::Others] {
                let Some((mut room, id)) = room(role, there) else {
                    continue;
                };
                assert_eq!(room.lesson.role(id), role, "{there:?}");
                let call = room.view().call.map_or(CallId(7), |c| c.id);
                let Some(message) = message(said, call) else {
                    continue;
                };
                tried += 1;
                let which = format!("{said:?} {role:?} {there:?}");
                let before = room.view();
                room.events.clear();
                room.inboxes.clear();
                let answered = match &message {
                    FromStudent::Answer(notice) => Some((notice.call, notice.serial)),
                    _ => None,
                };
                let done = room.say(id, message);
                let by_role = [
                    Refusal::HostOnly,
                    Refusal::NotYourTurn,
                    Refusal::CallerAnswers,
                    Refusal::NoStudent,
                ];
                let wanted = match (may, there) {
                    (May::HostOnly, _) => Some(Refusal::HostOnly),
                    (May::NotYourTurn, _) => Some(Refusal::NotYourTurn),
                    (May::Unheard | May::HungUp, _) => Some(Refusal::NoStudent),
                    (May::OfOwn, There::Others) => Some(Refusal::NotYourTurn),
                    // Of a call that is shown they hear that it is too late.
                    (May::OfOthers, There::Own) if role == Role::OnTurn => {
                        Some(Refusal::CallerAnswers)
                    }
                    _ => None,
                };
                let Some(wanted) = wanted else {
                    assert!(done.err().is_none_or(|r| !by_role.contains(&r)), "{which}");
                    continue;
                };
                assert_eq!(done, Err(wanted.clone()), "{which}");
                // Nothing has changed, and nobody else is told anything.
                assert_eq!(room.view(), before, "{which}");
                assert!(room.events.is_empty(), "{which}: {:?}", room.events);
                let told: Vec<_> = room.inboxes.into_iter().collect();
                let refused = match answered {
                    Some((call, serial)) => ToStudent::AnswerRefused {
                        call,
                        serial,
                        why: wanted,
                    },
                    None => ToStudent::Refused(wanted),
                };
                match may {
                    May::Unheard => assert_eq!(told, [], "{which}"),
                    _ => assert_eq!(told, [(id, vec![refused])], "{which}"),
                }
            }
        }
    }
    // 11 kinds of message; 2 + 3 + 3 + 3 ways to be there.
    assert_eq!(tried, 121);
}

#[test]
fn the_table_has_each_kind_once_and_no_student_may_call_in_a_class() {
    for (said, cells) in TABLE {
        assert_eq!(TABLE.iter().filter(|(kind, _)| *kind == said).count(), 1);
        for (role, cell) in Role::ALL.into_iter().zip(cells) {
            assert_eq!(may(role, said), cell);
        }
        assert_eq!(may(Role::Out, said), May::Unheard);
    }
    for calls in [
        Said::Pick,
        Said::CallerHearAgain,
        Said::CallerReveal,
        Said::CallerClose,
    ] {
        assert_eq!(may(Role::InClass, calls), May::HostOnly);
    }
}

#[test]
fn the_host_calls_in_a_class_and_not_among_friends() {
    let orders = [
        HostOrder::CallRandom,
        HostOrder::CallAt(at("2/0")),
        HostOrder::CallPlayed(fifthpeg_fixture::pitch(59)),
        HostOrder::HearAgain,
        HostOrder::Reveal,
        HostOrder::Close,
        HostOrder::PassTurn,
        HostOrder::Set(Setting::SingFirst(true)),
        HostOrder::KnownAs {
            student: StudentId(1),
            name: "Mia".to_owned(),
            person: None,
        },
        HostOrder::Remove(StudentId(1)),
        HostOrder::End,
    ];
    for mode in [Mode::Class, Mode::Friends] {
        for order in &orders {
            let in_mode = if mode == Mode::Class {
                setup()
            } else {
                friends()
            };
            let (mut room, _) = Room::with(in_mode, &["Mia", "Ivo"]);
            let calls = matches!(
                order,
                HostOrder::CallRandom | HostOrder::CallAt(_) | HostOrder::CallPlayed(_)
            );
            let may = host_may(order, mode);
            assert_eq!(may.is_err(), calls && mode == Mode::Friends, "{order:?}");
            let done = room.host(order.clone());
            match may {
                Err(refusal) => assert_eq!(done, Err(refusal)),
                Ok(()) => assert_ne!(done, Err(Refusal::NotYourTurn), "{order:?}"),
            }
        }
    }
}

/// What one student is told in a class when another says these things, or says
/// nothing.
fn told_to(
    student: StudentId,
    steps: &[(u64, ScriptStep)],
    silent: Option<StudentId>,
) -> Vec<ToStudent> {
    let mut setup = lesson_setup(Mode::Class);
    setup.max_students = 50;
    let mut now = Moment::from_micros(5);
    let mut lesson = Lesson::new(setup, now).expect("a lesson");
    let mut told = Vec::new();
    let mut key = 0;
    for (pause_ms, input) in steps {
        now = now + Duration::from_millis(*pause_ms);
        match input.clone() {
            ScriptStep::Join(name, place) => {
                key += 1;
                let _ = lesson.handle_join(&name, place.map(SeatKey), SeatKey(key), now);
            }
            ScriptStep::Lose(id) => lesson.handle_disconnect(id, now),
            ScriptStep::Say(id, message) => {
                let last = lesson.view().call.map_or(CallId(0), |c| c.id);
                let message = aimed(message, last);
                // A hearing may sound in the room, and who leaves makes room.
                let shared = matches!(message, FromStudent::Hearing { .. } | FromStudent::Leave);
                if Some(id) != silent || shared {
                    let _ = lesson.handle_message(id, message, now);
                }
            }
            // What others do may decide which note comes next.
            ScriptStep::Host(HostOrder::Set(Setting::Picking(Picking::Teaching))) => {}
            // Whoever is known to be another has that one's record: it is their own.
            ScriptStep::Host(HostOrder::KnownAs { .. }) => {}
            ScriptStep::Host(order) => {
                let _ = lesson.handle_host(order, now);
            }
            ScriptStep::TimeOut => lesson.handle_timeout(now),
            ScriptStep::Learning(..) | ScriptStep::Key(..) => {}
        }
        while lesson.poll_event().is_some() {}
        while let Some((to, message)) = lesson.poll_message() {
            if to == student {
                told.push(message);
            }
        }
    }
    told
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    /// In a class, nothing a student is told depends on what another tried,
    /// sang or answered: so no message holds another's record.
    #[test]
    fn nobody_is_told_of_anothers_record(steps in script()) {
        let (one, other) = (StudentId(1), StudentId(2));
        let with = told_to(one, &steps, None);
        let without = told_to(one, &steps, Some(other));
        prop_assert_eq!(with, without);
    }
}
