//! Lines that wait for a tone to end: a screen reader speaks each line as it
//! comes, and must not talk over the note that everybody listens for.
//!
//! All lines keep their order. Whoever types has stopped listening, and is
//! answered at once, after what waited.

use std::time::Duration;

use tokio::time::Instant;

/// The longest that a line waits: tones may follow each other without end.
/// Our choice: a call, and its sounding again once.
pub(crate) const LONGEST_WAIT: Duration = Duration::from_secs(6);

/// What waits for the end of a tone.
#[derive(Debug, Default)]
pub(crate) struct Hush {
    /// When the last tone ends.
    tone_ends: Option<Instant>,
    /// Since when lines wait, and which.
    since: Option<Instant>,
    lines: String,
}

impl Hush {
    /// The last tone that is known ends then.
    pub(crate) fn tone_ends(&mut self, at: Option<Instant>) {
        self.tone_ends = at;
    }

    /// When what waits is to be said; `None` where nothing waits.
    pub(crate) fn due(&self) -> Option<Instant> {
        let latest = self.since? + LONGEST_WAIT;
        Some(self.tone_ends.map_or(latest, |ends| ends.min(latest)))
    }

    /// Takes one line, and gives what is to be written now.
    pub(crate) fn take(&mut self, line: &str, answers: bool, now: Instant) -> String {
        self.lines.push_str(line);
        self.since.get_or_insert(now);
        if answers {
            self.let_go()
        } else {
            self.look(now)
        }
    }

    /// What is to be written now.
    pub(crate) fn look(&mut self, now: Instant) -> String {
        match self.due() {
            Some(due) if now >= due || self.tone_ends.is_none() => self.let_go(),
            _ => String::new(),
        }
    }

    /// All that waits.
    pub(crate) fn let_go(&mut self) -> String {
        self.since = None;
        std::mem::take(&mut self.lines)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[derive(Debug, Clone)]
    enum Step {
        /// News, or an answer to what was typed.
        Line { answers: bool },
        /// A tone sounds until so many ms from now.
        Tone(u64),
        /// The tone that was ordered makes no sound.
        Silent,
        /// So many ms pass, and it is looked again.
        Pass(u64),
    }

    fn step() -> impl Strategy<Value = Step> {
        prop_oneof![
            4 => Just(Step::Line { answers: false }),
            1 => Just(Step::Line { answers: true }),
            2 => (1..4000_u64).prop_map(Step::Tone),
            1 => Just(Step::Silent),
            4 => (1..3000_u64).prop_map(Step::Pass),
        ]
    }

    proptest! {
        #[test]
        fn no_line_is_lost_or_overtaken_and_none_talks_over_a_tone_unasked(
            steps in prop::collection::vec(step(), 1..80),
        ) {
            let mut hush = Hush::default();
            let mut now = Instant::now();
            let mut tone_ends = None;
            let mut said = String::new();
            let mut wanted = String::new();
            // When each line that waits came.
            let mut waits: Vec<Instant> = Vec::new();
            for (n, step) in steps.into_iter().enumerate() {
                let mut answers = false;
                let out = match step {
                    Step::Line { answers: yes } => {
                        answers = yes;
                        let line = format!("line {n}\n");
                        wanted.push_str(&line);
                        waits.push(now);
                        hush.take(&line, answers, now)
                    }
                    Step::Tone(ms) => {
                        tone_ends = Some(now + Duration::from_millis(ms));
                        hush.tone_ends(tone_ends);
                        hush.look(now)
                    }
                    Step::Silent => {
                        tone_ends = None;
                        hush.tone_ends(None);
                        hush.look(now)
                    }
                    Step::Pass(ms) => {
                        now += Duration::from_millis(ms);
                        hush.look(now)
                    }
                };
                let sounds = tone_ends.is_some_and(|ends| now < ends);
                let late = waits.first().is_some_and(|since| now >= *since + LONGEST_WAIT);
                // Without a tone nothing waits; with one, nothing is said unasked.
                let goes = !waits.is_empty() && (!sounds || answers || late);
                prop_assert_eq!(!out.is_empty(), goes);
                if goes {
                    waits.clear();
                }
                prop_assert_eq!(hush.due().is_some(), !waits.is_empty());
                said.push_str(&out);
                prop_assert!(wanted.starts_with(&said));
            }
            said.push_str(&hush.let_go());
            prop_assert_eq!(said, wanted);
        }
    }
}
