//! A track's source from the lesson book: what one student misses, in the reach
//! and on the neck of that student's last lesson.

use std::path::Path;

use fifthpeg_book::{PersonId, Reader};
use fifthpeg_core::text;
use fifthpeg_core::{Neck, ReachSpec};
use fifthpeg_front::failure::Failure;
use fifthpeg_lesson::learning::practice::percent_missed;
use fifthpeg_lesson::learning::{Evidence, Model, Outcome, StudentKey, Suggestion, suggest};
use fifthpeg_report::ask::{Ask, Subject};
use fifthpeg_report::asked;

use super::notes;
use super::source::{NeckWords, TrackSource, reach_spec, resolved};

/// What `--reach` takes besides reaches: the one that suits next.
pub const SUGGESTED: &str = "suggested";
/// Answered calls from which a track is made of what is missed. Our choice.
const ENOUGH: usize = 10;
/// A note comes markedly often from so many times the mean weight. Our choice.
const OFTEN: f64 = 1.25;

/// What the book knows of a student, ready to practise from.
#[derive(Debug, Clone)]
pub struct Known {
    /// The student's name.
    pub name: String,
    /// What a track is made from.
    pub source: TrackSource,
    /// Calls that the student had a part in.
    pub calls: u32,
    /// Of these, answered: only they tell anything.
    pub answered: usize,
    /// Of these, found with the first answer.
    pub found_first: u32,
    /// Lessons they were in.
    pub lessons: u32,
    /// For each note of the reach, the chance in 100 that it is missed; empty
    /// where nothing is known, and all notes come alike.
    pub missed: Vec<u8>,
    /// Whether the last reach fits this student.
    pub suggestion: Suggestion,
    /// Lessons that could not be read and are left out, each in a sentence.
    pub unread: Vec<String>,
}

/// Opens the book, and finds a class in it, with one student or without.
///
/// # Errors
/// One sentence when they are not there.
pub fn find(
    book: Option<&Path>,
    class: Option<&str>,
    student: Option<&str>,
) -> Result<(Reader, Subject), Failure> {
    let book = asked::open_book(book)?;
    let ask = Ask {
        class: class.map(str::to_owned),
        student: student.map(str::to_owned),
        lesson: None,
    };
    let subject = asked::find(&ask, &book)?;
    Ok((book, subject))
}

/// No student was named.
pub fn nobody() -> Failure {
    Failure::usage("no student was named: add --student with a name of the class")
}

/// Whether everything that is known could be read.
///
/// # Errors
/// One sentence if not; what could be read has been made use of.
pub fn all_read(unread: usize) -> Result<(), Failure> {
    match unread {
        0 => Ok(()),
        _ => Err(Failure::runtime(
            "it was made, but not from everything, since part of the lesson book cannot be read: \
             the lines above name it, and fifthpeg book check says more",
        )),
    }
}

impl Known {
    /// Reads what is known of a student; the reach is the last one, or what was
    /// asked for.
    ///
    /// # Errors
    /// One sentence where the class had no lesson, for a reach that is none, or
    /// a book that cannot be read.
    pub fn read(
        book: &Reader,
        (class, name): (&str, &str),
        id: PersonId,
        reach: Option<&str>,
    ) -> Result<Known, Failure> {
        let standing = book.standing(id).map_err(Failure::runtime)?;
        let heard = |e: &&Evidence| e.outcome != Outcome::Silent;
        let answered = standing.records.iter().filter(heard).count();
        let rules = match standing.last.filter(|_| answered > 0) {
            Some(rules) => Some(rules),
            // Of the silent nothing is known, but what the class plays.
            None => book.class_rules(class).map_err(Failure::runtime)?,
        };
        let rules = rules.ok_or_else(|| {
            Failure::usage(format!(
                "{} has had no lesson that can be read: hold one first, or make a track of chosen \
                 notes with fifthpeg track --notes",
                text::one_line(class)
            ))
        })?;
        let neck = Neck::build(rules.neck).map_err(Failure::runtime)?;
        let key = StudentKey(id.0);
        // As it was when the student was last heard: no clock, so that the same
        // book always gives the same weights.
        let when = standing.records.iter().map(|e| e.when).max();
        let when = when.unwrap_or_default();
        let model = Model::from_evidence(standing.records);
        let suggestion = suggest(&model, &[key], &neck, &rules.reach, when);
        let spec: ReachSpec = match reach {
            None => rules.reach,
            Some(SUGGESTED) => suggestion.step().map_or(rules.reach, ReachSpec::from),
            Some(typed) => reach_spec(typed)?,
        };
        let reach = resolved(&neck, &spec)?;
        let missed = match answered {
            0 => Vec::new(),
            _ => percent_missed(&model, key, reach.pitches(), when),
        };
        let weighted = reach.pitches().iter().zip(&missed);
        Ok(Known {
            name: name.to_owned(),
            calls: standing.calls,
            answered,
            found_first: standing.found_first,
            lessons: standing.lessons,
            unread: standing.unread,
            suggestion,
            source: TrackSource {
                neck_choice: NeckWords::of(&neck),
                notes: weighted.map(|(p, w)| notes::typed(*p, *w)).collect(),
                neck,
                spec,
                reach,
                voice: rules.voice,
                a4_hz: rules.a4_hz,
            },
            missed,
        })
    }

    /// For the teacher: what it is made from, and whether another reach would
    /// suit, a line for each.
    pub fn words(&self) -> Vec<String> {
        let mut lines = vec![format!(
            "student {}: found {} of {} at the first answer in {}",
            text::one_line(&self.name),
            self.found_first,
            text::count(self.calls as usize, "call"),
            text::count(self.lessons as usize, "lesson"),
        )];
        if self.is_little() {
            lines.push(format!(
                "little is known of {}: {}, so the notes of the reach come {}equally often",
                text::one_line(&self.name),
                match self.answered {
                    0 => "no call was answered".to_owned(),
                    n => format!("{} searched for", text::count(n, "note")),
                },
                if self.answered > 0 { "nearly " } else { "" }
            ));
        }
        let unread = self.unread.iter();
        lines.extend(unread.map(|why| format!("left out for {}: {why}", self.name)));
        if self.suggestion.is_change() {
            let how = match self.suggestion.step() {
                Some(_) => format!(" (--reach {SUGGESTED} does so here)"),
                None => String::new(),
            };
            lines.push(format!(
                "suggestion for {}: {}{how}",
                text::one_line(&self.name),
                self.suggestion
            ));
        }
        lines
    }

    /// Whether too little is known to make a track from it.
    pub fn is_little(&self) -> bool {
        self.answered < ENOUGH
    }

    /// How many notes come markedly more often than the others.
    pub fn often(&self) -> usize {
        let sum: u32 = self.missed.iter().map(|w| u32::from(*w)).sum();
        let mean = f64::from(sum) / self.missed.len().max(1) as f64;
        let often = |w: &&u8| f64::from(**w) >= OFTEN * mean;
        self.missed.iter().filter(often).count()
    }

    /// The share of right first answers expected if every note of the reach
    /// were called once.
    pub fn expected(&self) -> f64 {
        let sum: u32 = self.missed.iter().map(|w| u32::from(*w)).sum();
        1.0 - f64::from(sum) / (100.0 * self.missed.len().max(1) as f64)
    }
}
