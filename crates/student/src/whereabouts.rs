//! Where the lesson is, as far as this terminal knows.

use core::time::Duration;
use std::net::SocketAddr;

use fifthpeg_link::discovery::{self, FoundLesson};

use crate::{Status, Target};

/// How long to look for the only lesson: long enough to notice a second one.
const LOOK_FOR_ALL: Duration = Duration::from_millis(800);
/// How long to look for the lesson of a name before saying that it is not
/// there yet.
const LOOK_FOR_ONE: Duration = Duration::from_secs(3);

/// Where the lesson is.
#[derive(Debug)]
pub(crate) struct Whereabouts {
    /// Given by hand: the only addresses ever tried.
    by_hand: Option<Vec<SocketAddr>>,
    /// The lesson's name: given, or learnt when the only one was found, so
    /// that a terminal comes back to the same lesson.
    lesson: Option<String>,
    /// Where it was found last.
    found: Option<Vec<SocketAddr>>,
}

impl Whereabouts {
    pub(crate) fn new(target: Target) -> Self {
        let (by_hand, lesson) = match target {
            Target::Address(addresses) => (Some(addresses), None),
            Target::Lesson(name) => (None, name),
        };
        Self {
            by_hand,
            lesson,
            found: None,
        }
    }

    /// The lesson's name, if it is known.
    pub(crate) fn lesson(&self) -> Option<String> {
        self.lesson.clone()
    }

    /// The addresses to try without looking.
    pub(crate) fn known(&self) -> Option<Vec<SocketAddr>> {
        self.by_hand.clone().or_else(|| self.found.clone())
    }

    /// That address led to the lesson: it is tried first when coming back.
    pub(crate) fn worked(&mut self, address: SocketAddr) {
        for addresses in [&mut self.by_hand, &mut self.found].into_iter().flatten() {
            if let Some(at) = addresses.iter().position(|a| *a == address) {
                addresses[..=at].rotate_right(1);
            }
        }
    }

    /// None of the known addresses works: look again.
    pub(crate) fn failed(&mut self) {
        self.found = None;
    }

    /// Looks for the lesson.
    ///
    /// # Errors
    /// The status to show if there is none, or more than one to choose from.
    pub(crate) async fn look(&mut self) -> Result<Vec<SocketAddr>, Status> {
        let (wait, wanted) = match self.lesson() {
            Some(name) => (LOOK_FOR_ONE, Some(name)),
            None => (LOOK_FOR_ALL, None),
        };
        let enough = |found: &[FoundLesson]| {
            wanted
                .as_ref()
                .is_some_and(|name| found.iter().any(|l| l.name == *name))
        };
        let found = match discovery::find_until(wait, enough).await {
            Ok(found) => found,
            Err(e) => {
                return Err(Status::Lost {
                    why: e.to_string(),
                    retry_in: Duration::ZERO,
                });
            }
        };
        self.choose(found)
    }

    fn choose(&mut self, found: Vec<FoundLesson>) -> Result<Vec<SocketAddr>, Status> {
        let mut wanted: Vec<_> = match &self.lesson {
            Some(name) => found.into_iter().filter(|l| l.name == *name).collect(),
            None => found,
        };
        match wanted.len() {
            0 => Err(Status::Finding {
                lesson: self.lesson(),
            }),
            1 => {
                let lesson = wanted.swap_remove(0);
                self.lesson = Some(lesson.name);
                self.found = Some(lesson.addresses.clone());
                Ok(lesson.addresses)
            }
            _ => Err(Status::Several {
                lessons: wanted.into_iter().map(|l| l.name).collect(),
            }),
        }
    }
}
