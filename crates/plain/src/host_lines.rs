//! The commands of a host in plain mode.

use std::sync::LazyLock;
use std::time::Duration;

use fifthpeg_core::Cause;
use fifthpeg_core::ReachSpec;
use fifthpeg_core::text;
use fifthpeg_front::SHORT_HELP;
use fifthpeg_lesson::message::Answer;
use fifthpeg_vocab::{RULES, Rule, Setting};

use crate::table::{self, LineCommand, Read::Rest, bare};

/// How a phone's way in is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PageLine {
    /// In words.
    Words,
    /// As a code to scan.
    Code {
        /// The terminal has dark signs on a light ground.
        on_light: bool,
    },
    /// With new words.
    New,
}

/// One command of a host.
#[derive(Debug, Clone, PartialEq)]
pub enum HostLine {
    /// Call a note; `None` picks at random.
    Call(Option<Answer>),
    /// Call the note that was plucked last.
    CallHeard,
    /// Call this note, which was heard.
    CallPlayed(fifthpeg_core::Pitch),
    /// Sound the call again for everyone.
    Again,
    /// Show the note.
    Reveal,
    /// End the call.
    Close,
    /// Let the next friend call.
    Pass,
    /// Say the note of the open call.
    Target,
    /// Say the reach.
    ReachNow,
    /// List the ready reaches.
    ReachList,
    /// Say a rule.
    Rule(&'static Rule),
    /// Change a rule.
    Set(Setting),
    /// Say what to do with the reach.
    Suggest,
    /// Say how the microphone fares, or turn it on or off.
    Microphone(Option<bool>),
    /// Measure the noise of the room.
    Quiet,
    /// Go on without the lesson book.
    WithoutBook,
    /// Go on in a new lesson book.
    NewBook,
    /// Say who is here.
    Who,
    /// Say how often peers met the host's limits.
    Network,
    /// Say the neck.
    Neck,
    /// Say how a phone gets in.
    Page(PageLine),
    /// Take a student out of the lesson.
    Remove(String),
    /// Say who is known, or that one who is here is somebody known.
    Known(Option<String>),
    /// Say who has a class key, or offer one.
    ClassKey(Option<String>),
    /// Wait until something holds, or the time is up.
    Wait(HostWait, Duration),
    /// Wait a while.
    Pause(Duration),
    /// End the lesson.
    End,
    /// Explain the commands: all, or the first.
    Help(bool),
}

/// What a host can wait for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HostWait {
    /// That many have found the open call.
    Found(usize),
    /// That many answers to the open call came in.
    Answers(usize),
    /// That many students are here.
    Students(usize),
}

impl std::fmt::Display for HostWait {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Found(number) => write!(f, "found {number}"),
            Self::Answers(number) => write!(f, "answers {number}"),
            Self::Students(number) => write!(f, "students {number}"),
        }
    }
}

/// Every command, in the order of the help.
pub fn host_commands() -> &'static [LineCommand<HostLine>] {
    static ALL: LazyLock<Vec<LineCommand<HostLine>>> = LazyLock::new(|| {
        let rules = RULES.iter().map(|rule| {
            let choices = (rule.choices)();
            let mut words: Vec<_> = choices.iter().map(|c| c.word.as_ref()).collect();
            words.extend(rule.other.map(|own| own.form));
            LineCommand {
                word: rule.word,
                // Made once, and kept as long as the program runs.
                form: format!("[{}]", words.join(" | ")).leak(),
                does: format!("say or change {}", rule.what).leak(),
                read: Rest(read_rule),
            }
        });
        let first = CALL_COMMANDS.iter().cloned();
        first
            .chain(rules)
            .chain(OTHER_COMMANDS.iter().cloned())
            .collect()
    });
    &ALL
}

/// Those that the short help says.
pub const FIRST_WORDS: [&str; SHORT_HELP] = [
    "call", "again", "reveal", "close", "target", "reach", "who", "end",
];

/// Those of a call and its reach.
const CALL_COMMANDS: &[LineCommand<HostLine>] = &[
    LineCommand {
        word: "call",
        form: "[random | PLACE | PITCH | heard]",
        does: "call a note: any of the reach as picking says, a place such as 2/1, a pitch such as C4, \
               or the one the microphone heard last",
        read: Rest(|_, rest| {
            if rest.eq_ignore_ascii_case("heard") {
                Ok(HostLine::CallHeard)
            } else if rest.is_empty() || rest.eq_ignore_ascii_case("random") {
                Ok(HostLine::Call(None))
            } else {
                table::answer(rest).map(|at| HostLine::Call(Some(at)))
            }
        }),
    },
    bare(
        "again",
        "sound the call again for everyone",
        HostLine::Again,
    ),
    bare(
        "reveal",
        "show everyone the note and all its places",
        HostLine::Reveal,
    ),
    bare("close", "end the call", HostLine::Close),
    bare(
        "pass",
        "among friends, between calls: let the next friend call; after a reveal, which passes the turn itself, it closes the call",
        HostLine::Pass,
    ),
    bare(
        "target",
        "say the note of the open call, here only",
        HostLine::Target,
    ),
    LineCommand {
        word: "reach",
        form: "[SPEC | list]",
        does: "say the reach, list the ready ones, or change it: \
               reach open, or reach strings=1,2 frets=0-5",
        read: Rest(|_, rest| match rest {
            "" => Ok(HostLine::ReachNow),
            "list" => Ok(HostLine::ReachList),
            spec => spec
                .parse()
                .map(|reach| HostLine::Set(Setting::Reach(reach)))
                .map_err(|why: <ReachSpec as std::str::FromStr>::Err| why.into()),
        }),
    },
];

/// The others, after those of the rules.
const OTHER_COMMANDS: &[LineCommand<HostLine>] = &[
    bare(
        "suggest",
        "say whether a wider or narrower reach would suit, and why",
        HostLine::Suggest,
    ),
    LineCommand {
        word: "microphone",
        form: "[on | off]",
        does: "say whether the microphone listens to your instrument, or turn it on or off \
               (--microphone says which)",
        read: Rest(|word, rest| table::on_or_off(word, rest).map(HostLine::Microphone)),
    },
    bare(
        "quiet",
        "measure the noise of the room: keep quiet for three seconds",
        HostLine::Quiet,
    ),
    bare(
        "without-book",
        "go on without the lesson book when it cannot be written: waiting answers are confirmed, and nothing more is written down",
        HostLine::WithoutBook,
    ),
    bare(
        "new-book",
        "go on in a new lesson book when yours was moved, deleted or replaced: the whole lesson goes into it",
        HostLine::NewBook,
    ),
    bare(
        "who",
        "say who is here and how they are doing; those who need help come first",
        HostLine::Who,
    ),
    bare(
        "network",
        "say who gets in and this host's key, and what was turned away, disconnected or \
               slowed since the lesson was opened here, and how often",
        HostLine::Network,
    ),
    bare("neck", "say the neck, string by string", HostLine::Neck),
    LineCommand {
        word: "page",
        form: "[code | code-on-light | new]",
        does: "say how a phone gets in: the page's address and its own four words; as a code to \
               scan, for light signs on dark or dark signs on light; or make new words, after which \
               the old ones let no newcomer in",
        read: Rest(|_, rest| match rest {
            "" => Ok(HostLine::Page(PageLine::Words)),
            "code" => Ok(HostLine::Page(PageLine::Code { on_light: false })),
            "code-on-light" => Ok(HostLine::Page(PageLine::Code { on_light: true })),
            "new" => Ok(HostLine::Page(PageLine::New)),
            _ => Err("after page comes nothing, code, code-on-light or new".into()),
        }),
    },
    LineCommand {
        word: "remove",
        form: "NAME",
        does: "take a student out of the lesson",
        read: Rest(|_, rest| {
            if rest.is_empty() {
                Err("say whom to remove, such as remove Mia: who lists the names".into())
            } else {
                Ok(HostLine::Remove(rest.to_owned()))
            }
        }),
    },
    LineCommand {
        word: "known",
        form: "[NAME is NAME]",
        does: "say who is known in this class and not here; or, between calls, that somebody here \
               is one of them: known Mia 2 is Mia",
        read: Rest(|_, rest| match rest {
            "" => Ok(HostLine::Known(None)),
            rest if rest.contains(" is ") => Ok(HostLine::Known(Some(rest.to_owned()))),
            _ => Err("say who is whom, such as known Mia 2 is Mia".into()),
        }),
    },
    LineCommand {
        word: "class-key",
        form: "[NAME]",
        does: "say who has a class key; or offer one, so that the student's own machine comes in \
               without the passphrase next time: the student is asked whether it is theirs alone",
        read: Rest(|_, rest| {
            Ok(HostLine::ClassKey(
                Some(rest.to_owned()).filter(|n| !n.is_empty()),
            ))
        }),
    },
    LineCommand {
        word: "wait",
        form: "found N | answers N | students N [for SECONDS]",
        does: "go on when so many have found the call, so many answers to it came in, or so many \
               students are here; after 60 seconds at the latest if no time is given",
        read: Rest(|_, rest| read_wait(rest)),
    },
    LineCommand {
        word: "pause",
        form: "SECONDS",
        does: "go on after so many seconds",
        read: Rest(|_, rest| table::seconds(rest).map(HostLine::Pause)),
    },
    bare(
        "end",
        "end the lesson and say what everyone did",
        HostLine::End,
    ),
    LineCommand {
        word: "help",
        form: "[all]",
        does: "say the commands that a lesson needs first, or all of them",
        read: Rest(|word, rest| table::help_of_all(word, rest).map(HostLine::Help)),
    },
];

fn read_rule(word: &'static str, rest: &str) -> Result<HostLine, Cause> {
    let rule = Rule::named(word).ok_or("there is no such rule")?;
    match rest {
        "" => Ok(HostLine::Rule(rule)),
        _ => Ok(HostLine::Set(rule.choice(rest)?.setting)),
    }
}

fn read_wait(rest: &str) -> Result<HostLine, Cause> {
    let wrong = || {
        format!(
            "\"{}\" cannot be waited for: say found, answers or students with a number, \
             such as wait found 2 for 30",
            text::shown(rest)
        )
    };
    let (words, time) = table::wait_parts(rest)?;
    let [what, number] = words[..] else {
        return Err(wrong().into());
    };
    let number = number.parse().map_err(|why| Cause::told(wrong(), why))?;
    let wait = match what {
        "found" => HostWait::Found(number),
        "answers" => HostWait::Answers(number),
        "students" => HostWait::Students(number),
        _ => return Err(wrong().into()),
    };
    Ok(HostLine::Wait(wait, time))
}

#[cfg(test)]
mod tests {
    use fifthpeg_vocab::Marking;

    use super::*;

    fn read(line: &str) -> Result<Option<HostLine>, Cause> {
        table::read_line(host_commands(), line)
    }

    #[test]
    fn lines_are_read() {
        assert_eq!(read(""), Ok(None));
        assert_eq!(read("  # nothing"), Ok(None));
        assert_eq!(read("call"), Ok(Some(HostLine::Call(None))));
        assert_eq!(read("CALL random"), Ok(Some(HostLine::Call(None))));
        assert_eq!(read("call heard"), Ok(Some(HostLine::CallHeard)));
        assert_eq!(
            read("sing-first on"),
            Ok(Some(HostLine::Set(Setting::SingFirst(true))))
        );
        assert_eq!(read("microphone"), Ok(Some(HostLine::Microphone(None))));
        assert!(matches!(
            read("call F#4 # high"),
            Ok(Some(HostLine::Call(Some(Answer::Pitch(_)))))
        ));
        assert_eq!(
            read("wait found 2 for 30"),
            Ok(Some(HostLine::Wait(
                HostWait::Found(2),
                Duration::from_secs(30)
            )))
        );
        assert_eq!(
            read("marking any-octave"),
            Ok(Some(HostLine::Set(Setting::Marking(Marking::AnyOctave))))
        );
        assert_eq!(
            read("remove Mia Berg"),
            Ok(Some(HostLine::Remove("Mia Berg".to_owned())))
        );
    }

    #[test]
    fn wrong_lines_get_one_sentence() {
        for line in [
            "sing",
            "call H9",
            "call 1/",
            "again twice",
            "reach nowhere",
            "marking loud",
            "picking nicely",
            "suggest more",
            "sing-first perhaps",
            "microphone loud",
            "quiet please",
            "remove",
            "wait",
            "wait found",
            "wait found many",
            "wait found -1",
            "wait rain 3",
            "wait found 2 for ever",
            "pause",
            "pause long",
        ] {
            let sentence = read(line).expect_err(line).to_string();
            assert!(!sentence.contains('\n'), "{line}: {sentence}");
            assert!(sentence.len() > 20, "{line}: {sentence}");
        }
    }
}
