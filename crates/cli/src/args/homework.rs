//! What `fifthpeg homework` takes.

use std::path::PathBuf;

use clap::Args;
use fifthpeg_front::values::parse_seed;
use fifthpeg_practice::track::kinds::FileKind;
use fifthpeg_practice::track::shape::TrackShape;
use fifthpeg_vocab::Choice;

/// `fifthpeg homework`.
#[derive(Debug, Args)]
pub struct HomeworkArgs {
    /// Whose homework; may be left out if the lesson book has only one class,
    /// or only one that did more than practise alone
    #[arg(long, value_name = "NAME")]
    pub class: Option<String>,

    /// The folder that each student's own folder goes into; it is made if it is
    /// not there
    #[arg(long, value_name = "FOLDER")]
    pub to: PathBuf,

    /// The lesson book; without it, the one kept in the usual place
    #[arg(long, value_name = "FILE")]
    pub book: Option<PathBuf>,

    /// Where calls are picked from; without it, each student's last reach, and
    /// suggested is the one that suits each next
    #[arg(long, value_name = "REACH")]
    pub reach: Option<String>,

    /// What the tracks are like.
    #[command(flatten)]
    pub shape: TrackShape,

    /// Make the same homework again from the same lesson book; each answer sheet
    /// tells how to make its own track without it
    #[arg(long, value_name = "NUMBER", value_parser = parse_seed, allow_negative_numbers = true)]
    pub seed: Option<u64>,

    /// Which files of a track: wav, flac, midi (a Standard MIDI File), html and
    /// text (answer sheets); several with commas between
    #[arg(long, value_name = "KINDS", value_delimiter = ',', default_value = "flac,midi,html,text", value_parser = FileKind::from_word)]
    pub write: Vec<FileKind>,

    /// Make folders of older homework anew; what else lies in them is kept
    #[arg(long)]
    pub replace: bool,
}
