//! The table of all limits that a host sets, made from the figures that the code
//! itself reads; `docs/limits.md` is made from it.

use core::time::Duration;

use fifthpeg_core::text::{MAX_LETTER_CODE_POINTS, MAX_MARKS};
use fifthpeg_lesson::calling::HOST_SOUND_GAP;
use fifthpeg_lesson::outbox::MAX_WAITING;
use fifthpeg_lesson::past::PAST_ANSWERS;
use fifthpeg_lesson::roles::MAX_TAKEN_OUT;
use fifthpeg_lesson::setup::{DEFAULT_MAX_ANSWERS, DEFAULT_MAX_STUDENTS, MAX_NAME_CHARS};
use fifthpeg_lesson::singing::MAX_SUNG;
use fifthpeg_link::channel::{READ_BUFFER_BYTES, WRITE_BUFFER_BYTES};
use fifthpeg_lock::{GuessLimits, LineLimits};
use fifthpeg_wire::{Bound as _, HostFrameBytes, LIMITS};

use super::Counter;
use crate::admission::MOST_KNOWN;
use crate::engine::{ANSWERS_BEYOND, MESSAGES_PER_CALL, MOST_HELD};
use crate::handshake_queue::AT_ONCE;
use crate::running::{EVENTS, INBOUND, ORDERS};
use crate::{HostConfig, Limits};

/// Bytes that one student's connection may hold on the host: what is being read
/// and written, and a full queue. A message that waits is mostly a few dozen
/// bytes; rules are the largest.
pub const PER_CONNECTION_BYTES: usize =
    READ_BUFFER_BYTES + WRITE_BUFFER_BYTES + HostFrameBytes::LIMIT.most + 64 * 1024;

/// One limit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HostLimit {
    /// What is limited.
    pub of: String,
    /// The most that is allowed.
    pub most: u64,
    /// What the most is counted in.
    pub unit: &'static str,
    /// Why there is one, or why it is this much.
    pub why: &'static str,
    /// What the peer or the host is told: the error's or notice's name.
    pub error: &'static str,
    /// What counts it; `None` where meeting it is no sign of anything wrong, or
    /// it is met on a student's machine.
    pub counter: Option<Counter>,
}

/// All limits as they are for a lesson of the usual size.
pub fn bounds(config: &HostConfig) -> Vec<HostLimit> {
    let mut all = doorway(&config.limits);
    all.extend(at_the_lock(&config.limits.guesses));
    all.extend(in_line(&config.limits.line));
    all.extend(in_the_lesson(&config.limits));
    all.extend(names());
    all.extend(frames());
    all
}

fn bound(
    of: &str,
    (most, unit): (u64, &'static str),
    why: &'static str,
    error: &'static str,
    counter: impl Into<Option<Counter>>,
) -> HostLimit {
    HostLimit {
        of: of.to_owned(),
        most,
        unit,
        why,
        error,
        counter: counter.into(),
    }
}

/// A limit that a notice tells of, and that is counted.
fn told(of: &str, most: (u64, &'static str), why: &'static str, counter: Counter) -> HostLimit {
    bound(of, most, why, counter.notice(), counter)
}

const fn ms(time: Duration) -> (u64, &'static str) {
    (time.as_millis() as u64, "ms")
}

const fn n(number: usize) -> (u64, &'static str) {
    (number as u64, "")
}

fn doorway(limits: &Limits) -> Vec<HostLimit> {
    use Counter::{JoinersWait, KeysWait, NotJoined, TooManyConnections, TooManyJoining, TooSoon};
    vec![
        told(
            "connections in all",
            n(limits.connections),
            "twice the students of a lesson, who may come back before their old connections are known to be dead, a full doorway, and a full line",
            TooManyConnections,
        ),
        told(
            "connections that have not joined",
            n(limits.joining),
            "a class joins in a moment; strangers take no more room than this, and wait for it in order",
            JoinersWait,
        ),
        told(
            "of these, from one address",
            n(limits.joining_from_one),
            "one machine cannot keep all others out",
            TooManyJoining,
        ),
        told(
            "of these, from the host's own machine",
            n(limits.joining_from_here),
            "many terminals may run there",
            TooManyJoining,
        ),
        told(
            "connections that wait for room to join, beside all others",
            n(limits.waiting),
            "several classes; they cost little more than a socket, and their time to join runs while they wait",
            JoinersWait,
        ),
        told(
            "connections that have not joined, beside all others, from machines that a student came in from",
            n(limits.joining_known),
            "strangers who fill the door keep nobody from coming back",
            JoinersWait,
        ),
        bound(
            "browsers that are given the page at once, beside all others",
            n(limits.pages),
            "a class that scans the link at once; whoever is later waits a moment",
            "PagesWait",
            None,
        ),
        bound(
            "time to load the page",
            ms(limits.page_within),
            "less than a megabyte, by a slow radio",
            "none",
            None,
        ),
        bound(
            "pages for a projector at once",
            n(limits.halls),
            "one hangs on a wall; they take no student's seat",
            "HallsFull",
            None,
        ),
        told(
            "new connections from one address",
            (limits.arrivals_from_one.per_second.into(), "a second"),
            "a connection costs the host more than the peer; a class behind one address still comes back within seconds",
            TooSoon,
        ),
        told(
            "of these, at once after a pause",
            n(limits.arrivals_from_one.burst as usize),
            "a class behind one address",
            TooSoon,
        ),
        told(
            "new connections from the host's own machine",
            (limits.arrivals_from_here.per_second.into(), "a second"),
            "many terminals may run there",
            TooSoon,
        ),
        told(
            "new connections from all machines that no student has come in from",
            (limits.arrivals.per_second.into(), "a second"),
            "opening an encrypted connection takes the host a third of a millisecond: a tenth of one core, however many machines take part",
            TooSoon,
        ),
        told(
            "of these, at once after a pause",
            n(limits.arrivals.burst as usize),
            "classes of hundreds come back at once",
            TooSoon,
        ),
        bound(
            "machines that students came in from, to whom their own pace alone applies",
            n(MOST_KNOWN),
            "whoever was in comes back beside any crowd of strangers; those of later ones count as strangers",
            "none",
            None,
        ),
        bound(
            "connections whose keys or passphrases are worked out, at once",
            n(AT_ONCE),
            "after each, whatever the students sent goes first; however many come, a student waits for one",
            "none",
            None,
        ),
        told(
            "of these, that wait before it is told",
            n(limits.waiting_for_keys),
            "a class that comes in together waits less than a second",
            KeysWait,
        ),
        told(
            "time from connecting to asking to join",
            ms(limits.join_within),
            "silent connections keep the doorway full no longer",
            NotJoined,
        ),
    ]
}

fn at_the_lock(guesses: &GuessLimits) -> Vec<HostLimit> {
    use Counter::GuessesWait;
    vec![
        told(
            "wrong passphrases from one address, at once",
            n(guesses.at_once_from_one as usize),
            "nobody who knows it mishears it as often",
            GuessesWait,
        ),
        told(
            "of these, then one each",
            ms(guesses.then_from_one_each),
            "guessing takes longer than any lesson",
            GuessesWait,
        ),
        bound(
            "wrong passphrases in all, at once",
            n(guesses.at_once_in_all as usize),
            "a class that mishears; those who are in are not kept out",
            "Notice::NewcomersWait",
            GuessesWait,
        ),
        bound(
            "of these, then one each",
            ms(guesses.then_in_all_each),
            "many machines together guess no faster",
            "Notice::NewcomersWait",
            GuessesWait,
        ),
        bound(
            "addresses whose wrong passphrases are remembered",
            n(guesses.addresses),
            "ever new addresses make no host grow",
            "none",
            None,
        ),
    ]
}

fn in_line(line: &LineLimits) -> Vec<HostLimit> {
    let bound = |of, most, why| bound(of, most, why, "Notice::NewcomersWait", Counter::GuessesWait);
    vec![
        bound(
            "passphrases that wait in line once these are used up",
            n(line.places),
            "a class; beyond it, whoever has not begun to work for its place makes room",
        ),
        bound(
            "time that one waits there, then its work is lost and it comes again",
            ms(line.at_most),
            "nobody saves up work for long; a newcomer beside one machine that guesses waits for less",
        ),
        bound(
            "work for one that counts, as rare hashes",
            (line.shares_per_second.into(), "a second"),
            "about what one processor finds; looking at each costs the host one hash",
        ),
    ]
}

fn in_the_lesson(limits: &Limits) -> Vec<HostLimit> {
    use Counter::{Silent, Slow, TooFast, TooMuch, TurnedAway};
    vec![
        bound(
            "students on the roster, unless told otherwise",
            n(DEFAULT_MAX_STUDENTS as usize),
            "a class; whoever left, or never answered and is away, makes room",
            "Refusal::Full",
            TurnedAway,
        ),
        told(
            "frames from one student",
            (limits.frames_per_second.into(), "a second"),
            "nobody searches faster; more is read at this pace and delays nobody else",
            TooFast,
        ),
        told(
            "of these, at once after a pause",
            n(limits.burst as usize),
            "answers that waited for a lost connection",
            TooFast,
        ),
        told(
            "messages from one student in one call",
            n(MESSAGES_PER_CALL as usize),
            "each is written down; a try a second for half an hour",
            TooMuch,
        ),
        told(
            "of answers, and of leaving, beyond these",
            n(ANSWERS_BEYOND as usize),
            "whoever tried too much can still answer",
            TooMuch,
        ),
        bound(
            "answers of one student to one call, unless told otherwise",
            n(DEFAULT_MAX_ANSWERS as usize),
            "a search by elimination ends long before",
            "Refusal::TooManyAnswers",
            None,
        ),
        bound(
            "sung notes of one student in one call",
            n(MAX_SUNG as usize),
            "more are left out without a word",
            "none",
            None,
        ),
        bound(
            "soundings by the host's speakers that students ask for, one each",
            ms(HOST_SOUND_GAP),
            "several who ask at once hear one",
            "none",
            None,
        ),
        told(
            "silence of a student",
            ms(limits.silence),
            "terminals ask for the clock every two seconds",
            Silent,
        ),
        told(
            "time to write one frame",
            ms(limits.write_within),
            "who does not read is disconnected, and comes back by itself",
            Slow,
        ),
        told(
            "messages that wait for one student",
            n(limits.queue),
            "nobody waits for anybody; all that waited for the book may come at once",
            Slow,
        ),
        told(
            "of these, that wait for the lesson book",
            n(MOST_HELD),
            "a word on each answer of a burst, and what the lesson says meanwhile",
            Slow,
        ),
        bound(
            "answers of one student to calls that are over whose marks are kept",
            n(PAST_ANSWERS),
            "a terminal that comes back asks for fewer",
            "Refusal::LongOver",
            None,
        ),
        bound(
            "messages to one student that one input makes",
            n(MAX_WAITING),
            "an input makes half a dozen",
            "Leaving::FellBehind",
            Slow,
        ),
        bound(
            "messages from students that wait for the lesson",
            n(INBOUND),
            "a connection that finds it full waits by itself",
            "none",
            None,
        ),
        bound(
            "orders of the host that wait",
            n(ORDERS),
            "they are made by hand",
            "none",
            None,
        ),
        bound(
            "events and notices that a screen may be behind",
            n(EVENTS),
            "it is told how many it missed",
            "none",
            None,
        ),
        bound(
            "students taken out who are remembered",
            n(MAX_TAKEN_OUT),
            "they stay out: Refusal::TakenOut",
            "Refusal::TakenOut",
            TurnedAway,
        ),
        bound(
            "memory of one student's connection",
            (PER_CONNECTION_BYTES as u64, "bytes"),
            "the buffers and a full queue; a student who reads takes a tenth",
            "the limits above",
            None,
        ),
    ]
}

fn names() -> Vec<HostLimit> {
    let turned = Counter::TurnedAway;
    vec![
        bound(
            "letters of a student's or a lesson's name, as code points",
            n(MAX_NAME_CHARS as usize),
            "it fits a list",
            "Refusal::BadName",
            turned,
        ),
        bound(
            "marks in a row on one letter",
            n(MAX_MARKS),
            "more run over the lines above and below (UTS 39, section 5.4)",
            "Refusal::BadName",
            turned,
        ),
        bound(
            "code points of one letter as people see it",
            n(MAX_LETTER_CODE_POINTS),
            "the longest emoji has ten",
            "Refusal::BadName",
            turned,
        ),
        bound(
            "control signs, hidden signs and turns of the writing direction in a name",
            (0, ""),
            "they steer a terminal or hide",
            "Refusal::BadName",
            turned,
        ),
        bound(
            "students whose names look the same",
            (1, ""),
            "the next gets a number behind the name (UTS 39, section 4)",
            "none",
            None,
        ),
    ]
}

fn frames() -> impl Iterator<Item = HostLimit> {
    LIMITS.into_iter().map(|limit| {
        bound(
            limit.of,
            (limit.most as u64, ""),
            "checked before anything is allocated",
            "WireError::OverLimit",
            Counter::Garbled,
        )
    })
}
