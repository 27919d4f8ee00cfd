//! The fifthpeg program: its arguments and commands.

pub mod about;
pub mod args;
pub mod book_cmd;
pub mod check_cmd;
pub mod complain;
pub mod diagnostics;
pub mod door;
pub mod ear_options;
pub mod homework_cmd;
pub mod host_cmd;
pub mod join_cmd;
pub mod lesson_book;
pub mod lesson_rules;
pub mod listen_cmd;
pub mod lock_options;
pub mod neck_cmd;
pub mod opening;
pub mod own_student;
pub mod own_window;
pub mod pages_cmd;
pub mod report_cmd;
pub mod result;
pub mod solo;
pub mod start;
pub mod track_cmd;

use std::ffi::OsString;
use std::process::ExitCode;
use std::time::Instant;

use clap::Parser;
use clap::error::ErrorKind;
use fifthpeg_front::failure::Failure;
use fifthpeg_front::out;

use args::{Cli, Command};

/// Does what the command line asks, and says how it ended.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    let words = arguments.len();
    let asked = match words {
        ..=1 => start::words(),
        _ => Ok(Some(arguments)),
    };
    let outcome = match asked {
        Ok(Some(arguments)) => parsed(arguments),
        Ok(None) => Ok(()),
        Err(failure) => Err(failure),
    };
    let code = match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            out::note(&format!("error: {failure}"));
            (&failure).into()
        }
    };
    own_window::wait_to_be_read(words);
    code
}

fn parsed(arguments: Vec<OsString>) -> Result<(), Failure> {
    match Cli::try_parse_from(arguments) {
        Ok(cli) => logged(cli),
        Err(error)
            if matches!(
                error.kind(),
                ErrorKind::DisplayHelp | ErrorKind::DisplayVersion
            ) =>
        {
            // Whoever stops reading the help has read enough.
            out::document(&error.render().to_string())
        }
        Err(error) => Err(Failure::usage(complain::sentence(&error))),
    }
}

/// Does it with diagnostics, where they are asked for.
fn logged(cli: Cli) -> Result<(), Failure> {
    // Held until the end, which writes what waits.
    let _log = cli.log.start()?;
    let began = Instant::now();
    diagnostics::started(cli.command.word());
    let outcome = dispatch(cli.command);
    diagnostics::ended(&outcome, began);
    outcome
}

fn dispatch(command: Command) -> Result<(), Failure> {
    match command {
        Command::Book(args) => book_cmd::run(&args),
        Command::Host(args) => host_cmd::run(&args),
        Command::Join(args) => join_cmd::run(&args),
        Command::Solo(args) => solo::run(&args),
        Command::Neck(args) => neck_cmd::run(&args),
        Command::Listen(args) => listen_cmd::run(&args),
        Command::Report(args) => report_cmd::run(&args),
        Command::Track(args) => track_cmd::run(&args),
        Command::Homework(args) => homework_cmd::run(*args),
        Command::Check(args) => check_cmd::run(&args),
        Command::Completions(args) => pages_cmd::completions(&args),
        Command::ManPages(args) => pages_cmd::man_pages(&args),
    }
}
