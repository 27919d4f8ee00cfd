//! The kinds of files that a track can be written to.

use fifthpeg_front::choice::Choice;

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
    const ALL: &'static [(Self, &'static str, &'static str)] = &[
        (Self::Wav, "wav", "sound, unpacked"),
        (Self::Flac, "flac", "sound, packed without loss"),
        (Self::Midi, "midi", "a Standard MIDI File"),
        (Self::Html, "html", "the answer sheet, for a browser"),
        (Self::Text, "text", "the answer sheet as plain text"),
    ];
}
