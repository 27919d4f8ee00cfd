//! The page to begin with: what to do in which order. The same words for the
//! browser and as plain text; for the student, and for whoever helps.

use fifthpeg_core::text;
use fifthpeg_lesson::learning::suggest::WIDEN_FROM;
use fifthpeg_report::dates::Date;

use crate::track::kinds::FileKind;
use crate::track::practice::Practice;
use crate::track::sheet;
use crate::track::student::Known;

/// How the notes that come more often are told of.
const OFTEN: &str = "The likelier a note is to be missed, the more often it comes:";

/// By this a page is known to be ours, and its folder as one to be made anew.
pub const MARK: &str = "<meta name=\"generator\" content=\"fifthpeg homework\">";

/// What the report is called.
pub const REPORT: &str = "report.html";
/// The same as text.
pub const REPORT_TEXT: &str = "report.txt";

/// A piece of a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece {
    /// Words.
    Words(String),
    /// What a step is called.
    Strong(&'static str),
    /// A file of the folder.
    File(String),
}

/// A sentence or a few.
pub type Paragraph = Vec<Piece>;

/// What the page says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StartWords {
    /// Its title.
    pub title: String,
    /// The class, the day, the size.
    pub about: String,
    /// What may happen to ears.
    pub caution: &'static str,
    /// What to do, in order.
    pub steps: Vec<Paragraph>,
    /// What is on the track, and why.
    pub track: Vec<String>,
    /// For whoever helps.
    pub helpers: Vec<Paragraph>,
    /// Each file, and what it is.
    pub files: Vec<(String, &'static str)>,
    /// Whose data this is.
    pub privacy: String,
    /// The sound that a browser can play, if there is one.
    pub sound: Option<(String, &'static str)>,
    /// The answer sheet, if there is one.
    pub sheet: Option<String>,
}

/// What a folder is made for.
#[derive(Debug, Clone, Copy)]
pub struct Folder<'a> {
    /// The class.
    pub class: &'a str,
    /// The day.
    pub made: Date,
    /// The student.
    pub known: &'a Known,
    /// The track.
    pub practice: &'a Practice,
    /// Its kinds of files.
    pub kinds: &'a [FileKind],
}

fn words(words: impl Into<String>) -> Piece {
    Piece::Words(words.into())
}

impl Folder<'_> {
    /// The page.
    pub fn start(&self) -> StartWords {
        let name = &self.known.name;
        let plan = &self.practice.plan;
        StartWords {
            title: format!("Practice at home: {name}"),
            about: format!(
                "{}. Made on {}. {} in {} minutes.",
                self.class,
                self.made.long(),
                text::count(plan.calls.len(), "call"),
                sheet::clock(plan.length)
            ),
            caution: sheet::CAUTION,
            steps: self.steps(),
            track: self.track(),
            helpers: self.helpers(),
            files: self.files(),
            privacy: format!(
                "This folder says how {name} fared. Mind who may see it, and delete it once it is no longer needed."
            ),
            sound: [(FileKind::Flac, "audio/flac"), (FileKind::Wav, "audio/wav")]
                .into_iter()
                .find_map(|(kind, of)| Some((self.file(kind)?, of))),
            sheet: self.sheet(),
        }
    }

    /// What the one file is called that has all of it inside, to be sent as it is;
    /// only where there is a sound that a browser can play.
    pub fn to_send(&self) -> Option<String> {
        let sounds = [FileKind::Flac, FileKind::Wav];
        let heard = sounds.into_iter().any(|kind| self.kinds.contains(&kind));
        heard.then(|| self.named_to_send())
    }

    fn named_to_send(&self) -> String {
        format!("{}-to-send.html", self.practice.title)
    }

    /// The names of all files that such a folder may hold.
    pub fn ours(&self) -> Vec<String> {
        let track = FileKind::KINDS.iter().map(|kind| self.named(*kind));
        let fixed = ["index.html", "start.txt", REPORT, REPORT_TEXT].map(str::to_owned);
        let neck = self.practice.neck_file.iter().map(|(name, _)| name.clone());
        let to_send = [self.named_to_send()];
        track.chain(fixed).chain(to_send).chain(neck).collect()
    }

    fn named(&self, kind: FileKind) -> String {
        format!("{}.{}", self.practice.title, kind.ending())
    }

    /// The file of a kind, if it is made.
    fn file(&self, kind: FileKind) -> Option<String> {
        self.kinds.contains(&kind).then(|| self.named(kind))
    }

    /// What is played: packed sound before unpacked before notes.
    fn played(&self) -> String {
        let kinds = [FileKind::Flac, FileKind::Wav, FileKind::Midi];
        let first = kinds.into_iter().find_map(|kind| self.file(kind));
        first.unwrap_or_else(|| "the track".to_owned())
    }

    fn sheet(&self) -> Option<String> {
        self.file(FileKind::Html)
            .or_else(|| self.file(FileKind::Text))
    }

    fn steps(&self) -> Vec<Paragraph> {
        let settings = &self.practice.settings;
        let mut steps = vec![vec![
            Piece::Strong("Turn down"),
            words(
                " headphones and loudspeakers before anything sounds. Take your instrument. \
                 Then play ",
            ),
            Piece::File(self.played()),
            words(", and turn up only as far as is comfortable."),
        ]];
        if settings.strings_first {
            steps.push(vec![
                Piece::Strong("Tune."),
                words(" First the open strings sound, the lowest first. Tune yours to them."),
            ]);
        }
        steps.push(vec![
            Piece::Strong("Hear."),
            words(" A note sounds. Only listen."),
        ]);
        steps.push(vec![
            Piece::Strong("Sing"),
            words(" or hum that note. Any octave will do."),
        ]);
        steps.push(vec![
            Piece::Strong("Search"),
            words(format!(
                " for it on your instrument until it sounds the same. Trying places is how it is \
                 found, and no mistake. {} If you need longer, stop the track, and let it go on \
                 when you are ready.",
                self.practice.gap_words()
            )),
        ]);
        let answer = self.practice.answer_words();
        let answer = answer.map_or_else(String::new, |words| format!(" {words}"));
        steps.push(vec![
            Piece::Strong("Compare."),
            words(format!(
                "{answer} The note sounds again: play along. Then the next one comes."
            )),
        ]);
        if let Some(sheet) = self.sheet() {
            steps.push(vec![
                Piece::Strong("Check"),
                words(" with the answer sheet, "),
                Piece::File(sheet),
                words(
                    ", when the track is over and not before: it has the note of every call, and \
                     every place of it on the neck.",
                ),
            ]);
        }
        steps
    }

    fn track(&self) -> Vec<String> {
        let known = self.known;
        let notes = self.practice.reach.pitches().len();
        let calls = text::count(known.calls as usize, "call");
        let silent = match (known.calls as usize).saturating_sub(known.answered) {
            0 => String::new(),
            n => format!(" ({n} without a search, which tell nothing)"),
        };
        let made = match known.answered {
            0 => format!(
                "It is made for {} from the reach of the class: it is not known yet what {0} can find.",
                known.name
            ),
            _ => format!(
                "It is made for {} alone, from {calls} in {}{silent}.",
                known.name,
                text::count(known.lessons as usize, "lesson"),
            ),
        };
        let spread = match known.often() {
            _ if known.answered > 0 && known.expected() >= WIDEN_FROM => {
                "Nearly all notes in reach are expected to be found at the first answer, so they \
                 come much alike, and stay fresh."
                    .to_owned()
            }
            0 if known.answered > 0 => format!(
                "Too little is known yet to say which are hard, so all {notes} notes in reach come \
                 about equally often."
            ),
            0 => format!("All {notes} notes in reach come about equally often."),
            1 => format!("{OFTEN} one of the {notes} notes in reach comes clearly more often."),
            often => {
                format!("{OFTEN} {often} of the {notes} notes in reach come clearly more often.")
            }
        };
        // The size has been said.
        let about = self.practice.about().into_iter().take(2);
        let about: Vec<String> = about.map(|line| format!("{line}.")).collect();
        let mut lines = vec![format!("{made} {spread}"), about.join(" ")];
        if known.suggestion.is_change() {
            lines.push(format!("What may come next: {}", known.suggestion));
        }
        lines
    }

    fn helpers(&self) -> Vec<Paragraph> {
        vec![
            vec![words(
                "Nobody needs to know the names of notes. Hearing and finding come first.",
            )],
            // Common practice, no source.
            vec![words(
                "A few minutes on most days do more than an hour at once. Stop while it is \
                 still fun.",
            )],
            vec![words(match self.known.answered {
                _ if self.known.often() == 0 => "Misses are part of it.",
                _ => "Misses are part of it: this track is made of what is hard just now.",
            })],
            vec![
                words("How it went in the lessons stands in "),
                Piece::File(REPORT.to_owned()),
                words("."),
            ],
        ]
    }

    fn files(&self) -> Vec<(String, &'static str)> {
        let of = |kind: FileKind| match kind {
            FileKind::Wav => "the track, as unpacked sound",
            FileKind::Flac => "the track, as sound",
            FileKind::Midi => "the track as notes (a Standard MIDI File)",
            FileKind::Html => "the answer sheet: not before the track is over",
            FileKind::Text => "the answer sheet as plain text",
        };
        let made = FileKind::KINDS.iter();
        let mut files: Vec<(String, &'static str)> = made
            .filter_map(|kind| Some((self.file(*kind)?, of(*kind))))
            .collect();
        let to_send = self.to_send();
        files.extend(to_send.map(|file| (file, "all of it in one file, to send as it is")));
        files.push((REPORT.to_owned(), "how it went in the lessons"));
        files.push((REPORT_TEXT.to_owned(), "the same as plain text"));
        files.push(("start.txt".to_owned(), "this page as plain text"));
        files
    }
}
