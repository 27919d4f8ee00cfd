//! What a page for a projector shows, ready to be drawn.

use fifthpeg_core::Neck;
use fifthpeg_lesson::message::Progress;
use serde::Serialize;

use crate::neck::{self, NeckShown};
use crate::session::PageSession;
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

/// The view at this moment.
pub(crate) fn of(session: &PageSession) -> HallView {
    let (standing, link) = view::standing(session);
    let Some(hall) = session.hall.as_deref() else {
        return HallView {
            standing,
            link,
            ..HallView::default()
        };
    };
    let call = hall.call.as_ref();
    let now = match call {
        Some(call) if call.open => "A note is called: listen and search.".to_owned(),
        Some(call) => match call.note {
            Some(note) => words::revealed(note, &call.places, &hall.rules),
            None => "Listen for the next call.".to_owned(),
        },
        None => "Listen for the first call.".to_owned(),
    };
    let counted = call.filter(|call| call.of > 0 && (call.open || call.note.is_some()));
    let neck = Neck::build(hall.rules.neck.clone()).ok();
    let places = call.into_iter().flat_map(|call| &call.places);
    let signs = places.map(|place| (*place, neck::REVEALED)).collect();
    HallView {
        standing,
        link,
        lesson: hall.rules.lesson.clone(),
        reach: hall.rules.reach.title(),
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
