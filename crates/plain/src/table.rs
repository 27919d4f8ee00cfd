//! A table of commands: the same rows parse, explain and document.

use std::time::Duration;

use fifthpeg_core::Cause;
use fifthpeg_core::text;
use fifthpeg_core::{Named, Position};
use fifthpeg_lesson::message::Answer;

use crate::say::{Say, Word};

/// One command of plain mode.
#[derive(Clone)]
pub struct LineCommand<L> {
    /// Its word.
    pub word: &'static str,
    /// What follows the word, as the help writes it.
    pub form: &'static str,
    /// What it does.
    pub does: &'static str,
    /// What it is read as.
    pub read: Read<L>,
}

/// What a command is read as.
#[derive(Clone)]
pub enum Read<L> {
    /// Nothing may follow the word.
    Bare(L),
    /// Reads what follows the word, which it is given too.
    Rest(fn(&'static str, &str) -> Result<L, Cause>),
}

/// A command that takes nothing.
pub const fn bare<L>(word: &'static str, does: &'static str, line: L) -> LineCommand<L> {
    LineCommand {
        word,
        form: "",
        does,
        read: Read::Bare(line),
    }
}

/// A line of input: nothing (empty, or a comment), or a command.
///
/// # Errors
/// One sentence that says what to type instead.
pub fn read_line<L: Clone>(table: &[LineCommand<L>], line: &str) -> Result<Option<L>, Cause> {
    let line = without_comment(line).trim();
    if line.is_empty() {
        return Ok(None);
    }
    let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
    let Some(command) = find(table, word) else {
        let no_such = format!(
            "there is no command \"{}\": type help for those there are",
            text::shown(word)
        );
        return Err(no_such.into());
    };
    let (word, rest) = (command.word, rest.trim());
    match &command.read {
        Read::Bare(line) => nothing(word, rest).map(|()| Some(line.clone())),
        Read::Rest(read) => read(word, rest).map(Some),
    }
}

/// The command of this word.
pub fn find<'t, L>(table: &'t [LineCommand<L>], word: &str) -> Option<&'t LineCommand<L>> {
    let word = SHORT
        .iter()
        .find(|(short, _)| short.eq_ignore_ascii_case(word))
        .map_or(word, |(_, long)| long);
    table
        .iter()
        .find(|command| command.word.eq_ignore_ascii_case(word))
}

/// Letters for what is typed most.
pub const SHORT: &[(&str, &str)] = &[("h", "hear"), ("t", "try"), ("a", "answer")];

/// Says what those commands do whose words are shown.
pub fn help<L>(table: &[LineCommand<L>], shown: impl Fn(&str) -> bool, say: &mut Say) {
    for command in table.iter().filter(|command| shown(command.word)) {
        say.say(Word::Help, format!("{}: {}", usage(command), command.does));
    }
}

/// The word and what follows it.
pub fn usage<L>(command: &LineCommand<L>) -> String {
    let short = SHORT.iter().find(|(_, long)| *long == command.word);
    let short = short.map_or_else(String::new, |(short, _)| format!(" (or {short})"));
    if command.form.is_empty() {
        format!("{}{short}", command.word)
    } else {
        format!("{}{short} {}", command.word, command.form)
    }
}

/// `#` begins a comment at the start of a line or after a space: `F#4` and
/// `f #4` differ in that, and only the first is a note.
fn without_comment(line: &str) -> &str {
    let mut before = ' ';
    for (index, sign) in line.char_indices() {
        if sign == '#' && before.is_whitespace() {
            return &line[..index];
        }
        before = sign;
    }
    line
}

/// For a command that takes nothing.
///
/// # Errors
/// When something follows.
pub fn nothing(word: &str, rest: &str) -> Result<(), Cause> {
    if rest.is_empty() {
        Ok(())
    } else {
        let shown = text::shown(rest);
        Err(format!("{word} takes nothing after it: leave out \"{shown}\"").into())
    }
}

/// What follows `help`: nothing, which is the commands that a lesson needs first,
/// or `all`.
///
/// # Errors
/// When anything else follows.
pub fn help_of_all(word: &str, rest: &str) -> Result<bool, Cause> {
    let all = rest.eq_ignore_ascii_case("all");
    let rest = if all { "" } else { rest };
    nothing(word, rest).map(|()| all)
}

/// `on` or `off`; nothing asks what it is now.
///
/// # Errors
/// One sentence that says what to type.
pub fn on_or_off(word: &str, rest: &str) -> Result<Option<bool>, Cause> {
    match rest {
        "" => Ok(None),
        _ if rest.eq_ignore_ascii_case("on") => Ok(Some(true)),
        _ if rest.eq_ignore_ascii_case("off") => Ok(Some(false)),
        _ => Err(format!(
            "\"{}\" does not follow {word}: say on or off, or nothing to hear how it is",
            text::shown(rest)
        )
        .into()),
    }
}

/// A place such as `2/1`, a pitch such as `F#4`, or a note name such as `F#`.
///
/// # Errors
/// One sentence with an example.
pub fn answer(typed: &str) -> Result<Answer, Cause> {
    if typed.is_empty() {
        return Err("say where: a string and a fret such as 2/1, or a pitch such as F#4".into());
    }
    if typed.contains('/') {
        let place: Position = typed.parse().map_err(|why| {
            let shown = text::shown(typed);
            let words = format!("\"{shown}\" is no place: give a string and a fret such as 2/1");
            Cause::told(words, why)
        })?;
        return Ok(Answer::Place(place));
    }
    match typed.parse::<Named>() {
        Ok(Named::Pitch(pitch)) => Ok(Answer::Pitch(pitch)),
        Ok(Named::Class(class)) => Ok(Answer::Class(class)),
        Err(why) => {
            let words = format!(
                "\"{}\" is no place or pitch: give a string and a fret such as 2/1, or a pitch \
                 such as F#4",
                text::shown(typed)
            );
            Err(Cause::told(words, why))
        }
    }
}

/// How long a wait lasts when it does not say.
pub const USUAL_WAIT: Duration = Duration::from_secs(60);

/// Longest wait or pause: a day.
const LONGEST_SECONDS: f64 = 86_400.0;

/// A number of seconds, such as `5` or `0.5`.
///
/// # Errors
/// One sentence with an example.
pub fn seconds(typed: &str) -> Result<Duration, Cause> {
    let words = || {
        format!(
            "\"{}\" is no number of seconds: give one from 0 to 86400, such as 5 or 0.5",
            text::shown(typed)
        )
    };
    let read = typed.trim_end_matches('s').trim().parse::<f64>();
    let seconds = read.map_err(|why| Cause::told(words(), why))?;
    if !(0.0..=LONGEST_SECONDS).contains(&seconds) {
        return Err(words().into());
    }
    Ok(Duration::from_secs_f64(seconds))
}

/// What follows `wait`, parted at `for`: the words before it, and how long.
///
/// # Errors
/// When the time is no time.
pub fn wait_parts(rest: &str) -> Result<(Vec<&str>, Duration), Cause> {
    let words: Vec<&str> = rest.split_whitespace().collect();
    match words.iter().position(|w| w.eq_ignore_ascii_case("for")) {
        Some(at) => Ok((words[..at].to_vec(), seconds(&words[at + 1..].join(" "))?)),
        None => Ok((words, USUAL_WAIT)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_do_not_swallow_sharps() {
        assert_eq!(without_comment("call F#4"), "call F#4");
        assert_eq!(without_comment("call F#4 # the high one"), "call F#4 ");
        assert_eq!(without_comment("# a comment"), "");
    }

    #[test]
    fn a_wait_without_a_time_lasts_a_minute() {
        assert_eq!(wait_parts("found 2"), Ok((vec!["found", "2"], USUAL_WAIT)));
        assert_eq!(
            wait_parts("found 2 for 1.5"),
            Ok((vec!["found", "2"], Duration::from_millis(1500)))
        );
        assert!(wait_parts("found 2 for").is_err());
        assert!(wait_parts("found 2 for ever").is_err());
    }

    #[test]
    fn seconds_are_bounded() {
        for wrong in ["", "-1", "NaN", "inf", "1e9", "soon"] {
            assert!(seconds(wrong).is_err(), "{wrong}");
        }
        assert_eq!(seconds("0.5"), Ok(Duration::from_millis(500)));
    }

    #[test]
    fn an_answer_is_a_place_a_pitch_or_a_name() {
        assert!(matches!(answer("2/1"), Ok(Answer::Place(_))));
        assert!(matches!(answer("F#4"), Ok(Answer::Pitch(_))));
        assert!(matches!(answer("gb"), Ok(Answer::Class(_))));
        for wrong in ["", "2/", "x/1", "H4", "999/999"] {
            assert!(answer(wrong).is_err(), "{wrong}");
        }
    }

    proptest::proptest! {
        #[test]
        fn any_line_is_read_or_refused_in_one_line(
            word in "[a-z]{0,8}|call|answer|try|pick|reach|wait|pause|remove|marking",
            rest in "\\PC{0,60}|[0-9/#A-Gb= ,.-]{0,20}",
        ) {
            use crate::{host_lines::host_commands, student_lines};
            let line = format!("{word} {rest}");
            for refused in [
                read_line(host_commands(), &line).err(),
                student_lines::read(&line).err(),
            ]
            .into_iter()
            .flatten()
            {
                let refused = refused.words();
                proptest::prop_assert!(!refused.contains('\n') && refused.len() < 400, "{refused}");
            }
        }
    }
}
