//! What happens in a lesson, as lines for its host.

use std::collections::{HashMap, HashSet};

use fifthpeg_core::text;
use fifthpeg_core::{Neck, Pitch, Spelling};
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::event::{Leaving, LessonEvent};
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{Rules, Sounding, StudentId};
use fifthpeg_lesson::terminal::{AFTERSOUND, longest_tone};
use fifthpeg_lesson::view::LessonView;
use fifthpeg_lesson::words;
use tokio::time::Instant;

use crate::host_lines::HostWait;
use crate::say::{Say, Word};
use crate::{describe, rules};

/// Turns events into lines, in the order in which they happened.
pub struct HostReport {
    rules: Rules,
    names: HashMap<StudentId, String>,
    here: HashSet<StudentId>,
    answers: usize,
    hearings: HashMap<StudentId, u32>,
    present: HashSet<StudentId>,
    found: HashSet<StudentId>,
    /// Those of the call whose places are gone, as numbers only: terminals
    /// that come and go must not fill the memory.
    gone: Gone,
    neck: Option<Neck>,
    pitch: Option<Pitch>,
}

/// Who had a part in the call and has no place in the lesson any more.
#[derive(Default)]
struct Gone {
    present: usize,
    found: usize,
}

impl HostReport {
    /// For a lesson that begins with these rules.
    pub fn new(rules: Rules) -> Self {
        Self {
            neck: Neck::build(rules.neck.clone()).ok(),
            pitch: None,
            rules,
            names: HashMap::new(),
            here: HashSet::new(),
            answers: 0,
            hearings: HashMap::new(),
            present: HashSet::new(),
            found: HashSet::new(),
            gone: Gone::default(),
        }
    }

    /// Puts right what events that were missed would have said.
    pub fn catch_up(&mut self, view: &LessonView) {
        let connected = view.students.iter().filter(|student| student.connected);
        self.here = connected.map(|student| student.id).collect();
        let known = self.names.keys().chain(&self.present).chain(&self.found);
        let known: HashSet<StudentId> = known.copied().collect();
        for student in known {
            if !view.students.iter().any(|s| s.id == student) {
                self.forget(student);
            }
        }
        for student in &view.students {
            self.names.insert(student.id, student.name.clone());
        }
    }

    /// A place is gone for good; its part in the call still counts.
    fn forget(&mut self, student: StudentId) {
        self.names.remove(&student);
        self.here.remove(&student);
        self.hearings.remove(&student);
        let found = self.found.remove(&student);
        if self.present.remove(&student) || found {
            self.gone.present += 1;
        }
        if found {
            self.gone.found += 1;
        }
    }

    /// Takes in who has a place already, in a lesson taken up again.
    pub fn know(&mut self, view: &LessonView) {
        let names = view.students.iter().map(|s| (s.id, s.name.clone()));
        self.names.extend(names);
    }

    fn found(&self) -> usize {
        self.found.len() + self.gone.found
    }

    fn spelling(&self) -> Spelling {
        self.rules.spelling()
    }

    fn name(&self, student: StudentId) -> &str {
        self.names.get(&student).map_or("somebody", String::as_str)
    }

    /// Whether what a host waits for holds, after the events so far.
    pub fn holds(&self, wait: HostWait) -> bool {
        match wait {
            HostWait::Students(number) => self.here.len() >= number,
            HostWait::Answers(number) => self.answers >= number,
            HostWait::Found(number) => self.found() >= number,
        }
    }

    /// When the tone ends that this event has sounded in the room: the students'
    /// terminals sound it, or the host's speakers.
    fn tone_ends(&self, event: &LessonEvent) -> Option<Moment> {
        let start = match event {
            LessonEvent::CallMade { start, .. } | LessonEvent::SoundedAgain { start, .. }
                if self.rules.sounding != Sounding::OnAsking =>
            {
                start
            }
            LessonEvent::HostSound { start, .. } => start,
            _ => return None,
        };
        Some(*start + longest_tone(self.rules.voice) + AFTERSOUND)
    }

    /// Says what an event means for the host, at `now`.
    pub fn event(&mut self, event: &LessonEvent, now: Moment, say: &mut Say) {
        if let Some(ends) = self.tone_ends(event) {
            say.tone_ends(Some(Instant::now() + ends.since(now)));
        }
        match event {
            LessonEvent::Joined {
                student,
                name,
                returning,
                ..
            } => {
                self.names.insert(*student, name.clone());
                self.here.insert(*student);
                say.say(if *returning { Word::Back } else { Word::Joined }, name);
            }
            LessonEvent::Left {
                student, leaving, ..
            } => {
                self.here.remove(student);
                let name = self.name(*student);
                match leaving {
                    Leaving::Lost | Leaving::FellBehind => say.say(Word::Away, name),
                    Leaving::Left | Leaving::MadeRoom => say.say(Word::Left, name),
                    Leaving::Removed => say.say(Word::Left, format!("{name}, removed")),
                }
                if matches!(leaving, Leaving::Removed | Leaving::MadeRoom) {
                    self.forget(*student);
                }
            }
            LessonEvent::KnownAs {
                student,
                name,
                before,
                ..
            } => {
                if let Some(before) = before {
                    self.forget(*before);
                }
                let was = self.names.insert(*student, name.clone());
                let was = was.unwrap_or_else(|| "somebody".to_owned());
                say.say(Word::Known, format!("{was} is {name}"));
            }
            LessonEvent::RulesChanged { rules, .. } => {
                rules::say_changes(&self.rules, rules, say);
                self.rules = (**rules).clone();
            }
            LessonEvent::Turn { student, .. } => match student {
                Some(student) => say.say(Word::Turn, self.name(*student)),
                None => say.say(Word::Turn, "nobody"),
            },
            LessonEvent::CallMade {
                call,
                pitch,
                present,
                ..
            } => {
                self.pitch = Some(*pitch);
                self.answers = 0;
                self.hearings.clear();
                self.found.clear();
                self.gone = Gone::default();
                self.present = present.iter().copied().collect();
                say.say(Word::Call, format!("{} sounding", call.0));
            }
            LessonEvent::SoundedAgain { call, .. } => {
                say.say(Word::Again, format!("call {}", call.0));
            }
            LessonEvent::Heard {
                student,
                free: false,
                ..
            } => {
                let count = self.hearings.entry(*student).or_insert(0);
                *count += 1;
                let count = *count;
                say.say(Word::Heard, format!("{} {count}", self.name(*student)));
            }
            LessonEvent::Tried {
                student,
                tried,
                source,
                ..
            } => say.say(
                Word::Tried,
                format!(
                    "{} {}{}",
                    self.name(*student),
                    words::answer(*tried, self.spelling()),
                    describe::played(*source)
                ),
            ),
            LessonEvent::Sung { student, sung, .. } => say.say(
                Word::Sung,
                format!("{} {}", self.name(*student), describe::sung(sung)),
            ),
            LessonEvent::Answered { .. } => self.answered(event, say),
            LessonEvent::Revealed { .. } => {
                if let (Some(pitch), Some(neck)) = (self.pitch, &self.neck) {
                    let places = neck.places(pitch);
                    say.say(
                        Word::Reveal,
                        describe::reveal(pitch, &places, self.spelling()),
                    );
                }
            }
            LessonEvent::Closed { call, .. } => say.say(
                Word::Closed,
                format!(
                    "call {}: {} of {} found it",
                    call.0,
                    self.found(),
                    self.present.union(&self.found).count() + self.gone.present
                ),
            ),
            _ => {}
        }
    }

    fn answered(&mut self, event: &LessonEvent, say: &mut Say) {
        let LessonEvent::Answered {
            student,
            answer,
            mark,
            response,
            uncertainty,
            source,
            ..
        } = event
        else {
            return;
        };
        self.answers += 1;
        if *mark == Mark::Right {
            self.found.insert(*student);
        } else {
            // Somebody who came late has a part in the call from now on.
            self.present.insert(*student);
        }
        let time = response.map_or_else(String::new, |time| {
            format!(", {}", text::measured(time, *uncertainty))
        });
        say.say(
            Word::Answer,
            format!(
                "{} {} {}{time}{}",
                self.name(*student),
                words::answer(*answer, self.spelling()),
                describe::mark(mark),
                describe::played(*source)
            ),
        );
    }
}

#[cfg(test)]
mod tests;
