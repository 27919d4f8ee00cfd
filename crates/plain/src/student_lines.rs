//! The commands of a student in plain mode.

use std::time::Duration;

use fifthpeg_core::Cause;
use fifthpeg_core::text;
use fifthpeg_lesson::message::Answer;
use fifthpeg_lock::Passphrase;

use crate::table::{self, LineCommand, Read::Rest, bare};

/// One command of a student.
#[derive(Debug, Clone, PartialEq)]
pub enum StudentLine {
    /// Hear the call once more.
    Hear,
    /// Sound a place or pitch while searching.
    Try(Answer),
    /// Commit to a place or pitch.
    Answer(Answer),
    /// Commit to the note plucked last.
    AnswerHeard,
    /// Say how far with the open call.
    Where,
    /// Say the sums so far.
    Tally,
    /// Say the neck.
    Neck,
    /// Call a note among friends; `None` picks at random.
    Pick(Option<Answer>),
    /// Call the note plucked last, among friends.
    PickHeard,
    /// Say how the microphone fares, or turn it on or off.
    Microphone(Option<bool>),
    /// Measure the noise of the room.
    Quiet,
    /// Say the rules of the lesson.
    Rules,
    /// Say the note of the own call.
    Target,
    /// Sound the own call again for everyone.
    Again,
    /// Show the note of the own call.
    Reveal,
    /// End the own call.
    Close,
    /// Wait until something holds, or the time is up.
    Wait(StudentWait, Duration),
    /// Wait a while.
    Pause(Duration),
    /// At the lock: try this passphrase.
    Passphrase(Passphrase),
    /// At the lock: take the host's new key.
    NewKey,
    /// Take the class key that is offered, or not.
    TakeKey(bool),
    /// Come in as somebody else, of this name.
    NotMe(String),
    /// Leave the lesson.
    Leave,
    /// Explain the commands: all, or the first.
    Help(bool),
}

/// What a student can wait for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StudentWait {
    /// A call that no earlier wait has seen.
    Call,
    /// The open call is revealed or over.
    Reveal,
    /// Every answer sent has been marked.
    Mark,
    /// It is this student's turn to call.
    Turn,
    /// That many friends have found the note this student called, or it takes
    /// no more answers.
    Found(usize),
    /// The lesson has ended.
    End,
}

impl StudentWait {
    const ALL: &'static [(Self, &'static str)] = &[
        (Self::Call, "call"),
        (Self::Reveal, "reveal"),
        (Self::Mark, "mark"),
        (Self::Turn, "turn"),
        (Self::End, "end"),
    ];
}

impl std::fmt::Display for StudentWait {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if let Self::Found(number) = self {
            return write!(f, "found {number}");
        }
        let word = Self::ALL.iter().find(|(wait, _)| wait == self);
        f.write_str(word.map_or("", |(_, word)| word))
    }
}

/// Every command, in the order of the help.
pub const STUDENT_COMMANDS: &[LineCommand<StudentLine>] = &[
    bare("hear", "hear the call again", StudentLine::Hear),
    LineCommand {
        word: "try",
        form: "PLACE | PITCH",
        does: "sound a place such as 2/1 (string 2, fret 1) or a pitch such as C4 while searching",
        read: Rest(|_, rest| table::answer(rest).map(StudentLine::Try)),
    },
    LineCommand {
        word: "answer",
        form: "PLACE | PITCH | heard",
        does: "commit to a place or a pitch, or to the note plucked last",
        read: Rest(|_, rest| {
            if rest.eq_ignore_ascii_case("heard") {
                Ok(StudentLine::AnswerHeard)
            } else {
                table::answer(rest).map(StudentLine::Answer)
            }
        }),
    },
    bare(
        "where",
        "say where you stand with the open call",
        StudentLine::Where,
    ),
    bare(
        "tally",
        "say what you have done so far; a call counts once you have found it, it is shown or it is closed",
        StudentLine::Tally,
    ),
    bare(
        "rules",
        "say the rules of the lesson: what is right, what a miss tells, who sounds a call",
        StudentLine::Rules,
    ),
    bare("neck", "say the neck, string by string", StudentLine::Neck),
    LineCommand {
        word: "microphone",
        form: "[on | off]",
        does: "say whether the microphone listens, or turn it on or off (--microphone says which)",
        read: Rest(|word, rest| table::on_or_off(word, rest).map(StudentLine::Microphone)),
    },
    bare(
        "quiet",
        "measure the noise of the room: keep quiet for three seconds",
        StudentLine::Quiet,
    ),
    LineCommand {
        word: "wait",
        form: "call | reveal | mark | turn | found N | end [for SECONDS]",
        does: "go on at the next call, when it is revealed or over, when your answers are marked, \
               when it is your turn to call, when so many friends have found the note you called \
               or it is revealed, or when the lesson ends; after 60 seconds at the latest if no time is given",
        read: Rest(|_, rest| read_wait(rest)),
    },
    LineCommand {
        word: "pause",
        form: "SECONDS",
        does: "go on after so many seconds",
        read: Rest(|_, rest| table::seconds(rest).map(StudentLine::Pause)),
    },
    LineCommand {
        word: "passphrase",
        form: "WORDS",
        does: "where a locked lesson asks for its passphrase: the words that the host shows",
        read: Rest(|_, rest| {
            let typed = Passphrase::typed(rest).map_err(Cause::from);
            typed.map(StudentLine::Passphrase)
        }),
    },
    LineCommand {
        word: "take-key",
        form: "yes | no",
        does: "where a class key is offered: yes only if nobody else uses this account on this \
               machine, which then comes in without the passphrase",
        read: Rest(|_, rest| match rest.to_ascii_lowercase().as_str() {
            "yes" => Ok(StudentLine::TakeKey(true)),
            "no" => Ok(StudentLine::TakeKey(false)),
            _ => Err("say take-key yes or take-key no".into()),
        }),
    },
    LineCommand {
        word: "not-me",
        form: "NAME",
        does: "come in anew under your own name, where this machine's class key is somebody else's",
        read: Rest(|_, rest| {
            let name = fifthpeg_front::values::parse_name(rest).map_err(Cause::from);
            name.map(StudentLine::NotMe)
        }),
    },
    bare(
        "new-key",
        "where the host's key is not the one of last time: go on all the same",
        StudentLine::NewKey,
    ),
    bare("leave", "leave the lesson", StudentLine::Leave),
    LineCommand {
        word: "help",
        form: "[all]",
        does: "say the commands that a lesson needs first, or all of them",
        read: Rest(|word, rest| table::help_of_all(word, rest).map(StudentLine::Help)),
    },
];

/// The commands of friends besides, who call in turn.
pub const FRIENDS_COMMANDS: &[LineCommand<StudentLine>] = &[
    LineCommand {
        word: "pick",
        form: "[random | PLACE | PITCH | heard]",
        does: "among friends, on your turn: call a note, or the one plucked last",
        read: Rest(|_, rest| {
            if rest.eq_ignore_ascii_case("heard") {
                Ok(StudentLine::PickHeard)
            } else if rest.is_empty() || rest.eq_ignore_ascii_case("random") {
                Ok(StudentLine::Pick(None))
            } else {
                table::answer(rest).map(|at| StudentLine::Pick(Some(at)))
            }
        }),
    },
    bare(
        "target",
        "among friends, when you called: say the note, to you alone",
        StudentLine::Target,
    ),
    bare(
        "again",
        "among friends, when you called: sound it again for everyone",
        StudentLine::Again,
    ),
    bare(
        "reveal",
        "among friends, when you called: show the note and all its places",
        StudentLine::Reveal,
    ),
    bare(
        "close",
        "among friends, when you called: end the call",
        StudentLine::Close,
    ),
];

/// Reads a line of a student's or a friend's.
///
/// # Errors
/// One sentence that says what to type instead.
pub fn read(line: &str) -> Result<Option<StudentLine>, Cause> {
    let word = line.split_whitespace().next().unwrap_or("");
    match table::find(FRIENDS_COMMANDS, word) {
        Some(_) => table::read_line(FRIENDS_COMMANDS, line),
        None => table::read_line(STUDENT_COMMANDS, line),
    }
}

fn read_wait(rest: &str) -> Result<StudentLine, Cause> {
    let (words, time) = table::wait_parts(rest)?;
    let found = match words[..] {
        [word] => StudentWait::ALL
            .iter()
            .find(|(_, known)| known.eq_ignore_ascii_case(word))
            .map(|(wait, _)| *wait),
        ["found", number] => number.parse().ok().map(StudentWait::Found),
        _ => None,
    };
    found
        .map(|wait| StudentLine::Wait(wait, time))
        .ok_or_else(|| {
            format!(
                "\"{}\" cannot be waited for: say call, reveal, mark, turn, found with a number, \
                 or end, such as wait call for 30",
                text::shown(rest)
            )
            .into()
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_read() {
        assert_eq!(read("hear"), Ok(Some(StudentLine::Hear)));
        assert!(matches!(read("try 2/1"), Ok(Some(StudentLine::Try(_)))));
        for (short, long) in [("h", "hear"), ("t 2/1", "try 2/1"), ("A 2/1", "answer 2/1")] {
            assert_eq!(read(short), read(long));
        }
        assert!(matches!(
            read("answer F#4"),
            Ok(Some(StudentLine::Answer(Answer::Pitch(_))))
        ));
        assert_eq!(read("pick random"), Ok(Some(StudentLine::Pick(None))));
        assert_eq!(read("answer heard"), Ok(Some(StudentLine::AnswerHeard)));
        assert_eq!(read("pick heard"), Ok(Some(StudentLine::PickHeard)));
        for (line, wanted) in [
            ("microphone", None),
            ("microphone on", Some(true)),
            ("microphone OFF", Some(false)),
        ] {
            assert_eq!(read(line), Ok(Some(StudentLine::Microphone(wanted))));
        }
        assert_eq!(
            read("wait call"),
            Ok(Some(StudentLine::Wait(
                StudentWait::Call,
                table::USUAL_WAIT
            )))
        );
    }

    #[test]
    fn wrong_lines_get_one_sentence() {
        for line in [
            "call",
            "try",
            "answer",
            "answer nowhere",
            "answer 1/2/3",
            "hear me",
            "pick 0",
            "microphone loud",
            "quiet please",
            "wait",
            "wait call end",
            "wait found",
            "wait call for",
            "pause -3",
        ] {
            let sentence = read(line).expect_err(line).to_string();
            assert!(!sentence.contains('\n'), "{line}: {sentence}");
        }
    }
}
