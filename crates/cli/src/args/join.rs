//! What `fifthpeg join` takes.

use clap::Args;
use fifthpeg_front::values::{parse_look, parse_name, parse_patience};

use super::manner::Looks;
use crate::ear_options::EarOptions;
use crate::lock_options::EntryOptions;

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
    pub manner: Looks,
}
