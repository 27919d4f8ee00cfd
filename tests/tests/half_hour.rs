//! Half an hour of a class, held with the pedal alone: five students, of whom one is
//! stuck, one silent, one too fast, and one leaves and comes back. The screen, the
//! lesson and its book are the program's own; time is virtual. The record of it in
//! the manual is how the report begins that the program makes of that book. To make it anew:
//! `FIFTHPEG_WRITE_PAGES=1 cargo test -p fifthpeg-tests --test half_hour`.

#[path = "half_hour/class.rs"]
mod class;

use std::process::Command;
use std::time::Duration;

use class::{Class, STEP};
use fifthpeg_book::{Reader, Whose};
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::learning::help::Need;
use fifthpeg_lesson::message::{Answer, CallId, FromStudent, Progress, Source};
use fifthpeg_lesson::view::{CallStage, CallView};
use fifthpeg_screen::keys::{PAGE_DOWN, PAGE_UP};
use fifthpeg_tests::program::{program, temporary};

const NAMES: [&str; 5] = ["Mette", "Jonas", "Ole", "Åse", "Tove"];
const METTE: usize = 0;
const JONAS: usize = 1;
const OLE: usize = 2;
const ASE: usize = 3;
const TOVE: usize = 4;
const HALF_HOUR: Duration = Duration::from_secs(30 * 60);

/// What each does with a call, at so many milliseconds after its tone.
fn doing(class: &Class, call: &CallView, n: u32) -> Vec<(u64, usize, Doing)> {
    let right = call.places[0];
    let step = |k: u32| class.places[((n * 7 + k * 3) as usize) % class.places.len()];
    // The k-th place that is wrong.
    let wrong = |k: u32| {
        let mut places = (k..).map(step).filter(|place| !call.places.contains(place));
        places.next().expect("more than one note")
    };
    let n64 = u64::from(n);
    let mut doing: Vec<(u64, usize, Doing)> = Vec::new();
    let answers = |who: usize, at: u64, place| (at, who, Doing::Answer(place));
    // Mette finds most at once; Tove most after one miss.
    if n % 4 == 3 {
        doing.push(answers(METTE, 7_000, wrong(1)));
    }
    doing.push(answers(METTE, 8_500 + n64 * 1_300 % 7_000, right));
    if !n.is_multiple_of(3) {
        doing.push(answers(TOVE, 9_000, wrong(2)));
    }
    doing.push(answers(TOVE, 14_000 + n64 * 1_700 % 9_000, right));
    // Åse answers before she has listened, and goes on until something is right.
    let rush = if n % 5 == 2 { 10 } else { n % 4 };
    for k in 0..u64::from(rush) {
        doing.push(answers(ASE, 1_000 + 450 * k, wrong(k as u32)));
    }
    doing.push(answers(ASE, 1_200 + 450 * u64::from(rush), right));
    // Jonas tries and misses, and finds one in six.
    for k in 0..4 {
        let place = wrong(k + 3);
        doing.push((6_000 + 9_000 * u64::from(k), JONAS, Doing::Try(place)));
        doing.push(answers(JONAS, 10_000 + 9_000 * u64::from(k), place));
    }
    if n % 6 == 5 {
        doing.push(answers(JONAS, 45_000, right));
    }
    // Ole's phone sounds, and nothing comes from him.
    doing
}

enum Doing {
    Try(fifthpeg_core::Position),
    Answer(fifthpeg_core::Position),
}

/// What was seen on the screen meanwhile.
#[derive(Default)]
struct Seen {
    silent: bool,
    stuck_or_far: bool,
    ten_wrong: bool,
    away: bool,
    back: bool,
    lapsed: bool,
    bounced: bool,
}

impl Seen {
    fn look(&mut self, class: &Class) {
        for (student, glance) in class.screen.roster() {
            let need = glance.map_or(Need::Well, |glance| glance.need());
            let is = |seat: usize| student.id == class.seats[seat].student;
            self.silent |= is(OLE) && need == Need::Silent;
            self.stuck_or_far |= is(JONAS) && matches!(need, Need::Stuck | Need::FarOff);
            let wrong = student
                .answers
                .iter()
                .filter(|a| !a.mark.is_right())
                .count();
            self.ten_wrong |= is(ASE) && wrong >= 10;
            self.away |= is(TOVE) && !student.connected;
            self.back |= self.away && is(TOVE) && student.connected;
        }
    }
}

/// The teacher's foot goes by what the corner of the screen says, and by a watch.
fn foot(class: &mut Class, seen: &mut Seen, since_call: Duration, since_shown: Duration) {
    let s = Duration::from_secs;
    let calls = class
        .ordered
        .iter()
        .filter(|o| **o == HostOrder::CallRandom)
        .count();
    let says = class.screen.pedal_says();
    match says.as_str() {
        "Pedal: call a note" if since_shown >= s(14) => {
            assert!(class.press(PAGE_DOWN), "no call");
            // A foot that bounces.
            seen.bounced |= !class.press(PAGE_DOWN);
        }
        "Pedal: reveal?" if since_call == s(30) => assert!(class.press(PAGE_UP), "not again"),
        // Once, somebody puts the foot down by mistake, and leaves it at that.
        "Pedal: reveal?" if since_call == s(40) && calls == 5 => {
            assert!(!class.press(PAGE_DOWN), "revealed at the first press");
        }
        "Pedal: reveal?" if since_call == s(46) && calls == 5 => seen.lapsed = true,
        "Pedal: reveal?" if since_call >= s(58) => {
            assert!(!class.press(PAGE_DOWN), "revealed at the first press");
            assert!(class.screen.pedal_question().is_some());
        }
        "Pedal: yes, reveal" if since_call >= s(60) => assert!(class.press(PAGE_DOWN), "not shown"),
        _ => {}
    }
}

#[test]
fn half_an_hour_goes_by_the_pedal_alone_and_its_record_is_the_manuals() {
    let folder = temporary("half-hour");
    let book = folder.join("lessons.book");
    let mut class = Class::begin(&book, &NAMES);
    let mut seen = Seen::default();
    let mut plan: Vec<(u64, usize, Doing)> = Vec::new();
    let mut known: Option<CallId> = None;
    let mut shown_at = class.now;
    let began = class.now;
    while class.now.since(began) < HALF_HOUR {
        class.step();
        let minute = class.now.since(began).as_secs() / 60;
        if minute == 10 {
            class.lose(TOVE);
        } else if minute == 17
            && !class
                .engine
                .lesson()
                .connected()
                .contains(&class.seats[TOVE].student)
        {
            class.come_back(TOVE, "Tove");
        }
        let view = class.engine.lesson().view();
        if let Some(call) = view.call.clone() {
            if known != Some(call.id) {
                known = Some(call.id);
                plan = doing(&class, &call, call.id.0);
                for seat in 0..NAMES.len() {
                    class.seats[seat].serial = 0;
                    class.say(seat, FromStudent::Sounded { call: call.id });
                }
            }
            if call.stage == CallStage::Open {
                take(&mut class, &call, &mut plan);
                shown_at = class.now;
            }
        }
        let since_call = view
            .call
            .map_or(Duration::ZERO, |call| class.now.since(call.start));
        let since_call = Duration::from_millis(since_call.as_millis() as u64 / 250 * 250);
        let since_shown = class.now.since(shown_at);
        foot(&mut class, &mut seen, since_call, since_shown);
        seen.look(&class);
        assert!(
            STEP < Duration::from_millis(300),
            "the foot is looked at often enough"
        );
    }
    assert!(
        seen.silent && seen.stuck_or_far && seen.ten_wrong,
        "the list says who needs help"
    );
    assert!(seen.away && seen.back, "who leaves comes back");
    assert!(
        seen.lapsed && seen.bounced,
        "a press by mistake does nothing"
    );
    let calls = class
        .ordered
        .iter()
        .filter(|o| **o == HostOrder::CallRandom)
        .count();
    assert!((20..=30).contains(&calls), "{calls} calls");
    let by_pedal = [
        HostOrder::CallRandom,
        HostOrder::HearAgain,
        HostOrder::Reveal,
    ];
    assert!(class.ordered.iter().all(|order| by_pedal.contains(order)));
    let sent = class.answers;
    class.end();
    let reader = Reader::open(&book).expect("the book");
    let rows = reader
        .calls(Whose::Class("Thursday class"))
        .expect("its calls");
    let held: usize = rows.iter().map(|call| call.answers.len()).sum();
    assert_eq!(held, sent, "each answer is in the book once");
    let report = Command::new(program())
        .args(["report", "--book"])
        .arg(&book)
        .env("TZ", "UTC")
        .output()
        .expect("the report runs");
    assert!(report.status.success(), "{report:?}");
    std::fs::remove_dir_all(&folder).expect("removed");
    let record = String::from_utf8(report.stdout).expect("text");
    hold_against_manual(&record);
}

/// What is due is done, by whoever is there and has not found it.
fn take(class: &mut Class, call: &CallView, plan: &mut Vec<(u64, usize, Doing)>) {
    let passed = class.now.since(call.start).as_millis() as u64;
    let (due, later) = plan
        .drain(..)
        .partition::<Vec<_>, _>(|(at, ..)| *at <= passed);
    *plan = later;
    for (_, seat, what) in due {
        let student = class.seats[seat].student;
        let view = class.engine.lesson().view();
        let found = view
            .students
            .iter()
            .any(|s| s.id == student && (!s.connected || s.progress == Some(Progress::Found)));
        match what {
            _ if found => {}
            Doing::Answer(place) => class.answer(seat, call, place),
            Doing::Try(place) => {
                let at = Answer::Place(place);
                let source = Source::Screen;
                class.say(
                    seat,
                    FromStudent::Try {
                        call: call.id,
                        at,
                        source,
                    },
                );
            }
        }
    }
}

fn hold_against_manual(record: &str) {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/manual.md");
    let stored = std::fs::read_to_string(path).expect("the manual");
    let begins = "<!-- record: half an hour by the pedal -->\n```text\n";
    let from = stored.find(begins).expect("the manual shows the record") + begins.len();
    let to = stored[from..].find("```").expect("its end") + from;
    let mut page = stored.clone();
    // The tables of notes and of wrong answers are long.
    let (begins, _) = record
        .split_once("\nNotes on the neck")
        .expect("its tables");
    page.replace_range(from..to, &format!("{}\n", begins.trim_end()));
    if std::env::var_os("FIFTHPEG_WRITE_PAGES").is_some() {
        std::fs::write(path, &page).expect("written");
    } else {
        assert!(
            page == stored,
            "the manual's record is out of date: run FIFTHPEG_WRITE_PAGES=1 cargo test \
             -p fifthpeg-tests --test half_hour"
        );
    }
}
