//! What `fifthpeg track` takes.

use std::path::PathBuf;

use clap::Args;
use fifthpeg_front::values::parse_seed;
use fifthpeg_practice::track::kinds::FileKind;
use fifthpeg_practice::track::shape::TrackShape;
use fifthpeg_vocab::Choice;

use super::neck_choice::NeckChoice;

/// `fifthpeg track`.
#[derive(Debug, Args)]
pub struct TrackArgs {
    /// What the files are called, and in which folder they go; each gets its own
    /// ending
    #[arg(value_name = "NAME", default_value = "practice")]
    pub name: PathBuf,

    /// The neck.
    #[command(flatten)]
    pub neck: NeckChoice,

    /// Where calls are picked from
    ///
    /// A ready step (two-open, open, octave, octave-along, twelve, whole), or a
    /// reach of your own: "strings=1,2 frets=0-5 pitches=D3-D4 notes=G:major".
    /// Without it, octave; with --notes, whole; with --student, that student's
    /// last one, and suggested is the one that suits next.
    #[arg(long, value_name = "REACH")]
    pub reach: Option<String>,

    /// Call these notes alone, such as F#4,A4; with numbers, such as F#4=3,A4=1,
    /// in that proportion
    ///
    /// A name without its octave, such as F#, means every octave in reach. One
    /// named twice comes more often.
    #[arg(long, value_name = "NOTES", value_delimiter = ',')]
    pub notes: Vec<String>,

    /// Make it from what this student missed, by the lesson book: the likelier a
    /// note is missed, the more often it comes
    ///
    /// Neck, reach, voice and A4 are those of the student's last lesson.
    #[arg(long, value_name = "NAME", conflicts_with_all = ["notes", "neck", "neck_file", "capo"])]
    pub student: Option<String>,

    /// The student's class; may be left out where the book has one alone
    #[arg(long, value_name = "NAME", requires = "student")]
    pub class: Option<String>,

    /// The lesson book; without it, the one kept in the usual place
    #[arg(long, value_name = "FILE", requires = "student")]
    pub book: Option<PathBuf>,

    /// What it is like.
    #[command(flatten)]
    pub shape: TrackShape,

    /// Make the same track again as another of this seed; the sheet tells it
    #[arg(long, value_name = "NUMBER", value_parser = parse_seed, allow_negative_numbers = true)]
    pub seed: Option<u64>,

    /// Which files: wav, flac, midi (a Standard MIDI File), html and text (answer
    /// sheets); several with commas between
    #[arg(long, value_name = "KINDS", value_delimiter = ',', default_value = "wav,flac,midi,html,text", value_parser = FileKind::from_word)]
    pub write: Vec<FileKind>,

    /// Write over files that are there already
    #[arg(long)]
    pub replace: bool,
}
