//! Where the lesson is, as far as this terminal knows.

use core::time::Duration;
use std::net::SocketAddr;

use fifthpeg_link::LinkError;
use fifthpeg_link::discovery::{Finder, FoundLesson};

use crate::{Status, Target};

/// How long to look for the only lesson: long enough to notice a second one. A
/// host says nothing if it answered somebody else within the last second (RFC
/// 6762 section 6), and is asked again after one second.
const LOOK_FOR_ALL: Duration = Duration::from_millis(1600);
/// How long to look for the lesson of a name before saying that it is not
/// there yet.
const LOOK_FOR_ONE: Duration = Duration::from_secs(3);

/// The most addresses kept of a lesson reached by hand, as its host moves about.
pub(crate) const MAX_TYPED: usize = 8;

/// Where the lesson is.
#[derive(Debug)]
pub(crate) struct Resolver {
    /// Given by hand: the only addresses tried, until a host has proved itself
    /// at one of them.
    typed: Option<Vec<SocketAddr>>,
    /// The lesson that was reached by hand, if its host can be told by its key
    /// wherever it is: when its address fails it is looked for as well.
    proved: Option<String>,
    /// Whether it is to be looked for now.
    astray: bool,
    /// The lesson's name: given, or learnt when the only one was found, so
    /// that a terminal comes back to the same lesson.
    lesson: Option<String>,
    /// Where it was found last.
    found: Option<Vec<SocketAddr>>,
    /// What the lesson found last calls itself, without the number that keeps
    /// two announcements of one name apart.
    own_name: Option<String>,
    /// Announced addresses that led to other lessons: an address such as a
    /// container bridge's may belong to another machine here.
    elsewhere: Vec<SocketAddr>,
    /// Kept from one look that failed to the next.
    finder: Option<Finder>,
}

impl Resolver {
    pub(crate) fn new(target: Target) -> Self {
        let (typed, lesson) = match target {
            Target::Address(addresses) => (Some(addresses), None),
            Target::Lesson(name) => (None, name),
            // There is nothing to look for.
            Target::Inside { .. } => (Some(Vec::new()), None),
        };
        Self {
            typed,
            proved: None,
            astray: false,
            lesson,
            found: None,
            own_name: None,
            elsewhere: Vec::new(),
            finder: None,
        }
    }

    /// The lesson's name, if it is known.
    pub(crate) fn lesson(&self) -> Option<String> {
        self.lesson.clone()
    }

    /// The name of the lesson that is looked for, if one is.
    pub(crate) fn sought(&self) -> Option<String> {
        self.proved.clone().or_else(|| self.lesson())
    }

    /// Whether the addresses were given by hand.
    pub(crate) fn is_typed(&self) -> bool {
        self.typed.is_some()
    }

    /// What the lesson calls itself, as far as it was announced or named.
    pub(crate) fn own_name(&self) -> Option<String> {
        self.own_name.clone().or_else(|| self.lesson.clone())
    }

    /// The host that was reached has proved itself by a key, and calls its
    /// lesson so.
    pub(crate) fn proved(&mut self, lesson: &str) {
        if self.typed.is_some() {
            self.proved = Some(lesson.to_owned());
        }
    }

    /// Whether nobody but the network said that this address leads to the lesson
    /// that was once reached by hand. Only the same key makes it so.
    pub(crate) fn is_hearsay(&self, address: SocketAddr) -> bool {
        self.typed
            .as_ref()
            .is_some_and(|typed| !typed.contains(&address))
    }

    /// The addresses to try without looking.
    pub(crate) fn known(&self) -> Option<Vec<SocketAddr>> {
        match &self.typed {
            Some(_) if self.astray => self.found.clone(),
            Some(typed) => Some(typed.clone()),
            None => self.found.clone(),
        }
    }

    /// That address led to the lesson: it is tried first when coming back.
    pub(crate) fn worked(&mut self, address: SocketAddr) {
        if self.is_hearsay(address)
            && let Some(typed) = &mut self.typed
        {
            typed.truncate(MAX_TYPED - 1);
            typed.push(address);
        }
        self.astray = false;
        for addresses in [&mut self.typed, &mut self.found].into_iter().flatten() {
            if let Some(at) = addresses.iter().position(|a| *a == address) {
                addresses[..=at].rotate_right(1);
            }
        }
    }

    /// None of the known addresses works: look again. By turns with the
    /// addresses given by hand, where there are any: the host may be back there.
    pub(crate) fn failed(&mut self) {
        self.found = None;
        self.astray = self.proved.is_some() && !self.astray;
    }

    /// Whether a lesson that calls itself so is the one that was looked for.
    /// Two of one name are not told apart; an address given by hand is taken
    /// at its word.
    pub(crate) fn is_meant(&self, lesson: &str) -> bool {
        self.typed.is_some() || self.own_name.as_deref().is_none_or(|name| name == lesson)
    }

    /// That address led to another lesson; whether one is left to try before
    /// looking again.
    pub(crate) fn led_elsewhere(&mut self, address: SocketAddr) -> bool {
        self.elsewhere.push(address);
        let others = self.found.take().map(|found| self.likely(found));
        match others {
            Some(others) if !others.is_empty() => {
                self.found = Some(others);
                true
            }
            _ => {
                // The next looking starts afresh: things may have changed.
                self.elsewhere.clear();
                self.astray = false;
                false
            }
        }
    }

    fn likely(&self, mut addresses: Vec<SocketAddr>) -> Vec<SocketAddr> {
        addresses.retain(|address| !self.elsewhere.contains(address));
        addresses
    }

    /// Looks for the lesson.
    ///
    /// # Errors
    /// The status to show if there is none, or more than one to choose from.
    pub(crate) async fn look(&mut self) -> Result<Vec<SocketAddr>, Status> {
        let astray = self.proved.clone();
        let wanted = self.lesson();
        let wait = match (&astray, &wanted) {
            (None, None) => LOOK_FOR_ALL,
            _ => LOOK_FOR_ONE,
        };
        let enough = |found: &[FoundLesson]| match (&astray, &wanted) {
            (Some(own), _) => found.iter().any(|l| l.lesson == *own),
            (None, Some(name)) => found.iter().any(|l| is_like(&l.name, name)),
            (None, None) => false,
        };
        let (finder, found) = match self.ask(wait, enough).await {
            Ok(heard) => heard,
            Err(e) => {
                return Err(Status::Lost {
                    why: e.to_string(),
                    retry_in: Duration::ZERO,
                });
            }
        };
        let chosen = self.choose(found);
        if chosen.is_err() {
            self.finder = Some(finder);
        }
        chosen
    }

    async fn ask(
        &mut self,
        wait: Duration,
        enough: impl Fn(&[FoundLesson]) -> bool + Send,
    ) -> Result<(Finder, Vec<FoundLesson>), LinkError> {
        let mut finder = match self.finder.take() {
            Some(finder) => finder,
            None => Finder::start()?,
        };
        let found = finder.look(wait, enough).await?;
        Ok((finder, found))
    }

    fn choose(&mut self, found: Vec<FoundLesson>) -> Result<Vec<SocketAddr>, Status> {
        if let Some(own) = self.proved.clone() {
            return self.choose_astray(found, own);
        }
        let mut wanted: Vec<_> = match &self.lesson {
            Some(name) => {
                let exact = found.iter().any(|l| l.name == *name);
                let fits = |l: &FoundLesson| l.name == *name || (!exact && is_like(&l.name, name));
                found.into_iter().filter(fits).collect()
            }
            None => found,
        };
        match wanted.len() {
            0 => Err(Status::Finding {
                lesson: self.lesson(),
            }),
            1 => {
                let lesson = wanted.swap_remove(0);
                self.lesson = Some(lesson.name);
                self.own_name = Some(lesson.lesson);
                let mut likely = self.likely(lesson.addresses.clone());
                if likely.is_empty() {
                    self.elsewhere.clear();
                    likely = lesson.addresses;
                }
                self.found = Some(likely.clone());
                Ok(likely)
            }
            _ => Err(Status::Several {
                lessons: wanted.into_iter().map(|l| l.name).collect(),
            }),
        }
    }
}

impl Resolver {
    /// Every address of every lesson that calls itself so: the key tells which
    /// is the one.
    fn choose_astray(
        &mut self,
        found: Vec<FoundLesson>,
        own: String,
    ) -> Result<Vec<SocketAddr>, Status> {
        let fits = found.into_iter().filter(|l| l.lesson == own);
        let addresses: Vec<_> = self.likely(fits.flat_map(|l| l.addresses).collect());
        if addresses.is_empty() {
            // Back to the address given by hand, for a turn.
            self.astray = false;
            self.elsewhere.clear();
            return Err(Status::Finding { lesson: Some(own) });
        }
        self.found = Some(addresses.clone());
        Ok(addresses)
    }
}

/// Whether somebody may have meant this name: letters large or small.
fn is_like(name: &str, typed: &str) -> bool {
    name.to_lowercase() == typed.trim().to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lesson(name: &str, port: u16) -> FoundLesson {
        FoundLesson {
            name: name.into(),
            lesson: name.into(),
            addresses: vec![
                SocketAddr::from(([192, 0, 2, 1], port)),
                SocketAddr::from(([127, 0, 0, 1], port)),
            ],
            host_name: "hall".into(),
            protocol: None,
            open: false,
        }
    }

    #[test]
    fn the_only_lesson_is_taken_and_stuck_to() {
        let mut w = Resolver::new(Target::Lesson(None));
        assert!(w.choose(Vec::new()).is_err());
        let first = w.choose(vec![lesson("Monday", 1)]).unwrap();
        assert_eq!(w.known(), Some(first));
        // The host moved to another port, and there is another lesson by now.
        w.failed();
        assert_eq!(w.known(), None);
        let again = w.choose(vec![lesson("Friday", 2), lesson("Monday", 3)]);
        assert!(again.unwrap().iter().all(|a| a.port() == 3));
    }

    #[test]
    fn of_several_none_is_taken_but_the_one_named() {
        let both = || vec![lesson("Friday", 2), lesson("Monday", 3)];
        let mut any = Resolver::new(Target::Lesson(None));
        let Err(Status::Several { lessons }) = any.choose(both()) else {
            panic!("one was taken")
        };
        assert_eq!(lessons, ["Friday", "Monday"]);
        let mut named = Resolver::new(Target::Lesson(Some("Friday".into())));
        assert!(named.choose(both()).unwrap().iter().all(|a| a.port() == 2));
        assert!(named.choose(vec![lesson("Monday", 3)]).is_err());
        // However it is written, unless that fits several.
        let mut small = Resolver::new(Target::Lesson(Some("friday".into())));
        assert!(small.choose(both()).unwrap().iter().all(|a| a.port() == 2));
        let mut exact = Resolver::new(Target::Lesson(Some("friday".into())));
        let alike = vec![lesson("Friday", 2), lesson("friday", 3)];
        assert!(exact.choose(alike).unwrap().iter().all(|a| a.port() == 3));
    }

    #[test]
    fn an_address_that_leads_elsewhere_is_left_out() {
        let mut w = Resolver::new(Target::Lesson(None));
        let second_of_its_name = || FoundLesson {
            lesson: "Monday".into(),
            ..lesson("Monday (2)", 1)
        };
        let found = w.choose(vec![second_of_its_name()]).unwrap();
        assert!(w.is_meant("Monday"));
        assert!(!w.is_meant("Monday (2)") && !w.is_meant("Friday"));
        assert!(w.led_elsewhere(found[0]));
        assert_eq!(w.known(), Some(vec![found[1]]));
        // Not tried again when the lesson is found again.
        w.failed();
        assert_eq!(
            w.choose(vec![second_of_its_name()]).ok(),
            Some(vec![found[1]])
        );
        // Unless that was all there is.
        assert!(!w.led_elsewhere(found[1]));
        assert_eq!(w.known(), None);
        assert_eq!(
            w.choose(vec![second_of_its_name()]).ok(),
            Some(found.clone())
        );

        let typed = Resolver::new(Target::Address(found));
        assert!(typed.is_meant("Friday"));
    }

    #[test]
    fn a_proved_host_reached_by_hand_is_looked_for_by_turns() {
        let typed = SocketAddr::from(([192, 0, 2, 9], 4750));
        let mut w = Resolver::new(Target::Address(vec![typed]));
        // An open lesson has nothing to be told by: only the address counts.
        w.worked(typed);
        w.failed();
        assert_eq!(w.known(), Some(vec![typed]));

        w.proved("Monday");
        w.failed();
        assert_eq!(w.known(), None, "it is looked for");
        assert!(w.choose(vec![lesson("Friday", 2)]).is_err());
        assert_eq!(w.known(), Some(vec![typed]), "by turns");
        w.failed();
        let found = w
            .choose(vec![lesson("Friday", 2), lesson("Monday", 3)])
            .unwrap();
        assert!(found.iter().all(|a| a.port() == 3));
        assert!(w.is_hearsay(found[0]) && !w.is_hearsay(typed));
        // One of them led to somebody else's lesson of the same name.
        assert!(w.led_elsewhere(found[0]));
        assert_eq!(w.known(), Some(vec![found[1]]));
        w.worked(found[1]);
        assert_eq!(w.known(), Some(vec![found[1], typed]));
        assert!(!w.is_hearsay(found[1]));
    }

    #[test]
    fn the_address_that_worked_comes_first() {
        let mut w = Resolver::new(Target::Lesson(None));
        let found = w.choose(vec![lesson("Monday", 1)]).unwrap();
        w.worked(found[1]);
        assert_eq!(w.known(), Some(vec![found[1], found[0]]));
        let mut typed = Resolver::new(Target::Address(found.clone()));
        typed.worked(found[1]);
        typed.failed();
        assert_eq!(typed.known(), Some(vec![found[1], found[0]]));
    }
}
