//! Everything a report says, in figures: read from the book once.

use std::collections::{BTreeMap, BTreeSet};

use fifthpeg_book::reader::whole::Whole;
use fifthpeg_book::{BookError, LessonId, PersonCall, PersonId, Reader, Whose};
use fifthpeg_core::{Neck, Pitch, Position, Reach};

use super::ask::Subject;
use super::dates::{Date, Offset};
use super::figures::{Figures, by_note};
use super::outlook::{Outlook, outlook};
use super::words;

/// Up to so many lessons, progress is shown by lesson; from there by week.
const MOST_BY_LESSON: usize = 12;

/// What a report says.
#[derive(Debug, Clone, PartialEq)]
pub struct Overview {
    /// What it is about.
    pub subject: Subject,
    /// All of it.
    pub all: Figures,
    /// Each lesson, the earliest first.
    pub lessons: Vec<LessonPart>,
    /// By lesson, or by week where there are many: the class's lessons, or
    /// practice alone where there is nothing else.
    pub periods: Vec<Period>,
    /// Practice alone beside them, the same; it enters no progress.
    pub practice: Vec<Period>,
    /// Practice alone that is in no figure here: how often, and its calls.
    pub left_out: (u32, u32),
    /// Each student by name; nobody in a report about one.
    pub people: Vec<PersonPart>,
    /// Each neck that was played.
    pub necks: Vec<NeckPart>,
    /// What may come next; none in a report about one student in one lesson.
    pub outlook: Option<Outlook>,
    /// Lessons that could not be read and are in no figure, each in a sentence.
    pub unread: Vec<String>,
}

/// One lesson.
#[derive(Debug, Clone, PartialEq)]
pub struct LessonPart {
    /// Which.
    pub id: LessonId,
    /// Its name.
    pub name: String,
    /// Whether somebody practised alone.
    pub alone: bool,
    /// When it began.
    pub date: Date,
    /// The reaches it had, each once, in order.
    pub reaches: Vec<String>,
    /// What came of it.
    pub figures: Figures,
}

/// A lesson, or a week of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Period {
    /// When it began.
    pub date: Date,
    /// Whether it is a week.
    pub week: bool,
    /// Whether another began on the same day.
    pub shares_day: bool,
    /// Whether it is practice alone.
    pub alone: bool,
    /// The reaches it had, each once, in order.
    pub reaches: Vec<String>,
    /// What came of it.
    pub figures: Figures,
}

impl Period {
    /// Its day; where others began on it, when.
    pub fn day(&self) -> String {
        if self.shares_day {
            self.date.short_time()
        } else {
            self.date.short()
        }
    }
}

/// One student.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonPart {
    /// Who.
    pub id: PersonId,
    /// The name.
    pub name: String,
    /// Lessons with calls.
    pub lessons: u32,
    /// What came of it.
    pub figures: Figures,
}

/// One neck.
#[derive(Debug, Clone, PartialEq)]
pub struct NeckPart {
    /// The neck.
    pub neck: Neck,
    /// Each note called on it.
    pub notes: BTreeMap<Pitch, Figures>,
    /// Where these notes lie in the reaches of the lessons.
    pub places: BTreeMap<Pitch, Vec<Position>>,
}

impl Overview {
    /// Reads what a report about `subject` says.
    ///
    /// # Errors
    /// What reading meets with.
    pub fn read(
        book: &Reader,
        subject: Subject,
        offset: Offset<'_>,
    ) -> Result<Overview, BookError> {
        let student = subject.student.as_ref().map(|(id, _)| *id);
        let about_one = student.is_some();
        let (mut wholes, mut calls) = (Vec::new(), Vec::new());
        let (mut records, mut unread) = (Vec::new(), Vec::new());
        // Of one student all lessons of the class as well: where the student's
        // own part of one is lost, only the lesson tells.
        for id in book.lessons_of(Whose::Class(&subject.class))? {
            let asked = subject.lesson.is_none_or(|lesson| lesson == id);
            if about_one && !asked {
                continue;
            }
            match book.whole(id) {
                Ok(mut whole) => {
                    if asked {
                        let own = whole.calls(student).into_iter();
                        calls.extend(own.filter(|call| call.over));
                    }
                    let own = |id: PersonId| student.is_none_or(|one| one == id);
                    let ruled = whole.ruled(|_, id| own(id)).into_iter();
                    records.extend(ruled.map(|(record, _)| record));
                    // What is left to be asked is little.
                    whole.events.clear();
                    wholes.push(whole);
                }
                Err(spoilt @ BookError::Spoilt { .. }) => unread.push(spoilt.to_string()),
                Err(other) => return Err(other),
            }
            if subject.lesson == Some(id) {
                break;
            }
        }
        match book.lost_lessons()? {
            0 => {}
            lost => unread.push(format!(
                "entries of the book are lost with {}",
                words::count(lost, "whole lesson")
            )),
        }
        let last = last_to_go_on_from(&wholes, student);
        let next = last
            .filter(|_| !about_one || subject.lesson.is_none())
            .map(|last| outlook(last, student, records));
        let left_out = match subject.lesson.is_none() && !about_one {
            true => leave_practice_out(&wholes, &mut calls),
            false => (0, 0),
        };
        let lessons = lessons(&wholes, &calls, offset);
        let (periods, practice) = periods(&lessons, &calls);
        Ok(Overview {
            unread,
            all: Figures::of(&calls),
            periods,
            practice,
            left_out,
            people: if about_one {
                Vec::new()
            } else {
                people(book, &subject.class, &calls)?
            },
            necks: necks(&wholes, &lessons, &calls),
            outlook: next,
            lessons,
            subject,
        })
    }

    /// Numbers in place of the students' names.
    pub fn without_names(&mut self) {
        for (number, person) in self.people.iter_mut().enumerate() {
            person.name = format!("Student {}", number + 1);
        }
    }

    /// The name of a person of this report.
    pub fn name_of(&self, id: PersonId) -> &str {
        let person = self.people.iter().find(|p| p.id == id);
        person.map_or("", |p| p.name.as_str())
    }
}

fn lessons(wholes: &[Whole], calls: &[PersonCall], offset: Offset<'_>) -> Vec<LessonPart> {
    // Calls come in the order of lessons' beginnings.
    let of_lessons = calls.chunk_by(|a, b| a.lesson == b.lesson);
    of_lessons
        .filter_map(|of_lesson| {
            let id = of_lesson.first()?.lesson;
            let whole = wholes.iter().find(|whole| whole.id == id)?;
            let mut reaches: Vec<String> = Vec::new();
            for reach in &whole.reaches {
                let title = reach.title();
                if !reaches.contains(&title) {
                    reaches.push(title);
                }
            }
            Some(LessonPart {
                id,
                name: whole.name.clone(),
                alone: whole.alone,
                date: Date::at(whole.started_ms, offset),
                reaches,
                figures: Figures::of(of_lesson),
            })
        })
        .collect()
}

/// The lesson that what comes next is told from: the class's last one, of one
/// student the last with a place in it; practice alone where there is no other.
fn last_to_go_on_from(wholes: &[Whole], student: Option<PersonId>) -> Option<&Whole> {
    let sat = |w: &&Whole| student.is_none_or(|id| w.seats.values().any(|p| *p == id));
    let mut there = wholes.iter().rev().filter(sat);
    let last = there.clone().next();
    there.find(|whole| !whole.alone).or(last)
}

/// Takes practice alone out of a class's calls, unless it has nothing else; says
/// how often there was some, and how many calls.
fn leave_practice_out(wholes: &[Whole], calls: &mut Vec<PersonCall>) -> (u32, u32) {
    let alone: BTreeSet<LessonId> = wholes.iter().filter(|w| w.alone).map(|w| w.id).collect();
    if alone.len() == wholes.len() {
        return (0, 0);
    }
    let out = |call: &PersonCall| alone.contains(&call.lesson);
    let lessons: BTreeSet<LessonId> = calls.iter().filter(|c| out(c)).map(|c| c.lesson).collect();
    let before = calls.len();
    calls.retain(|call| !out(call));
    let number = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    (number(lessons.len()), number(before - calls.len()))
}

/// The class's lessons, and practice alone beside them.
fn periods(lessons: &[LessonPart], calls: &[PersonCall]) -> (Vec<Period>, Vec<Period>) {
    let (practice, held): (Vec<_>, Vec<_>) = lessons.iter().partition(|lesson| lesson.alone);
    match held.is_empty() {
        true => (periods_of(&practice, calls), Vec::new()),
        false => (periods_of(&held, calls), periods_of(&practice, calls)),
    }
}

fn periods_of(lessons: &[&LessonPart], calls: &[PersonCall]) -> Vec<Period> {
    let week = lessons.len() > MOST_BY_LESSON;
    let mut dates: BTreeMap<Date, Vec<&LessonPart>> = BTreeMap::new();
    for lesson in lessons {
        let date = if week {
            lesson.date.monday()
        } else {
            lesson.date
        };
        dates.entry(date).or_default().push(lesson);
    }
    let days: Vec<String> = dates.keys().map(|date| date.iso()).collect();
    let on = |day: &String| days.iter().filter(|other| *other == day).count();
    dates
        .into_iter()
        .map(|(date, of)| {
            let ids: BTreeSet<LessonId> = of.iter().map(|lesson| lesson.id).collect();
            let mut reaches: Vec<String> = Vec::new();
            for reach in of.iter().flat_map(|lesson| &lesson.reaches) {
                if !reaches.contains(reach) {
                    reaches.push(reach.clone());
                }
            }
            Period {
                date,
                week,
                shares_day: on(&date.iso()) > 1,
                alone: of.iter().all(|lesson| lesson.alone),
                reaches,
                figures: Figures::of(calls.iter().filter(|c| ids.contains(&c.lesson))),
            }
        })
        .collect()
}

fn people(book: &Reader, class: &str, calls: &[PersonCall]) -> Result<Vec<PersonPart>, BookError> {
    let part = |person: fifthpeg_book::reader::Person| {
        let own: Vec<&PersonCall> = calls.iter().filter(|c| c.person == person.id).collect();
        let lessons: BTreeSet<LessonId> = own.iter().map(|c| c.lesson).collect();
        PersonPart {
            id: person.id,
            name: person.name,
            lessons: u32::try_from(lessons.len()).unwrap_or(u32::MAX),
            figures: Figures::of(own),
        }
    };
    let people = book.people(class)?.into_iter().map(part);
    Ok(people.filter(|p| p.figures.calls > 0).collect())
}

fn necks(wholes: &[Whole], lessons: &[LessonPart], calls: &[PersonCall]) -> Vec<NeckPart> {
    let mut necks: Vec<(Neck, BTreeSet<LessonId>, BTreeSet<Position>)> = Vec::new();
    for lesson in lessons {
        let whole = wholes.iter().find(|whole| whole.id == lesson.id);
        // A neck that was played is one that can be built.
        let Some((whole, Ok(neck))) = whole.map(|w| (w, Neck::build(w.neck.clone()))) else {
            continue;
        };
        let mut places = BTreeSet::new();
        for spec in &whole.reaches {
            let reach = Reach::resolve(&neck, spec);
            places.extend(reach.iter().flat_map(|r| r.positions().iter().copied()));
        }
        match necks.iter_mut().find(|(known, ..)| *known == neck) {
            Some((_, ids, known)) => {
                ids.insert(lesson.id);
                known.append(&mut places);
            }
            None => necks.push((neck, BTreeSet::from([lesson.id]), places)),
        }
    }
    let part = |(neck, ids, reached): (Neck, BTreeSet<LessonId>, BTreeSet<Position>)| {
        let own = calls.iter().filter(|c| ids.contains(&c.lesson));
        let notes = by_note(own.clone());
        let mut places = BTreeMap::new();
        for pitch in notes.keys() {
            let picked = own.clone().filter(|c| c.pitch == *pitch);
            let picked: BTreeSet<Position> = picked.filter_map(|c| c.place).collect();
            let of_note = |at: &Position| reached.contains(at) || picked.contains(at);
            let all = neck.places(*pitch);
            let mut some: Vec<Position> = all.iter().copied().filter(of_note).collect();
            if some.is_empty() {
                // Called from outside the reach.
                some = all
                    .into_iter()
                    .min_by_key(|at| at.fret)
                    .into_iter()
                    .collect();
            }
            places.insert(*pitch, some);
        }
        NeckPart {
            neck,
            notes,
            places,
        }
    };
    necks.into_iter().map(part).collect()
}
