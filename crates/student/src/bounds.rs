//! What a terminal takes and keeps at most, whatever the host or the network
//! does: the table of its limits.

use core::time::Duration;

use fifthpeg_lesson::backoff::{self, LONGEST_TOLD, SILENCE};
use fifthpeg_lesson::terminal::{ANSWERS_KEPT, FURTHEST_START, TRIES_SHOWN, UNSENT_KEPT};
use fifthpeg_link::discovery;
use fifthpeg_lock::MOST_KEYS;
use fifthpeg_sound::MAX_TONES;

use crate::resolver::MAX_TYPED;
use crate::{at_lock, class_keys, ear, hosts, messages, running, seat, session};

/// One limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TerminalLimit {
    /// What is limited.
    pub of: &'static str,
    /// The most that is allowed.
    pub most: u64,
    /// What the most is counted in.
    pub unit: &'static str,
    /// Why there is one, or why it is this much.
    pub why: &'static str,
    /// What happens beyond it; a name where the student is told.
    pub beyond: &'static str,
}

const LOST: &str = "Status::Lost, tried again";

/// All of them.
pub fn bounds() -> Vec<TerminalLimit> {
    let mut all = of_the_host();
    all.extend(of_time());
    all.extend(of_coming_back());
    all.extend(of_what_is_kept());
    all.extend(of_looking());
    all
}

fn bound(
    of: &'static str,
    (most, unit): (u64, &'static str),
    why: &'static str,
    beyond: &'static str,
) -> TerminalLimit {
    TerminalLimit {
        of,
        most,
        unit,
        why,
        beyond,
    }
}

const fn ms(time: Duration) -> (u64, &'static str) {
    (time.as_millis() as u64, "ms")
}

const fn n(number: usize) -> (u64, &'static str) {
    (number as u64, "")
}

fn of_the_host() -> Vec<TerminalLimit> {
    vec![
        bound(
            "frames and pings from the host",
            (session::FRAMES_PER_SECOND.into(), "a second"),
            "a lesson has some tens a second to say to one student",
            LOST,
        ),
        bound(
            "of these, at once after a pause",
            n(session::BURST as usize),
            "what gathered while the network stood still",
            LOST,
        ),
        bound(
            "what was read and waits for the terminal",
            n(messages::EVENTS),
            "then no more is read: the host sees that it is not",
            "waits in the network",
        ),
        bound(
            "how far ahead a tone's start may lie",
            ms(FURTHEST_START),
            "calls are a quarter of a second ahead",
            "sounds at once",
        ),
        bound(
            "tones that wait to be made",
            n(running::TONES_WAITING),
            "a tone that comes later than that only confuses",
            "SoundError::TooManyTones",
        ),
        bound(
            "tones that wait or sound at once",
            n(MAX_TONES),
            "the output's own memory; the ceiling of the level holds for all together",
            "SoundError::TooManyTones",
        ),
    ]
}

fn of_time() -> Vec<TerminalLimit> {
    vec![
        bound(
            "time a host may take to answer at one address",
            ms(messages::ANSWER_WITHIN),
            "the other addresses are tried meanwhile",
            LOST,
        ),
        bound(
            "time it may take at the lock",
            ms(at_lock::LOCK_WITHIN),
            "a few messages each way",
            LOST,
        ),
        bound(
            "time in line at the lock that is told, beyond that",
            ms(at_lock::LONGEST_IN_LINE),
            "whoever tells has proved nothing yet; the terminal works on one thread meanwhile",
            LOST,
        ),
        bound(
            "time it may take to let in",
            ms(session::JOIN_WITHIN),
            "it may have to read its book",
            LOST,
        ),
        bound(
            "silence of the host",
            ms(SILENCE),
            "it is asked for its clock every two seconds",
            LOST,
        ),
        bound(
            "time to write one frame",
            ms(session::WRITE_WITHIN),
            "a host that does not read is as good as gone",
            LOST,
        ),
    ]
}

fn of_coming_back() -> Vec<TerminalLimit> {
    vec![
        bound(
            "first wait before it is tried again, less up to half by chance",
            ms(backoff::FIRST),
            "a class does not come back in one instant",
            "each next wait is twice as long",
        ),
        bound(
            "longest such wait",
            ms(backoff::LONGEST),
            "who mends the network does not wait long",
            "stays at that",
        ),
        bound(
            "time in a lesson after which the first wait is the first again",
            ms(backoff::SETTLED),
            "a host that lets in and hangs up is not asked ever faster",
            "",
        ),
        bound(
            "wait that is told at the lock",
            ms(LONGEST_TOLD),
            "whoever tells has proved nothing yet",
            "tries again after this",
        ),
    ]
}

fn of_what_is_kept() -> Vec<TerminalLimit> {
    vec![
        bound(
            "messages that wait to be written to the host",
            n(messages::OUTBOX),
            "the host takes some hundreds at once",
            LOST,
        ),
        bound(
            "answers kept until the host has spoken of them",
            n(ANSWERS_KEPT),
            "some calls' worth, however often the connection is lost; the host reads twice as many \
             at once",
            "Refusal::TooManyWait",
        ),
        bound(
            "hearings and tries kept while the connection is lost",
            n(UNSENT_KEPT),
            "answers have room of their own",
            "later ones are left out",
        ),
        bound(
            "tries shown of one call",
            n(TRIES_SHOWN),
            "a neck has fewer places",
            "the earliest are left out",
        ),
        bound(
            "what the microphone heard and the terminal has not taken",
            n(ear::WAITING),
            "some tens of things a second at most",
            "left out",
        ),
        bound(
            "events that a screen may be behind",
            n(running::EVENTS),
            "it is told how many it missed",
            "the oldest are left out",
        ),
        bound(
            "orders of a screen that wait",
            n(running::ORDERS),
            "they are made by hand",
            "the screen waits",
        ),
        bound(
            "decisions at the lock that wait",
            n(messages::DECISIONS),
            "they are made by hand",
            "StudentError::Over",
        ),
        bound(
            "hosts that are remembered",
            n(hosts::MOST),
            "some years of lessons",
            "the longest unseen is forgotten",
        ),
        bound(
            "bytes read of their file",
            (hosts::LONGEST_FILE, ""),
            "so many hosts take a quarter of it",
            "not read",
        ),
        bound(
            "bytes read of a file with a place",
            (seat::LONGEST_FILE, ""),
            "it holds a few lines",
            "not read",
        ),
        bound(
            "class keys of this machine",
            n(class_keys::MOST_FILES),
            "a student is in few classes",
            "further ones are not looked at",
        ),
        bound(
            "of these, shown to one host over one connection",
            n(MOST_KEYS),
            "a student is in few classes of one teacher",
            "the longest unused are not tried",
        ),
        bound(
            "bytes read of a file with a class key",
            (class_keys::LONGEST_FILE, ""),
            "it holds a few lines",
            "not read",
        ),
    ]
}

fn of_looking() -> Vec<TerminalLimit> {
    vec![
        bound(
            "lessons that are listed of those announced",
            n(discovery::MAX_LESSONS),
            "a flood of records fills no screen",
            "left out",
        ),
        bound(
            "addresses of one announced lesson",
            n(discovery::MAX_ADDRESSES),
            "they are tried one after the other",
            "left out",
        ),
        bound(
            "announced lessons whose names look the same",
            n(1),
            "they are told apart",
            "the next gets a number behind the name",
        ),
        bound(
            "addresses kept of a lesson reached by hand, as its host moves about",
            n(MAX_TYPED),
            "they are tried one after the other",
            "the earliest is left out",
        ),
    ]
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use fifthpeg_lesson::backoff::KEEP_ALIVE;

    use super::*;

    #[test]
    fn every_limit_is_one_and_says_why() {
        let all = bounds();
        let of: HashSet<_> = all.iter().map(|bound| bound.of).collect();
        // "Of these" is of the row before.
        assert_eq!(of.len(), all.len());
        for bound in &all {
            assert!(bound.most > 0 && bound.why.len() > 10, "{bound:?}");
        }
        // The terminal notices a silence well before it would have given up
        // asking, and gives up before its host does.
        assert!(KEEP_ALIVE * 3 < SILENCE);
        assert!(backoff::FIRST < backoff::LONGEST && backoff::SETTLED < backoff::LONGEST);
    }
}
