//! What plain mode says: one line at a time, each beginning with a fixed word.

use std::io::{IsTerminal, Write};

use tokio::time::Instant;

use crate::hush::Hush;

mod word;

pub use word::{WORDS, Word};

/// Writes lines. A reader that has gone away is no reason to stop a lesson.
pub struct Say {
    out: Box<dyn Write + Send>,
    /// Where somebody sits and listens: what would be talked over a tone waits.
    hush: Option<Hush>,
    answers: bool,
}

impl Say {
    /// Writes to standard output. Where commands come from a pipe nobody listens,
    /// and every line is written at once.
    pub fn stdout() -> Self {
        let hush = std::io::stdin().is_terminal().then(Hush::default);
        Self {
            hush,
            ..Self::to(Box::new(std::io::stdout()))
        }
    }

    /// Writes anywhere.
    pub fn to(out: Box<dyn Write + Send>) -> Self {
        Self {
            out,
            hush: None,
            answers: false,
        }
    }

    /// The last tone that sounds or is about to ends then; nothing waits beyond it.
    pub(crate) fn tone_ends(&mut self, at: Option<Instant>) {
        if let Some(hush) = &mut self.hush {
            hush.tone_ends(at);
            let out = hush.look(Instant::now());
            self.write(&out);
        }
    }

    /// From now on lines answer what was typed, and wait for no tone; or no longer.
    pub(crate) fn answers(&mut self, answers: bool) {
        self.answers = answers;
    }

    /// Writes what need not wait any longer.
    pub(crate) fn look(&mut self) {
        if let Some(hush) = &mut self.hush {
            let out = hush.look(Instant::now());
            self.write(&out);
        }
    }

    /// When there is something to write that waits.
    pub(crate) fn due(&self) -> Option<Instant> {
        self.hush.as_ref()?.due()
    }

    /// Writes what waits: the lesson is over.
    pub(crate) fn let_go(&mut self) {
        if let Some(hush) = &mut self.hush {
            hush.tone_ends(None);
            let out = hush.let_go();
            self.write(&out);
        }
    }

    /// One line. Control signs in it are shown as question marks, so that no
    /// name can begin a line of its own.
    pub fn say(&mut self, word: Word, rest: impl AsRef<str>) {
        let rest = fifthpeg_core::text::one_line(rest.as_ref());
        let space = if rest.is_empty() || rest.starts_with(':') {
            ""
        } else {
            " "
        };
        let line = format!("{}{space}{rest}\n", word.text());
        let line = match &mut self.hush {
            Some(hush) => hush.take(&line, self.answers, Instant::now()),
            None => line,
        };
        self.write(&line);
    }

    fn write(&mut self, lines: &str) {
        if !lines.is_empty() {
            let _ = self.out.write_all(lines.as_bytes());
            let _ = self.out.flush();
        }
    }

    /// An error line, with the line of the script if it came from one.
    pub fn error(&mut self, script_line: Option<usize>, sentence: impl ToString) {
        let sentence = sentence.to_string();
        match script_line {
            Some(number) => self.say(Word::Error, format!("line {number}: {sentence}")),
            None => self.say(Word::Error, format!(": {sentence}")),
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use std::collections::HashSet;
    use std::sync::{Arc, Mutex};

    /// Somebody sits there and listens.
    pub(crate) fn spoken(kept: &Kept) -> Say {
        Say {
            hush: Some(Hush::default()),
            ..Say::to(Box::new(kept.clone()))
        }
    }

    /// Keeps what was said.
    #[derive(Clone, Default)]
    pub(crate) struct Kept(Arc<Mutex<Vec<u8>>>);

    impl Kept {
        /// All that was said so far.
        pub(crate) fn text(&self) -> String {
            let bytes = self.0.lock().expect("kept").clone();
            String::from_utf8(bytes).expect("utf-8")
        }
    }

    impl Write for Kept {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().expect("kept").extend_from_slice(bytes);
            Ok(bytes.len())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn first_words_differ_and_are_lower_case() {
        let mut seen = HashSet::new();
        for (word, _, meaning) in WORDS {
            assert!(seen.insert(word.text()), "{} is there twice", word.text());
            assert!(
                word.text()
                    .bytes()
                    .all(|b| b.is_ascii_lowercase() || b == b'-')
            );
            assert!(!meaning.is_empty());
        }
    }

    #[test]
    fn nothing_talks_over_a_tone_but_what_was_asked_for() {
        let soon = || Some(Instant::now() + std::time::Duration::from_secs(3600));
        let kept = Kept::default();
        let mut say = spoken(&kept);
        say.say(Word::Joined, "Mia");
        say.tone_ends(soon());
        say.say(Word::Call, "1 sounding");
        assert_eq!(kept.text(), "joined Mia\n");
        say.answers(true);
        say.error(None, "that is no place");
        say.answers(false);
        let so_far = "joined Mia\ncall 1 sounding\nerror: that is no place\n";
        assert_eq!(kept.text(), so_far);
        say.say(Word::Again, "call 1");
        assert!(say.due().is_some());
        assert_eq!(kept.text(), so_far);
        say.let_go();
        assert_eq!(kept.text(), format!("{so_far}again call 1\n"));
        // A pipe gets every line at once.
        let kept = Kept::default();
        let mut say = Say::to(Box::new(kept.clone()));
        say.tone_ends(soon());
        say.say(Word::Call, "1 sounding");
        assert_eq!(kept.text(), "call 1 sounding\n");
        assert_eq!(say.due(), None);
    }

    #[test]
    fn a_name_cannot_begin_a_line_of_its_own() {
        let kept = Kept::default();
        let mut say = Say::to(Box::new(kept.clone()));
        say.say(Word::Joined, "Mia\nended the lesson");
        say.error(Some(3), "that is no place");
        say.error(None, "that is no place");
        assert_eq!(
            kept.text(),
            "joined Mia?ended the lesson\nerror line 3: that is no place\nerror: that is no place\n"
        );
    }
}
