//! What the usual lesson book knows: the usual answers.

use fifthpeg_book::{Reader, default_location};
use fifthpeg_core::ready_necks;

use crate::solo::who;

/// What is known; nothing where there is no book, or it cannot be read.
#[derive(Debug, Default)]
pub struct KnownHere {
    /// Every class that had lessons.
    pub classes: Vec<String>,
    /// The class of the last lesson.
    pub class: Option<String>,
    /// The ready neck it was held on, by its name on the command line.
    pub neck: Option<&'static str>,
    /// Its reach, as it is typed.
    pub reach: Option<String>,
    /// Who would practise alone.
    pub player: Option<String>,
}

impl KnownHere {
    /// Reads the usual book.
    pub fn read() -> Self {
        let reader = default_location().and_then(|path| Reader::open(&path).ok());
        reader.map_or_else(Self::default, |reader| Self::of(&reader))
    }

    fn of(reader: &Reader) -> Self {
        let classes = reader.classes().unwrap_or_default();
        let mut known = Self {
            player: who::usual(reader),
            ..Self::default()
        };
        let mut latest = None;
        for class in classes.into_iter().filter(|class| class.lessons > 0) {
            let lessons = reader.lessons(&class.name).unwrap_or_default();
            let last = lessons.into_iter().rfind(|lesson| !lesson.alone);
            if let Some(last) = last
                && latest.is_none_or(|ms| ms < last.started_ms)
            {
                latest = Some(last.started_ms);
                known.class = Some(last.class);
                known.reach = Some(last.reach);
                let ready = ready_necks().iter().find(|r| r.neck().name() == last.neck);
                known.neck = ready.map(|ready| ready.name);
            }
            known.classes.push(class.name);
        }
        known
    }
}
