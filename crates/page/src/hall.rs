//! What a page for a projector shows, ready to be drawn.

use fifthpeg_core::text::counted;
use fifthpeg_core::{Neck, Reach};
use fifthpeg_lesson::message::{Hall, Progress};
use serde::Serialize;

use crate::neck::{self, NeckShown};
use crate::session::Session;
use crate::{view, words};

/// All of it.
#[derive(Debug, Default, Serialize)]
pub(crate) struct HallView {
    /// As for a student.
    standing: &'static str,
    link: String,
    lesson: String,
    /// From where notes are called.
    reach: String,
    /// What goes on.
    now: String,
    /// How many have found it.
    found: String,
    /// Who has, where names are shown.
    names: Vec<String>,
    neck: Option<NeckShown>,
}

fn reach(hall: &Hall, neck: &Neck) -> String {
    let notes = Reach::resolve(neck, &hall.rules.reach).ok();
    let spelling = hall.rules.spelling();
    let ends = notes.as_ref().and_then(|notes| {
        let pitches = notes.pitches();
        Some((*pitches.first()?, *pitches.last()?, pitches.len()))
    });
    match ends {
        // One note would be named before it is shown.
        Some((.., 1)) => "1 note".to_owned(),
        Some((low, high, many)) => format!(
            "{} between {} and {}",
            counted(many, "note", "notes"),
            low.name(spelling),
            high.name(spelling)
        ),
        None => String::new(),
    }
}

/// The view at this moment.
pub(crate) fn of(session: &Session) -> HallView {
    let (standing, link) = view::standing(session);
    let Some(hall) = session.hall.as_deref() else {
        return HallView {
            standing,
            link,
            ..HallView::default()
        };
    };
    let here = counted(hall.here as usize, "student is here", "students are here");
    let call = hall.call.as_ref();
    let now = match call {
        Some(call) if call.open => "A note is called: listen and search.".to_owned(),
        Some(call) => match call.note {
            Some(note) => words::revealed(note, &call.places, &hall.rules),
            None => "Listen for the next call.".to_owned(),
        },
        None => format!("{here}. Listen for the first call."),
    };
    let counted = call.filter(|call| call.of > 0 && (call.open || call.note.is_some()));
    let neck = Neck::build(hall.rules.neck.clone()).ok();
    let places = call.into_iter().flat_map(|call| &call.places);
    let signs = places.map(|place| (*place, neck::REVEALED)).collect();
    HallView {
        standing,
        link,
        lesson: hall.rules.lesson.clone(),
        reach: neck
            .as_ref()
            .map_or_else(String::new, |neck| reach(hall, neck)),
        now,
        found: counted.map_or_else(String::new, |call| {
            format!("{} of {} found it", call.found, call.of)
        }),
        names: match counted {
            Some(_) => hall
                .names
                .iter()
                .map(|(name, how)| progress(name, *how))
                .collect(),
            None => Vec::new(),
        },
        neck: neck.map(|neck| neck::shown(&neck, &hall.rules, &signs, false)),
    }
}

fn progress(name: &str, how: Progress) -> String {
    match how {
        Progress::Found => format!("{name} \u{2713}"),
        _ => name.to_owned(),
    }
}
