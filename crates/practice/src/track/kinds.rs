//! The kinds of files that a track can be written to.

use fifthpeg_vocab::choice::{Choice, Row, row};

/// One kind of file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FileKind {
    /// Sound, unpacked.
    Wav,
    /// Sound, packed without loss.
    Flac,
    /// A Standard MIDI File.
    Midi,
    /// The answer sheet, for a browser and for printing.
    Html,
    /// The answer sheet as plain text.
    Text,
}

impl FileKind {
    /// Every kind.
    pub const KINDS: [FileKind; 5] = [
        FileKind::Wav,
        FileKind::Flac,
        FileKind::Midi,
        FileKind::Html,
        FileKind::Text,
    ];

    /// The ending of its name.
    pub const fn ending(self) -> &'static str {
        match self {
            FileKind::Wav => "wav",
            FileKind::Flac => "flac",
            FileKind::Midi => "mid",
            FileKind::Html => "html",
            FileKind::Text => "txt",
        }
    }
}

impl Choice for FileKind {
    const WHAT: &'static str = "kind of file";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Wav,  0, "wav",  "WAV",         "sound, unpacked"),
        row(Self::Flac, 1, "flac", "FLAC",        "sound, packed without loss"),
        row(Self::Midi, 2, "midi", "MIDI",        "a Standard MIDI File"),
        row(Self::Html, 3, "html", "a page",      "the answer sheet, for a browser"),
        row(Self::Text, 4, "text", "plain text",  "the answer sheet as plain text"),
    ];
}
