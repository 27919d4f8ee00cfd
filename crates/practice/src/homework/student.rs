//! One student's homework: from the lesson book into a folder.

use std::fs;
use std::path::{Path, PathBuf};

use fifthpeg_book::Reader;
use fifthpeg_book::reader::Person;
use fifthpeg_core::Spelling;
use fifthpeg_front::drafts::{Drafts, Readable, Replaces, not_written};
use fifthpeg_front::failure::Failure;
use fifthpeg_front::folder_draft::FolderDraft;
use fifthpeg_report::ask::Subject;
use fifthpeg_report::asked::local_offset;
use fifthpeg_report::dates::Date;
use fifthpeg_report::overview::Overview;
use fifthpeg_report::words::ReportStyle;
use fifthpeg_report::{page, text};

use super::start::{Folder, MARK, REPORT, REPORT_TEXT};
use super::{start_page, start_text};
use crate::track::kinds::FileKind;
use crate::track::practice::Practice;
use crate::track::shape::TrackShape;
use crate::track::student::Known;
use crate::track::write;

/// The folders that homework is made anew in.
const HOMEWORK: Replaces = Replaces {
    what: "homework folder",
    is_one: |folder: &Path| {
        fs::read_to_string(folder.join("index.html")).is_ok_and(|page| page.contains(MARK))
    },
};

/// What homework is asked for, the same for all of a class.
#[derive(Debug, Clone)]
pub struct HomeworkOptions {
    /// The folder that each student's own goes into.
    pub to: PathBuf,
    /// The reach as typed; without it, each student's last one.
    pub reach: Option<String>,
    /// What the tracks are like.
    pub shape: TrackShape,
    /// Which files of a track.
    pub write: Vec<FileKind>,
    /// Make folders of older homework anew.
    pub replace: bool,
}

/// Everything about one student's homework but its files.
pub struct Homework {
    /// What the folder is called.
    pub folder: String,
    /// What is known of the student.
    pub known: Known,
    /// The track.
    pub practice: Practice,
    /// The report about this student alone.
    report: Overview,
}

impl Homework {
    /// Reads what is known and plans the track.
    ///
    /// # Errors
    /// One sentence when nothing is known of the student, or it cannot be
    /// planned.
    pub fn plan(
        book: &Reader,
        person: &Person,
        folder: &str,
        asked: &HomeworkOptions,
        seed: u64,
    ) -> Result<Homework, Failure> {
        let known = Known::read(
            book,
            (&person.class, &person.name),
            person.id,
            asked.reach.as_deref(),
        )?;
        let seed = own_seed(seed, &person.name);
        let practice = Practice::of(Path::new(folder), &known.source, &asked.shape, seed)?;
        let subject = Subject {
            class: person.class.clone(),
            student: Some((person.id, person.name.clone())),
            lesson: None,
        };
        let report = Overview::read(book, subject, &local_offset).map_err(Failure::runtime)?;
        Ok(Homework {
            folder: folder.to_owned(),
            known,
            practice,
            report,
        })
    }

    /// Writes the folder: whole, or not at all. `go_on` is told how far it is,
    /// from 0 to 1, and stops it by saying `false`.
    ///
    /// # Errors
    /// One sentence; then nothing is left behind.
    pub fn write(
        &self,
        asked: &HomeworkOptions,
        made: Date,
        go_on: impl FnMut(f64) -> bool,
    ) -> Result<PathBuf, Failure> {
        let replaces = asked.replace.then_some(HOMEWORK);
        let draft = FolderDraft::open(&asked.to.join(&self.folder), replaces)?;
        let folder = draft.temporary().to_owned();
        self.fill(&folder, asked, made, go_on).map_err(|failure| {
            // The draft's own name tells nobody anything.
            failure.told(|sentence| {
                let (from, to) = (folder.display(), asked.to.join(&self.folder));
                sentence.replace(&from.to_string(), &to.display().to_string())
            })
        })?;
        draft.publish(&self.about(asked, made).ours())
    }

    fn about<'a>(&'a self, asked: &'a HomeworkOptions, made: Date) -> Folder<'a> {
        Folder {
            class: &self.report.subject.class,
            made,
            known: &self.known,
            practice: &self.practice,
            kinds: &asked.write,
        }
    }

    fn fill(
        &self,
        folder: &Path,
        asked: &HomeworkOptions,
        made: Date,
        go_on: impl FnMut(f64) -> bool,
    ) -> Result<(), Failure> {
        let manner = ReportStyle {
            spelling: Spelling::of(asked.shape.flats),
            ascii: false,
            left_handed: asked.shape.left_handed,
        };
        let about = self.about(asked, made);
        let start = about.start();
        let pages = [
            ("index.html", start_page::page(&start)),
            ("start.txt", start_text::page(&start)),
            (REPORT, page::page(&self.report, &manner, made)),
            (
                REPORT_TEXT,
                text::text(&self.report, &manner).join("\n") + "\n",
            ),
        ];
        let paths: Vec<PathBuf> = pages.iter().map(|(name, _)| folder.join(name)).collect();
        let mut drafts = Drafts::open(&paths, false, Readable::ByMeAlone)?;
        for (path, (_, page)) in paths.iter().zip(&pages) {
            drafts.write(path, page.as_bytes())?;
        }
        drafts.publish()?;
        let paths = write::paths(&folder.join(&self.folder), &asked.write);
        write::write(&self.practice, &paths, false, go_on)?;
        let (Some(name), Some((sound, _))) = (about.to_send(), &start.sound) else {
            return Ok(());
        };
        let (path, sound) = (folder.join(name), folder.join(sound));
        let sound = fs::read(&sound).map_err(|why| not_written(&path, why))?;
        let page = start_page::in_one(&start, &sound, &self.practice);
        Drafts::save(&path, None, page.as_bytes())
    }
}

/// A seed of each student's own, the same whoever else is in the class: the
/// homework's seed and the name through FNV-1a (Fowler, Noll and Vo; RFC 9923).
fn own_seed(seed: u64, name: &str) -> u64 {
    let bytes = seed.to_le_bytes().into_iter().chain(name.bytes());
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seeds_are_each_students_own() {
        assert_eq!(own_seed(1, "Mia"), own_seed(1, "Mia"));
        assert_ne!(own_seed(1, "Mia"), own_seed(1, "Ivo"));
        assert_ne!(own_seed(1, "Mia"), own_seed(2, "Mia"));
        // From memory: the hash of "a", with no seed before it, is af63dc4c8601ec8c.
        let offset = 0xcbf2_9ce4_8422_2325_u64;
        let of_a = (offset ^ 0x61).wrapping_mul(0x0100_0000_01b3);
        assert_eq!(of_a, 0xaf63_dc4c_8601_ec8c);
    }
}
