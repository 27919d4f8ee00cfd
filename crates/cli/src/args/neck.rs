//! What `fifthpeg neck` takes.

use std::path::PathBuf;

use clap::Args;
use fifthpeg_front::values::{CapoArg, parse_capo};

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
