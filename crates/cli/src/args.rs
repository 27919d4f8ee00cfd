//! The command line: what it takes, and one sentence for each way it can be
//! wrong.

use std::net::IpAddr;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use fifthpeg_front::choice::Choice;
use fifthpeg_front::values::{
    CapoArg, parse_a4, parse_bind, parse_capo, parse_level, parse_look, parse_name, parse_patience,
    parse_port, parse_room,
};
use fifthpeg_lesson::Picking;
use fifthpeg_lesson::message::{Sounding, Voice};
use fifthpeg_link::origin::HostName;
use fifthpeg_sound::Trim;

use crate::book_cmd::args::BookArgs;
use crate::diagnostics::LogOptions;
use crate::ear_options::EarOptions;
use crate::homework_cmd::args::HomeworkArgs;
use crate::lesson_book::BookOptions;
use crate::lesson_rules::LessonRules;
use crate::lock_options::{DoorOptions, EntryOptions};
use crate::solo::args::SoloArgs;
use crate::track_cmd::args::TrackArgs;

/// Where a host listens that names no port, so that an address once noted stays
/// the same. Chosen freely; where it is taken, any free one serves.
pub const USUAL_PORT: u16 = 4750;

/// Hear one note, find it on the neck.
///
/// One machine hosts a lesson; the others join it. The host calls a note,
/// every terminal sounds it at the same instant, and everyone searches for it
/// on the neck: listen, try, answer.
#[derive(Debug, Parser)]
#[command(name = "fifthpeg", version, disable_help_subcommand = true)]
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
        }
    }
}

/// Which neck, for `host`.
#[derive(Debug, Args)]
pub struct NeckChoice {
    /// Which ready neck everyone holds; `fifthpeg neck --list` names them
    #[arg(long, value_name = "NECK", default_value = "banjo-open-g")]
    pub neck: String,

    /// A neck of your own, described in a TOML file
    ///
    /// `fifthpeg neck banjo-open-g --toml` prints one to start from.
    #[arg(long, value_name = "FILE", conflicts_with = "neck")]
    pub neck_file: Option<PathBuf>,

    /// Put a capo at this fret
    ///
    /// A short string's own capo or hook follows by as many frets, so that the
    /// tuning stays. A second number puts it elsewhere, counted from the main
    /// nut: `--capo 2,8`; 0 leaves the short string open: `--capo 2,0`.
    #[arg(long, value_name = "FRET[,SHORT]", value_parser = parse_capo, allow_negative_numbers = true)]
    pub capo: Option<CapoArg>,
}

/// How the program shows and sounds things, for `host` and `join`.
#[derive(Debug, Args)]
pub struct Manner {
    /// Where sound goes: device, device:NAME, wav:FILE or none
    ///
    /// With no sound card the lesson goes on without sound, and says so.
    #[arg(long, value_name = "OUTPUT", default_value = "device")]
    pub output: String,

    /// How loud, from 0 to 100 percent of a bounded ceiling
    ///
    /// Begin low with headphones on. Safe listening is about 80 dB(A) for 40
    /// hours a week, 75 dB(A) for children (WHO-ITU H.870).
    #[arg(long, value_name = "PERCENT", default_value = "60", value_parser = parse_level, allow_negative_numbers = true)]
    pub level: u8,

    /// How much later sound leaves the output than the sound system says, in
    /// milliseconds, for this run
    ///
    /// Tones are then asked for that much sooner, and times counted from that much
    /// later. Without it, what `fifthpeg listen` has kept for this output counts;
    /// 0 leaves that out.
    #[arg(long, value_name = "MS", value_parser = fifthpeg_listen::trims::parse, allow_negative_numbers = true)]
    pub trim: Option<Trim>,

    /// Lines in, lines out, for a screen reader, a pipe or a script
    ///
    /// This is also what you get when input or output is not a terminal.
    /// `help` lists the commands.
    #[arg(long)]
    pub plain: bool,

    /// Read commands from a file first, then from standard input
    ///
    /// The lines are those of plain mode; `#` begins a comment. The whole file
    /// is checked before anything starts. At the end of all input a host ends
    /// the lesson and a student leaves it.
    #[arg(long, value_name = "FILE")]
    pub script: Option<PathBuf>,

    /// Draw without colour (as the NO_COLOR environment variable also asks)
    #[arg(long, alias = "no-color")]
    pub no_colour: bool,

    /// Write F#4 and not F♯4, and draw with plain signs; plain mode always does
    #[arg(long)]
    pub ascii: bool,

    /// Draw the neck without note names: everything goes by place and ear
    #[arg(long)]
    pub no_names: bool,

    /// Draw the neck with the nut on the right
    #[arg(long)]
    pub left_handed: bool,
}

/// `fifthpeg host`.
#[derive(Debug, Args)]
pub struct HostArgs {
    /// The lesson's name, as others see it
    #[arg(long, value_name = "NAME", default_value = "Lesson", value_parser = parse_name)]
    pub name: String,

    /// The neck.
    #[command(flatten)]
    pub neck: NeckChoice,

    /// Which rules the lesson begins with.
    #[command(flatten)]
    pub rules: LessonRules,

    /// Take turns to call; you host and play as well
    #[arg(long, requires = "name_in_lesson")]
    pub friends: bool,

    /// Your own name in a lesson of friends
    #[arg(long = "as", id = "name_in_lesson", value_name = "NAME", requires = "friends", value_parser = parse_name)]
    pub name_in_lesson: Option<String>,

    /// Who sounds a call: every-terminal (all at one instant), host-speakers or
    /// on-asking (each terminal when its student asks)
    #[arg(long, value_name = "WHO", default_value = "every-terminal", value_parser = Sounding::from_word)]
    pub sounding: Sounding,

    /// How notes are picked: random (plainly) or teaching (by what each student
    /// who is here finds and misses)
    #[arg(long, value_name = "HOW", default_value = "random", value_parser = Picking::from_word)]
    pub picking: Picking,

    /// How many students there is room for
    #[arg(long, value_name = "COUNT", default_value = "100", value_parser = parse_room, allow_negative_numbers = true)]
    pub max_students: u32,

    /// Listen on this port; 0 takes any free one. Without it, 4750, or any free
    /// one if that is taken
    #[arg(long, value_name = "PORT", value_parser = parse_port, allow_negative_numbers = true)]
    pub port: Option<u16>,

    /// Listen on this address of the machine alone; otherwise on all of them
    #[arg(long, value_name = "ADDRESS", value_parser = parse_bind)]
    pub bind: Option<IpAddr>,

    /// A further name of this machine, as a web page of its own may be reached
    /// by: NAME or NAME:PORT
    ///
    /// Pages from anywhere else are turned away. The machine's addresses and its
    /// own name need not be given.
    #[arg(long = "host-name", value_name = "NAME")]
    pub host_names: Vec<HostName>,

    /// Begin with the note hidden on this screen, for a projector
    #[arg(long)]
    pub hide_target: bool,

    /// Do not announce the lesson on the local network
    #[arg(long)]
    pub no_announce: bool,

    /// Who gets in.
    #[command(flatten)]
    pub door: DoorOptions,

    /// Where the lesson is written down.
    #[command(flatten)]
    pub book: BookOptions,

    /// How the host's own instrument is listened to.
    #[command(flatten)]
    pub ear: EarOptions,

    /// How it looks and sounds.
    #[command(flatten)]
    pub manner: Manner,
}

/// `fifthpeg join`.
#[derive(Debug, Args)]
pub struct JoinArgs {
    /// The lesson's name, or ADDRESS:PORT as the host prints it
    #[arg(value_name = "LESSON|ADDRESS:PORT", conflicts_with = "list")]
    pub lesson: Option<String>,

    /// Your name in the lesson: a first name or a nickname is enough
    ///
    /// A machine with the class key of one student may leave it out.
    #[arg(long = "as", id = "name_in_lesson", value_name = "NAME", value_parser = parse_name)]
    pub name_in_lesson: Option<String>,

    /// Delete the class keys of this machine, and join nothing
    #[arg(long, conflicts_with_all = ["lesson", "list", "name_in_lesson"])]
    pub forget_keys: bool,

    /// List the lessons that are running on the local network
    #[arg(long)]
    pub list: bool,

    /// With --list, how many seconds to look
    #[arg(long, value_name = "SECONDS", default_value = "2", value_parser = parse_look, allow_negative_numbers = true, requires = "list")]
    pub look: u16,

    /// How to get in.
    #[command(flatten)]
    pub entry: EntryOptions,

    /// In plain mode, how many seconds a script or pipe waits to be let in
    /// before its lines are read
    ///
    /// Longer if the host has it wait.
    #[arg(long, value_name = "SECONDS", default_value_t = 10, value_parser = parse_patience, allow_negative_numbers = true, conflicts_with = "list")]
    pub patience: u16,

    /// How the instrument is listened to.
    #[command(flatten)]
    pub ear: EarOptions,

    /// How it looks and sounds.
    #[command(flatten)]
    pub manner: Manner,
}

/// `fifthpeg neck`.
#[derive(Debug, Args)]
pub struct NeckArgs {
    /// Which ready neck; `--list` names them
    #[arg(value_name = "NECK", default_value = "banjo-open-g")]
    pub neck: String,

    /// A neck of your own, described in a TOML file
    #[arg(long, value_name = "FILE", conflicts_with = "neck")]
    pub neck_file: Option<PathBuf>,

    /// Put a capo at this fret; a short string's own follows, or sits where a
    /// second number says (0: nowhere)
    #[arg(long, value_name = "FRET[,SHORT]", value_parser = parse_capo, allow_negative_numbers = true)]
    pub capo: Option<CapoArg>,

    /// List the ready necks
    #[arg(long, conflicts_with_all = ["neck", "neck_file", "capo", "places", "reach", "toml"])]
    pub list: bool,

    /// Every place of a pitch, such as C4, or of a note name, such as C: said
    /// as STRING/FRET, and drawn
    #[arg(long, value_name = "PITCH")]
    pub places: Option<String>,

    /// The pitches of a reach and their places in it: said as STRING/FRET, and
    /// drawn
    #[arg(long, value_name = "REACH", conflicts_with = "places")]
    pub reach: Option<String>,

    /// Print the neck as a TOML file to change and use with --neck-file
    #[arg(long, conflicts_with_all = ["places", "reach"])]
    pub toml: bool,

    /// Write Gb, not F#
    #[arg(long)]
    pub flats: bool,

    /// Write F#4 and not F♯4, and draw with plain signs
    #[arg(long)]
    pub ascii: bool,

    /// Draw the neck with the nut on the right
    #[arg(long)]
    pub left_handed: bool,
}

/// `fifthpeg listen`.
#[derive(Debug, Args)]
pub struct ListenArgs {
    /// The neck whose strings are tuned.
    #[command(flatten)]
    pub neck: NeckChoice,

    /// Frequency of A4 in hertz, from 390 to 470
    #[arg(long, value_name = "HZ", default_value = "440", value_parser = parse_a4, allow_negative_numbers = true)]
    pub a4: f64,

    /// The voice that sounds a string's pitch: banjo, guitar or plain
    #[arg(long, value_name = "VOICE", default_value = "banjo", value_parser = Voice::from_word)]
    pub voice: Voice,

    /// Write Gb, not F#
    #[arg(long)]
    pub flats: bool,

    /// What to listen to: microphone, microphone:NAME, wav:FILE or none
    ///
    /// Sound stays on this machine and is written nowhere; the screen shows
    /// whenever it listens.
    #[arg(long, value_name = "MICROPHONE", default_value = "microphone")]
    pub microphone: String,

    /// You hear the tones on headphones: keep listening while they sound
    #[arg(long)]
    pub headphones: bool,

    /// List the microphones that --microphone can name
    #[arg(long)]
    pub list: bool,

    /// How it looks and sounds.
    #[command(flatten)]
    pub manner: Manner,
}

/// `fifthpeg report`.
#[derive(Debug, Args)]
pub struct ReportArgs {
    /// The lesson book; without it, the one kept in the usual place
    #[arg(long, value_name = "FILE")]
    pub book: Option<PathBuf>,

    /// The class; may be left out where the book has one alone, or one alone
    /// that had more than solo lessons
    #[arg(long, value_name = "NAME")]
    pub class: Option<String>,

    /// One student over time
    #[arg(long, value_name = "NAME")]
    pub student: Option<String>,

    /// One lesson: last, its day (2026-10-13), or its day and time
    #[arg(long, value_name = "WHICH")]
    pub lesson: Option<String>,

    /// text for a terminal, page (HTML, to read and print), csv or json
    #[arg(
        long = "as",
        id = "form",
        value_name = "FORM",
        value_enum,
        default_value = "text",
        hide_possible_values = true
    )]
    pub form: ReportForm,

    /// Write the report into this file, made for you alone to read; - is
    /// standard output
    #[arg(long, value_name = "FILE")]
    pub to: Option<PathBuf>,

    /// Write over an older report of that name
    #[arg(long, requires = "to")]
    pub replace: bool,

    /// Numbers in place of the students' names, for a lesson or a class
    #[arg(long, conflicts_with = "student")]
    pub without_names: bool,

    /// Write Gb, not F#
    #[arg(long)]
    pub flats: bool,

    /// Write F#4 and not F♯4
    #[arg(long)]
    pub ascii: bool,

    /// Draw necks with the nut on the right
    #[arg(long)]
    pub left_handed: bool,
}

/// The forms of a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum ReportForm {
    /// Lines for a terminal.
    Text,
    /// A page for a browser and for paper.
    Page,
    /// For a spreadsheet.
    Csv,
    /// For programs.
    Json,
}

#[cfg(test)]
mod tests {
    use fifthpeg_lesson::marking::{Marking, Telling};

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
        for (id, words) in [
            ("sounding", Sounding::words()),
            ("marking", Marking::words()),
            ("telling", Telling::words()),
            ("voice", Voice::words()),
            ("picking", Picking::words()),
        ] {
            for word in words {
                assert!(help(id).contains(word), "--{id} does not name {word}");
            }
        }
    }
}
