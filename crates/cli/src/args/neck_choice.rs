//! Which neck, for every command that takes one.

use std::path::PathBuf;

use clap::Args;
use fifthpeg_front::values::{CapoArg, parse_capo};

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
