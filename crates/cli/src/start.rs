//! Started without a word from a terminal, as by a double click: a few questions,
//! whose answers are the words of a command. It is shown, and done.
//!
//! ```text
//! things (what to do -> questions -> words) -> the tables of the command line
//! ```
//!
//! Lines out and lines in, so that it is the same with and without colour, for a
//! screen reader and on any width.

mod known;
mod things;

use std::ffi::OsString;
use std::io::{BufRead, IsTerminal};

use clap::{CommandFactory, Parser};
use fifthpeg_front::failure::Failure;
use fifthpeg_front::out;
use fifthpeg_practice::track::command::quoted;

use crate::args::Cli;
use crate::complain;
use known::KnownHere;
use things::{Answers, Question, THINGS, Thing};

/// What comes before every command.
const PROGRAM: &str = "fifthpeg";
/// What asks a command for lines.
const PLAIN: &str = "--plain";

/// The words of a command, asked for; none where somebody leaves.
///
/// # Errors
/// Where there is no terminal to ask at: after the help, one sentence.
pub fn words() -> Result<Option<Vec<OsString>>, Failure> {
    if !(std::io::stdin().is_terminal() && out::is_terminal()) {
        Cli::command()
            .render_help()
            .to_string()
            .lines()
            .for_each(out::note);
        return Err(match Cli::try_parse_from([PROGRAM]) {
            Err(error) => Failure::usage(complain::sentence(&error)),
            Ok(_) => Failure::usage("say what to do"),
        });
    }
    let asked = Asking {
        known: KnownHere::read(),
        plain: false,
        say: &mut |line| drop(out::say(&[line])),
        show: &mut |line| drop(out::document(&format!("{line}\n"))),
        answer: &mut |question| {
            out::ask(question);
            let mut line = String::new();
            let read = std::io::stdin().lock().read_line(&mut line);
            matches!(read, Ok(1..)).then(|| line.trim().to_owned())
        },
    }
    .all();
    Ok(asked.map(|words| words.into_iter().map(OsString::from).collect()))
}

/// The questions, with what is said and answered.
struct Asking<'a> {
    known: KnownHere,
    /// Lines were asked for, in place of screens.
    plain: bool,
    say: &'a mut dyn FnMut(&str),
    /// Says what may be copied: broken nowhere.
    show: &'a mut dyn FnMut(&str),
    answer: &'a mut dyn FnMut(&str) -> Option<String>,
}

impl Asking<'_> {
    /// The whole command; none where somebody leaves, or no answer comes any more.
    fn all(mut self) -> Option<Vec<String>> {
        let thing = self.thing()?;
        let mut words: Vec<String> = [PROGRAM.to_owned()].into();
        words.extend(thing.command.iter().map(|word| (*word).to_owned()));
        for question in (thing.questions)(&self.known) {
            let more = self.answered(&question, &words)?;
            words.extend(more);
        }
        // Where a command has screens, lines can be had in their place.
        let in_lines = [&words[..], &[PLAIN.to_owned()]].concat();
        if self.plain && Cli::try_parse_from(&in_lines).is_ok() {
            words = in_lines;
        }
        let command: Vec<String> = words.iter().map(|word| quoted(word)).collect();
        (self.say)("");
        (self.say)("Next time, one command does the same:");
        (self.show)(&format!("  {}", command.join(" ")));
        let begins = (self.answer)("Enter begins, q leaves:")?;
        (!leaves(&begins)).then_some(words)
    }

    fn thing(&mut self) -> Option<&'static Thing> {
        (self.say)("What would you like to do?");
        for (number, thing) in (1..).zip(THINGS) {
            (self.say)(&format!("  {number}  {}", thing.does));
        }
        (self.say)(
            "  plain  then one of these: lines of text instead of screens, for a screen reader",
        );
        (self.say)("  q  leave; fifthpeg --help tells more");
        loop {
            let typed = (self.answer)("Type a number:")?;
            if typed.eq_ignore_ascii_case("plain") {
                self.plain = true;
                (self.say)("Lines of text, then. Which one?");
                continue;
            }
            let is_meant = |(number, thing): &(usize, &Thing)| {
                typed == number.to_string() || typed.eq_ignore_ascii_case(thing.word)
            };
            if let Some((_, thing)) = (1..).zip(&THINGS).find(is_meant) {
                return Some(thing);
            }
            if leaves(&typed) {
                return None;
            }
            (self.say)(&format!("Please type a number from 1 to {}.", THINGS.len()));
        }
    }

    /// The words that an answer stands for. What the command line would not take is
    /// said, and asked again.
    fn answered(&mut self, question: &Question, before: &[String]) -> Option<Vec<String>> {
        (self.say)("");
        (self.say)(&question.asks);
        if let Answers::OneOf { each, usual } = &question.answers {
            for (number, (label, _)) in (0..).zip(each) {
                let mark = if number == *usual { " (Enter)" } else { "" };
                (self.say)(&format!("{:>3}  {label}{mark}", number + 1));
            }
        }
        loop {
            let typed = (self.answer)(&question.prompt())?;
            // A name may be q; no number is.
            if matches!(question.answers, Answers::OneOf { .. }) && leaves(&typed) {
                return None;
            }
            let words = match question.words(&typed) {
                Ok(words) => words,
                Err(why) => {
                    (self.say)(&why);
                    continue;
                }
            };
            let so_far = before.iter().chain(&words);
            match Cli::try_parse_from(so_far) {
                Ok(_) => return Some(words),
                Err(error) => (self.say)(&format!("{}.", complain::sentence(&error))),
            }
        }
    }
}

fn leaves(typed: &str) -> bool {
    ["q", "quit"]
        .iter()
        .any(|word| typed.eq_ignore_ascii_case(word))
}

#[cfg(test)]
mod tests {
    use std::cell::RefCell;

    use super::*;

    fn asked(known: KnownHere, answers: &[&str]) -> (Option<String>, Vec<String>) {
        let said = RefCell::new(Vec::new());
        let mut left = answers.iter();
        let words = Asking {
            known,
            plain: false,
            say: &mut |line| said.borrow_mut().push(line.to_owned()),
            show: &mut |line| said.borrow_mut().push(line.to_owned()),
            answer: &mut |_| left.next().map(|answer| (*answer).to_owned()),
        }
        .all();
        let said = said.into_inner();
        assert_eq!(left.next(), None, "{said:?}");
        let command = words.map(|words| {
            let quoted: Vec<String> = words.iter().map(|word| quoted(word)).collect();
            quoted.join(" ")
        });
        if let Some(command) = &command {
            assert!(said.contains(&format!("  {command}")), "{said:?}");
        }
        (command, said)
    }

    fn command(answers: &[&str]) -> String {
        asked(KnownHere::default(), answers).0.expect("a command")
    }

    #[test]
    fn answers_become_the_words_of_a_command() {
        for (answers, words) in [
            (
                &["1", "", "", "", ""][..],
                "fifthpeg host --name Lesson --neck banjo-open-g --reach two-open",
            ),
            (
                &["hold", "Thursday class", "1", "3", ""],
                "fifthpeg host --name 'Thursday class' --neck banjo-open-g --reach octave",
            ),
            (&["2", "Mia", "", "", ""], "fifthpeg join --as Mia"),
            (
                &["join", "Mia", "192.0.2.7:4750", "2", ""],
                "fifthpeg join --as Mia 192.0.2.7:4750 --microphone",
            ),
            (
                &["alone", "Ben", "", "2", ""],
                "fifthpeg solo --as Ben --neck banjo-open-g --reach open",
            ),
            (
                &["3", "", "", "", ""],
                "fifthpeg solo --neck banjo-open-g --reach two-open",
            ),
            (
                &["plain", "3", "", "", "", ""],
                "fifthpeg solo --neck banjo-open-g --reach two-open --plain",
            ),
            // A report has no screens.
            (&["plain", "5", "", "", ""], "fifthpeg report"),
            (&["tune", "", ""], "fifthpeg listen --neck banjo-open-g"),
            (&["book", "", "", ""], "fifthpeg report"),
            (
                &["5", "Mia", "2", ""],
                "fifthpeg report --student Mia --as page --to report.html --replace",
            ),
        ] {
            assert_eq!(command(answers), words);
        }
    }

    #[test]
    fn what_is_none_is_asked_again_and_q_leaves() {
        let (command, said) = asked(
            KnownHere::default(),
            &["7", "", "2", "", "a\u{1b}b", "Mia", "", "9", "1", ""],
        );
        assert_eq!(command.as_deref(), Some("fifthpeg join --as Mia"));
        let said = said.join("\n");
        assert!(said.contains("Please type a number from 1 to 5."), "{said}");
        assert!(said.contains("cannot be a name"), "{said}");
        assert_eq!(asked(KnownHere::default(), &["q"]).0, None);
        assert_eq!(asked(KnownHere::default(), &["tune", "", "q"]).0, None);
        assert_eq!(asked(KnownHere::default(), &["tune", "Q"]).0, None);
        // No more input: nothing is done.
        assert_eq!(asked(KnownHere::default(), &["hold"]).0, None);
    }

    #[test]
    fn what_the_book_knows_is_the_usual_answer() {
        let known = || KnownHere {
            classes: vec!["Choir".to_owned(), "Thursday class".to_owned()],
            class: Some("Thursday class".to_owned()),
            neck: Some("ukulele"),
            reach: Some("octave".to_owned()),
            player: Some("Mia".to_owned()),
        };
        let (command, _) = asked(known(), &["hold", "", "", "", ""]);
        let held = "fifthpeg host --name 'Thursday class' --neck ukulele --reach octave";
        assert_eq!(command.as_deref(), Some(held));
        let (command, said) = asked(known(), &["alone", "", "", "", ""]);
        // As whom is left to the book, and said.
        let alone = "fifthpeg solo --neck ukulele --reach octave";
        assert_eq!(command.as_deref(), Some(alone));
        assert!(said.join("\n").contains("Enter goes on as Mia"), "{said:?}");
        let (command, _) = asked(known(), &["book", "", "", "", ""]);
        let report = "fifthpeg report --class 'Thursday class'";
        assert_eq!(command.as_deref(), Some(report));
    }
}
