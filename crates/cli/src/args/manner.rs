//! How the program shows and sounds things.

use std::path::PathBuf;

use clap::Args;
use fifthpeg_front::values::parse_level;
use fifthpeg_sound::Trim;

/// How the program shows and sounds things, for `host` and `join`.
#[derive(Debug, Args)]
pub struct Looks {
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
