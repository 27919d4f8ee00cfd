//! What `fifthpeg check` takes.

use clap::{Args, ValueEnum};

/// `fifthpeg check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Look from here whether another machine's lesson can be reached, and at
    /// nothing else
    #[arg(long, value_name = "ADDRESS:PORT", conflicts_with_all = ["output", "microphone"])]
    pub reach: Option<String>,

    /// The output to look at: device, device:NAME, wav:FILE or none
    #[arg(long, value_name = "OUTPUT", default_value = "device")]
    pub output: String,

    /// The microphone to look at: microphone, microphone:NAME, wav:FILE or none
    #[arg(long, value_name = "INPUT", default_value = "microphone")]
    pub microphone: String,

    /// text, or json for a program that reads it
    #[arg(
        long = "as",
        id = "form",
        value_name = "FORM",
        value_enum,
        default_value = "text",
        hide_possible_values = true
    )]
    pub form: CheckForm,
}

/// How it is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum CheckForm {
    /// A line for each.
    Text,
    /// One JSON object.
    Json,
}
