//! What everyone did in a lesson, as a table at its end.

use std::collections::HashMap;
use std::time::Duration;

use fifthpeg_lesson::LessonEvent;
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::view::LessonView;
use tokio::sync::broadcast::{self, error::RecvError};

use crate::text;

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

/// Keeps the times of right answers until the lesson is over.
pub async fn keep(mut events: broadcast::Receiver<LessonEvent>) -> Timings {
    let mut timings = Timings::default();
    loop {
        match events.recv().await {
            Ok(LessonEvent::Answered {
                student,
                mark: Mark::Right,
                response: Some(response),
                uncertainty,
                ..
            }) => timings.note(student, response, uncertainty),
            Ok(_) | Err(RecvError::Lagged(_)) => {}
            Err(RecvError::Closed) => return timings,
        }
    }
}

/// The table, one line for each student below the headings.
pub fn table(view: &LessonView, timings: &Timings) -> Vec<String> {
    let widest = view
        .students
        .iter()
        .map(|student| student.name.chars().count())
        .max()
        .unwrap_or(0)
        .max("name".len());
    let mut lines = vec![format!(
        "{:widest$}  calls  found  first answer  hearings  tries  median time",
        "name"
    )];
    for student in &view.students {
        let tally = &student.tally;
        let time = match (timings.median(student.id), tally.median) {
            (Some((median, uncertainty)), _) => text::measured(median, uncertainty),
            (None, Some(median)) => text::seconds(median),
            (None, None) => "-".to_owned(),
        };
        lines.push(format!(
            "{:widest$}  {:>5}  {:>5}  {:>12}  {:>8}  {:>5}  {time}",
            text::one_line(&student.name),
            tally.calls,
            tally.found,
            tally.found_first,
            tally.hearings,
            tally.tries,
        ));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

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
}
