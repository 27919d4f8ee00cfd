//! The `fifthpeg` program.

use std::process::ExitCode;

fn main() -> ExitCode {
    fifthpeg_cli::run(std::env::args_os())
}
