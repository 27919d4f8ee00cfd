//! The command line: what it takes, and one sentence for each way it can be
//! wrong.

pub mod book;
pub mod check;
pub mod homework;
pub mod host;
pub mod join;
pub mod listen;
pub mod manner;
pub mod neck;
pub mod neck_choice;
pub mod pages;
pub mod report;
pub mod solo;
pub mod track;

use clap::{Parser, Subcommand};

use crate::diagnostics::LogOptions;
use book::BookArgs;
use check::CheckArgs;
use homework::HomeworkArgs;
use host::HostArgs;
use join::JoinArgs;
use listen::ListenArgs;
use neck::NeckArgs;
use pages::{CompletionsArgs, ManPagesArgs};
use report::ReportArgs;
use solo::SoloArgs;
use track::TrackArgs;

/// Hear one note, find it on the neck.
///
/// One machine hosts a lesson; the others join it. The host calls a note,
/// every terminal sounds it at the same instant, and everyone searches for it
/// on the neck: listen, try, answer.
#[derive(Debug, Parser)]
#[command(
    name = "fifthpeg",
    version,
    long_version = crate::about::version(),
    disable_help_subcommand = true
)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,

    /// What is written about the program itself.
    #[command(flatten)]
    pub log: LogOptions,
}

/// What the program can be asked to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Run a lesson that others join
    ///
    /// The lesson is announced on the local network under its name, so that
    /// `fifthpeg join` finds it there. It ends with `end`, at the end of its
    /// input, or on Ctrl-C, and then prints what everyone did.
    Host(Box<HostArgs>),
    /// Join a lesson, or list the lessons that are running
    ///
    /// With one lesson running on the local network, its name may be left out.
    /// Across networks, give the address and port that the host prints.
    Join(Box<JoinArgs>),
    /// Have the whole lesson alone, without a network
    ///
    /// Notes are called one after the other; you hear, search and answer as in a
    /// lesson with others, and it is written into the same lesson book. Nothing
    /// is called before you are ready.
    Solo(Box<SoloArgs>),
    /// Draw a neck, the places of a pitch, or the pitches of a reach
    Neck(Box<NeckArgs>),
    /// Tune the strings, and try the microphone out
    ///
    /// Needs no lesson and no network. It sounds each string's pitch for you to
    /// tune to by ear, shows how near a plucked string is when you ask, says
    /// whether the room is quiet enough, and measures how late sound comes back
    /// to the microphone.
    Listen(Box<ListenArgs>),
    /// Make a report from the lesson book: a student, a lesson or a class
    ///
    /// Without --student and --lesson it is about the whole class. A report
    /// about one student names nobody else.
    Report(Box<ReportArgs>),
    /// Look after the lesson book: its people, lessons, notes, copies and exports
    ///
    /// Names can be changed, two entries of one person made one, one person's
    /// data removed wholly, and two teachers' books made one.
    Book(Box<BookArgs>),
    /// Make a practice track: calls with gaps to search in, and an answer sheet
    ///
    /// Writes sound (WAV and FLAC), a Standard MIDI File and an answer sheet with
    /// every place of each note. The same seed makes the same track again.
    Track(Box<TrackArgs>),
    /// Make homework for everyone of a class, each in a folder of their own
    ///
    /// Each folder holds a practice track of what that student missed by the
    /// lesson book, its answer sheet, a report about that student alone, and a
    /// page that says what to do in which order.
    Homework(Box<HomeworkArgs>),
    /// Look at this machine before a class: sound, network, firewall, book, disk, clock
    ///
    /// One line for each, with what to do where something is missing. Nothing in it
    /// names anybody: it can be sent to whoever helps.
    Check(CheckArgs),
    /// Print what makes a shell complete the commands and options of fifthpeg
    Completions(CompletionsArgs),
    /// Write the manual pages, one for each command, into a folder
    ManPages(ManPagesArgs),
}

impl Command {
    /// The word that it is asked for with.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Host(_) => "host",
            Self::Join(_) => "join",
            Self::Solo(_) => "solo",
            Self::Neck(_) => "neck",
            Self::Listen(_) => "listen",
            Self::Report(_) => "report",
            Self::Book(_) => "book",
            Self::Track(_) => "track",
            Self::Homework(_) => "homework",
            Self::Check(_) => "check",
            Self::Completions(_) => "completions",
            Self::ManPages(_) => "man-pages",
        }
    }
}

#[cfg(test)]
mod tests {
    use fifthpeg_vocab::RULES;

    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_well_formed() {
        Cli::command().debug_assert();
    }

    #[test]
    fn every_option_says_what_it_does() {
        for command in Cli::command().get_subcommands() {
            for argument in command.get_arguments() {
                assert!(
                    argument.get_help().is_some(),
                    "{} {} has no help",
                    command.get_name(),
                    argument.get_id()
                );
            }
        }
    }

    #[test]
    fn the_help_of_a_choice_names_every_word() {
        let command = Cli::command();
        let host = command.find_subcommand("host").expect("host");
        let help = |id: &str| {
            let argument = host.get_arguments().find(|a| a.get_id() == id);
            argument.expect(id).get_help().expect(id).to_string()
        };
        for rule in RULES.iter().filter(|rule| !rule.is_on_or_off()) {
            for choice in (rule.choices)() {
                let said = help(rule.word);
                assert!(
                    said.contains(choice.word.as_ref()),
                    "--{} does not name {}",
                    rule.word,
                    choice.word
                );
            }
        }
    }
}
