//! What `fifthpeg listen` takes.

use clap::Args;
use fifthpeg_front::values::parse_a4;
use fifthpeg_vocab::Choice;
use fifthpeg_vocab::Voice;

use super::manner::Looks;
use super::neck_choice::NeckChoice;

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
    pub manner: Looks,
}
