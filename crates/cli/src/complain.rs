//! A wrong command line in one sentence, with what to do.

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Command, CommandFactory};
use fifthpeg_core::text;

use crate::args::Cli;

/// One sentence for an error that clap found.
pub fn sentence(error: &clap::Error) -> String {
    let argument = context(error, ContextKind::InvalidArg).map(|shown| bare(&shown));
    let value = context(error, ContextKind::InvalidValue);
    let suggestion = context(error, ContextKind::SuggestedArg)
        .or_else(|| context(error, ContextKind::SuggestedSubcommand))
        .or_else(|| context(error, ContextKind::SuggestedValue));
    let meant = suggestion.map_or_else(
        || "--help lists what there is".to_owned(),
        |word| format!("perhaps {} was meant", word.trim_start_matches("fifthpeg ")),
    );
    let flag = argument.as_deref().map_or("that", |a| a);
    match error.kind() {
        ErrorKind::ValueValidation => {
            let why = std::error::Error::source(error).map_or_else(String::new, |s| s.to_string());
            format!("{flag}: {why}")
        }
        ErrorKind::InvalidValue if value.as_deref().unwrap_or("").is_empty() => {
            format!("{flag} needs a value: --help says which")
        }
        ErrorKind::InvalidValue => format!(
            "{flag}: \"{}\" is not one of its values: {meant}",
            text::shown(value.as_deref().unwrap_or(""))
        ),
        ErrorKind::UnknownArgument if !flag.starts_with('-') => {
            let usage = context(error, ContextKind::Usage).unwrap_or_default();
            one_too_many(flag, &usage)
        }
        ErrorKind::UnknownArgument => format!("there is no {}: {meant}", text::shown(flag)),
        ErrorKind::InvalidSubcommand if about_book(error) => format!(
            "the book has no \"{}\": {meant}",
            text::shown(&context(error, ContextKind::InvalidSubcommand).unwrap_or_default())
        ),
        ErrorKind::InvalidSubcommand => format!(
            "there is no command \"{}\": say {}",
            text::shown(&context(error, ContextKind::InvalidSubcommand).unwrap_or_default()),
            commands()
        ),
        ErrorKind::MissingSubcommand | ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand
            if about_book(error) =>
        {
            "say what to do with the book, such as people, rename, remove or copy: fifthpeg book \
             --help lists all"
                .to_owned()
        }
        ErrorKind::MissingSubcommand | ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            format!("say what to do: {} (--help tells more)", commands())
        }
        ErrorKind::MissingRequiredArgument => {
            format!("{flag} is missing: add it, such as {}", example(flag))
        }
        ErrorKind::ArgumentConflict => match context(error, ContextKind::PriorArg) {
            Some(prior) if bare(&prior) == flag => format!("{flag} is there twice: give it once"),
            Some(prior) => format!(
                "{flag} cannot go with {}: leave one of them out",
                bare(&prior)
            ),
            None => format!("{flag} cannot go with the rest: leave it out"),
        },
        _ => first_line(&error.to_string()),
    }
}

/// The words of all commands, in a sentence.
fn commands() -> String {
    let command = Cli::command();
    let mut words: Vec<&str> = command.get_subcommands().map(Command::get_name).collect();
    let last = words.pop().unwrap_or_default();
    format!("{} or {last}", words.join(", "))
}

/// Whether it is about `fifthpeg book`.
fn about_book(error: &clap::Error) -> bool {
    context(error, ContextKind::Usage).is_some_and(|usage| usage.contains("fifthpeg book"))
        || error.to_string().contains("fifthpeg book")
}

/// A word that has no place in the command.
fn one_too_many(word: &str, usage: &str) -> String {
    let word = text::shown(word);
    if usage.contains("fifthpeg track") {
        format!(
            "one track at a time is made: leave \"{word}\" out, or put a name of several words \
             in quotes"
        )
    } else if usage.contains("fifthpeg listen") {
        format!("\"{word}\" stands alone: --help lists what there is")
    } else if usage.contains("fifthpeg report") {
        format!(
            "\"{word}\" stands alone: a name of several words goes in quotes after --student or \
             --class"
        )
    } else if usage.contains("fifthpeg book") {
        format!("\"{word}\" is one too many: put a name or note of several words in quotes")
    } else if usage.contains("fifthpeg neck") {
        format!("one neck at a time is drawn: leave \"{word}\" out")
    } else if usage.contains("fifthpeg join") {
        format!(
            "one lesson at a time is joined: leave \"{word}\" out, or put a name of several \
             words in quotes"
        )
    } else {
        format!(
            "\"{word}\" stands alone: a name of several words goes in quotes after --name, and \
             --help lists what else there is"
        )
    }
}

/// `--name <NAME>` without its value, and `[NECK]` as it is.
fn bare(shown: &str) -> String {
    match shown.split_once(' ') {
        Some((flag, _)) if flag.starts_with('-') => flag.to_owned(),
        _ => shown.to_owned(),
    }
}

fn example(flag: &str) -> &'static str {
    if flag.starts_with("--as") {
        "--as Mia"
    } else if flag.starts_with("--friends") {
        "--friends"
    } else {
        "what --help shows"
    }
}

fn context(error: &clap::Error, kind: ContextKind) -> Option<String> {
    match error.get(kind)? {
        ContextValue::String(one) => Some(one.clone()),
        ContextValue::Strings(some) => some.first().cloned(),
        ContextValue::StyledStr(text) => Some(text.to_string()),
        _ => None,
    }
}

fn first_line(message: &str) -> String {
    let line = message.lines().next().unwrap_or("that cannot be used");
    line.trim_start_matches("error: ").to_owned()
}
