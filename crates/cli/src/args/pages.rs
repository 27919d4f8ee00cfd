//! What `fifthpeg completions` and `fifthpeg man-pages` take.

use std::path::PathBuf;

use clap::Args;
use clap_complete::Shell;

/// `fifthpeg completions`.
#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// Which shell
    #[arg(value_name = "SHELL", value_enum)]
    pub shell: Shell,
}

/// `fifthpeg man-pages`.
#[derive(Debug, Args)]
pub struct ManPagesArgs {
    /// The folder; it is made if it is not there
    #[arg(value_name = "FOLDER")]
    pub folder: PathBuf,
}
