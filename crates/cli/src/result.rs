//! What everyone did in a lesson, as a table at its end.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;
use std::time::Duration;

use fifthpeg_core::text;
use fifthpeg_front::failure::Failure;
use fifthpeg_host::{BookState, Host};
use fifthpeg_lesson::event::{Leaving, LessonEvent};
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_plain::say::{Say, Word};
use tokio::sync::{
    broadcast::{self, error::RecvError},
    watch,
};
use tokio::task::JoinHandle;

/// Response times of found calls, each with how far it may be off.
#[derive(Debug, Clone, Default)]
pub struct Timings {
    found: HashMap<StudentId, Vec<(Duration, Duration)>>,
}

impl Timings {
    /// Keeps the time of a right answer.
    pub fn note(&mut self, student: StudentId, response: Duration, uncertainty: Duration) {
        self.found
            .entry(student)
            .or_default()
            .push((response, uncertainty));
    }

    /// Forgets a student whose place is gone: the table has no line for them,
    /// and terminals that come and go must not fill the memory.
    pub fn forget(&mut self, student: StudentId) {
        self.found.remove(&student);
    }

    /// Forgets everyone who is not in the table.
    pub fn keep_only(&mut self, view: &LessonView) {
        let all: HashSet<StudentId> = lines(view).map(|(student, ..)| student).collect();
        self.found.retain(|student, _| all.contains(student));
    }

    /// Takes in what happened.
    pub fn take(&mut self, event: &LessonEvent) {
        match event {
            LessonEvent::Answered {
                student,
                mark: Mark::Right,
                response: Some(response),
                uncertainty,
                ..
            } => self.note(*student, *response, *uncertainty),
            LessonEvent::KnownAs {
                student,
                before: Some(before),
                ..
            } => {
                let times = self.found.remove(before).unwrap_or_default();
                self.found.entry(*student).or_default().extend(times);
            }
            LessonEvent::Left {
                student,
                leaving: Leaving::MadeRoom,
                ..
            } => self.forget(*student),
            _ => {}
        }
    }

    /// The median and how far it may be off. If no single time is off by more
    /// than u, neither is their median, so the largest u stands for it.
    pub fn median(&self, student: StudentId) -> Option<(Duration, Duration)> {
        let times = self.found.get(&student)?;
        let mut sorted: Vec<Duration> = times.iter().map(|(time, _)| *time).collect();
        sorted.sort_unstable();
        let middle = sorted.len() / 2;
        let median = if sorted.len() % 2 == 1 {
            *sorted.get(middle)?
        } else {
            (*sorted.get(middle.checked_sub(1)?)? + *sorted.get(middle)?) / 2
        };
        let uncertainty = times.iter().map(|(_, u)| *u).max()?;
        Some((median, uncertainty))
    }
}

/// Keeps the times of right answers until the lesson is over, of those who
/// have a place in it. `earlier` is what happened before the host was killed, if
/// it was.
pub async fn keep(
    earlier: Vec<LessonEvent>,
    mut events: broadcast::Receiver<LessonEvent>,
    view: watch::Receiver<Arc<LessonView>>,
) -> Timings {
    let mut timings = Timings::default();
    earlier.iter().for_each(|event| timings.take(event));
    drop(earlier);
    loop {
        match events.recv().await {
            Ok(event) => timings.take(&event),
            // Whoever went meanwhile is not in the view any more.
            Err(RecvError::Lagged(_)) => timings.keep_only(&view.borrow()),
            Err(RecvError::Closed) => return timings,
        }
    }
}

/// Ends the lesson and says the table; whether all of it is in a book, and how it ended.
pub async fn end(
    host: Host,
    timings: JoinHandle<Timings>,
    say: &mut Say,
) -> (bool, Result<(), Failure>) {
    let written = *host.book().borrow() == BookState::Writing;
    let view = host.view();
    let ended = host.end().await.map_err(Failure::runtime);
    let timings = timings.await.unwrap_or_default();
    for line in table(&view.borrow(), &timings) {
        say.say(Word::Result, line);
    }
    (written && ended.is_ok(), ended)
}

/// Everyone in the table: those who have a place, and those who were taken out
/// with what they did until then.
fn lines(view: &LessonView) -> impl Iterator<Item = (StudentId, String, &Tally)> {
    let here = view.students.iter();
    let here = here.map(|s| (s.id, text::one_line(&s.name), &s.tally));
    let out = view.taken_out.iter().map(|out| {
        let name = format!("{}, taken out", text::one_line(&out.name));
        (out.id, name, &out.tally)
    });
    here.chain(out)
}

/// The table, one line for each student below the headings; nothing of nobody.
pub fn table(view: &LessonView, timings: &Timings) -> Vec<String> {
    if lines(view).next().is_none() {
        return Vec::new();
    }
    let widest = lines(view)
        .map(|(_, name, _)| name.chars().count())
        .max()
        .unwrap_or(0)
        .max("name".len());
    let mut lines = vec![format!(
        "{:widest$}  calls  found  first  played  sung  again  tries  median",
        "name"
    )];
    for (student, name, tally) in self::lines(view) {
        let time = match (timings.median(student), tally.median) {
            (Some((median, uncertainty)), _) => text::measured(median, uncertainty),
            (None, Some(median)) => text::seconds(median),
            (None, None) => "-".to_owned(),
        };
        lines.push(format!(
            "{:widest$}  {:>5}  {:>5}  {:>5}  {:>6}  {:>4}  {:>5}  {:>5}  {time}",
            name,
            tally.calls,
            tally.found,
            tally.found_first,
            tally.played,
            tally.sung,
            tally.hearings,
            tally.tries,
        ));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use fifthpeg_core::Neck;
    use fifthpeg_lesson::message::{Answer, CallId, SeatKey};
    use fifthpeg_lesson::{Lesson, LessonSetup, Moment};

    fn ms(number: u64) -> Duration {
        Duration::from_millis(number)
    }

    #[test]
    fn the_median_carries_the_largest_uncertainty() {
        let mut timings = Timings::default();
        let mia = StudentId(1);
        assert_eq!(timings.median(mia), None);
        timings.note(mia, ms(5000), ms(10));
        assert_eq!(timings.median(mia), Some((ms(5000), ms(10))));
        timings.note(mia, ms(3000), ms(40));
        assert_eq!(timings.median(mia), Some((ms(4000), ms(40))));
        timings.note(mia, ms(1000), ms(20));
        assert_eq!(timings.median(mia), Some((ms(3000), ms(40))));
    }
    #[tokio::test]
    async fn times_are_kept_of_those_in_the_table() {
        let neck = Neck::ready("banjo-open-g").expect("a ready neck");
        let mut lesson =
            Lesson::new(LessonSetup::new("Hall", &neck), Moment::from_micros(0)).expect("a lesson");
        let now = Moment::from_micros(1);
        let mia = lesson.handle_join("Mia", None, SeatKey(1), now);
        let mia = mia.expect("let in");
        let (to, events) = broadcast::channel(8);
        let (_view, view) = watch::channel(Arc::new(lesson.view()));
        let found = |student| LessonEvent::Answered {
            at: now,
            student,
            call: CallId(1),
            serial: 1,
            answer: Answer::Pitch(neck.lowest()),
            source: fifthpeg_lesson::message::Source::Screen,
            mark: Mark::Right,
            response: Some(ms(1000)),
            uncertainty: ms(10),
        };
        let went = |student, leaving| LessonEvent::Left {
            at: now,
            student,
            leaving,
        };
        let kept = tokio::spawn(keep(vec![found(mia)], events, view.clone()));
        let say = |event| to.send(event).expect("it is heard");
        say(found(mia));
        say(went(mia, Leaving::Lost));
        for (number, leaving) in [(2, Leaving::Removed), (3, Leaving::MadeRoom)] {
            say(found(StudentId(number)));
            say(went(StudentId(number), leaving));
        }
        drop(to);
        let timings = kept.await.expect("it ends");
        // Who was taken out is in the table still.
        assert!(timings.found.contains_key(&StudentId(2)));
        assert!(!timings.found.contains_key(&StudentId(3)));
        // One from before a kill, and one since.
        assert_eq!(timings.found[&mia].len(), 2);

        // One left unsaid, because there were too many events: the view knows.
        let (to, events) = broadcast::channel(1);
        let kept = tokio::spawn(keep(Vec::new(), events, view));
        to.send(found(StudentId(2))).expect("it is heard");
        tokio::task::yield_now().await;
        for _ in 0..3 {
            to.send(found(mia)).expect("it is heard");
        }
        drop(to);
        let timings = kept.await.expect("it ends");
        assert_eq!(timings.found.keys().collect::<Vec<_>>(), [&mia]);
    }
}
