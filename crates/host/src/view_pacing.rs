//! When the lesson's view is drawn again.

use std::time::{Duration, Instant};

/// Paces the drawing of views. A view of a thousand students costs as much as marking
/// many answers, so drawing takes at most a twentieth of the time, however fast
/// things happen; in a small class that is at once.
#[derive(Debug)]
pub(crate) struct ViewPacing {
    wanted: bool,
    /// Inputs that the last view knew of.
    drawn: u64,
    not_before: Instant,
}

impl ViewPacing {
    /// Times the drawing's own time that passes before the next.
    const REST: u32 = 19;
    /// However long the last took: on a busy machine it may just have had to
    /// wait for its turn.
    const MOST_REST: Duration = Duration::from_millis(500);

    pub(crate) fn new(now: Instant) -> Self {
        Self {
            wanted: false,
            drawn: 0,
            not_before: now,
        }
    }

    /// The lesson has been given so many inputs by now.
    pub(crate) fn heed(&mut self, inputs: u64) {
        self.wanted = inputs != self.drawn;
    }

    /// When to draw, if there is anything new.
    pub(crate) fn due(&self) -> Option<Instant> {
        self.wanted.then_some(self.not_before)
    }

    /// A view was drawn that knows of so many inputs.
    pub(crate) fn done(&mut self, drawn: u64, began: Instant, ended: Instant) {
        self.wanted = false;
        self.drawn = drawn;
        self.not_before = ended + ((ended - began) * Self::REST).min(Self::MOST_REST);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MS: Duration = Duration::from_millis(1);

    /// Inputs come every so often for so long, drawing takes so long, and time
    /// is what this says it is: how often it was drawn, and how late after the
    /// last input the last was done.
    fn drawn(every: Duration, takes: Duration, lasts: Duration) -> (u32, Duration) {
        let begin = Instant::now();
        let mut pacing = ViewPacing::new(begin);
        let (mut now, mut inputs, mut times) = (begin, 0, 0);
        let mut next_input = begin;
        while next_input < begin + lasts || pacing.due().is_some() {
            let input = (next_input < begin + lasts).then_some(next_input);
            let due = pacing.due();
            now = now.max(input.into_iter().chain(due).min().expect("one of them"));
            if input.is_some_and(|at| at <= now) {
                inputs += 1;
                next_input += every;
                pacing.heed(inputs);
            }
            if pacing.due().is_some_and(|at| at <= now) {
                let began = now;
                now += takes;
                pacing.done(inputs, began, now);
                times += 1;
            }
        }
        // Nothing new, nothing to draw.
        assert_eq!(pacing.drawn, inputs);
        pacing.heed(inputs);
        assert_eq!(pacing.due(), None);
        (times, now.saturating_duration_since(next_input))
    }

    #[test]
    fn a_small_view_is_drawn_at_every_input() {
        let (times, _) = drawn(MS, Duration::ZERO, 1000 * MS);
        assert_eq!(times, 1000);
        // Seldom enough, a large one is as well.
        let (times, _) = drawn(500 * MS, 20 * MS, 5000 * MS);
        assert_eq!(times, 10);
    }

    #[test]
    fn one_that_was_held_up_holds_up_the_next_by_half_a_second_at_most() {
        let began = Instant::now();
        let mut pacing = ViewPacing::new(began);
        let ended = began + 400 * MS;
        pacing.done(1, began, ended);
        pacing.heed(2);
        assert_eq!(pacing.due(), Some(ended + 500 * MS));
    }

    #[test]
    fn a_large_view_takes_a_twentieth_of_the_time_and_the_last_word_is_shown() {
        for takes in [MS, 3 * MS, 25 * MS] {
            let (times, late) = drawn(MS / 10, takes, 10_000 * MS);
            let share = (takes * times).as_secs_f64() / 10.0;
            assert!(share < 0.05 + 2.0 * takes.as_secs_f64() / 10.0, "{share}");
            assert!(share > 0.04, "{share}");
            assert!(late <= takes * 21, "{late:?} after the last input");
        }
    }
}
