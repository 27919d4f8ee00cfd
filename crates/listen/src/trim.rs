//! The output's trim on the bench: what it is, what a measured delay would make
//! it, and keeping it.

use std::time::Duration;

use fifthpeg_sound::Trim;

use crate::trims::{Trims, shown_ms};

/// What a loop can tell and what it cannot.
pub const BOTH_ENDS: &str = "the delay is that of output and microphone together: which of them it \
    is cannot be told from this. As a trim it puts right the times of notes you pluck, whichever \
    it is; that you start a call with everyone else, only as far as it is the output's (wireless \
    headphones or a television, with a microphone on a wire)";

/// The trim of the output in use.
#[derive(Debug)]
pub struct TrimBench {
    trims: Trims,
    /// The output's name; `None` where a trim cannot be kept for it.
    output: Option<String>,
    trim: Option<Trim>,
    found: Option<Trim>,
}

impl TrimBench {
    /// The trim that the output was opened with.
    pub fn new(output: Option<String>, trim: Option<Trim>, trims: Trims) -> Self {
        Self {
            trims,
            output,
            trim,
            found: None,
        }
    }

    /// The trim in use.
    pub fn trim(&self) -> Trim {
        self.trim.unwrap_or(Trim::NONE)
    }

    /// The trim in a few words; `None` if there is none.
    pub fn short(&self) -> Option<String> {
        self.trim.map(crate::trims::words)
    }

    /// The trim in a sentence.
    pub fn words(&self) -> String {
        match self.trim {
            None => "the output has no trim: it is taken to be as late as the sound system says"
                .to_owned(),
            Some(trim) => {
                let side = if trim.later_ms() < 0.0 {
                    "earlier"
                } else {
                    "later"
                };
                format!(
                    "the output sounds {} ms {side} than the sound system says, give or take {} ms, \
                     by its trim",
                    shown_ms(trim.later_ms().abs()),
                    shown_ms(trim.within_ms())
                )
            }
        }
    }

    /// Takes what a loop test found with the trim in use; the trim that would put
    /// it right, if there is something to put right. It is [`Trim::NONE`] where the
    /// trim in use is the fault: one that is smaller than what it may be out by
    /// would only make response times less certain.
    pub fn measured(&mut self, delay_ms: f64, within: Duration) -> Option<Trim> {
        let within_ms = within.as_secs_f64() * 1000.0;
        let whole = self.trim().later_ms() + delay_ms;
        let found = if whole.abs() <= within_ms {
            Ok(Trim::NONE)
        } else {
            Trim::measured(whole, within_ms)
        };
        self.found = found
            .ok()
            .filter(|_| delay_ms.abs() > within_ms && self.output.is_some());
        self.found
    }

    /// Keeps the trim that was found.
    ///
    /// # Errors
    /// One sentence, when none was found or it cannot be kept.
    pub fn keep(&mut self) -> Result<(), String> {
        let found = self.found.ok_or(
            "no delay worth a trim has been measured: measure the delay first, or give the \
             milliseconds",
        )?;
        if found == Trim::NONE {
            self.remove()
        } else {
            self.set(found)
        }
    }

    /// Keeps this trim.
    ///
    /// # Errors
    /// One sentence, when it cannot be kept.
    pub fn set(&mut self, trim: Trim) -> Result<(), String> {
        let output = self.output.as_ref().ok_or(NO_NAME)?;
        self.trims
            .keep(output, trim)
            .map_err(|why| why.to_string())?;
        self.trim = Some(trim);
        self.found = None;
        Ok(())
    }

    /// Forgets the trim, kept or not.
    ///
    /// # Errors
    /// One sentence, when the file of trims cannot be read or written.
    pub fn remove(&mut self) -> Result<(), String> {
        if let Some(output) = &self.output {
            self.trims.remove(output).map_err(|why| why.to_string())?;
        }
        self.trim = None;
        self.found = None;
        Ok(())
    }
}

const NO_NAME: &str = "this output has no name to keep a trim by: give --trim each time";

#[cfg(test)]
mod tests {
    use super::*;

    fn bench(output: Option<&str>, trim: Option<f64>) -> TrimBench {
        let trim = trim.map(|ms| Trim::typed(ms).expect("a trim"));
        TrimBench::new(output.map(str::to_owned), trim, Trims::nowhere())
    }

    #[test]
    fn a_found_delay_adds_to_the_trim_in_use() {
        let ms = Duration::from_millis;
        let mut one = bench(Some("pulse"), Some(-60.0));
        assert_eq!(one.measured(57.0, ms(28)), Some(Trim::NONE));
        let mut one = bench(Some("pulse"), Some(100.0));
        let found = one.measured(43.0, ms(6)).expect("worth it");
        assert_eq!((found.later_ms(), found.within_ms()), (143.0, 6.0));
        assert_eq!(one.measured(-4.0, ms(6)), None);
        assert!(one.keep().is_err(), "nothing is left to keep");
        // Nor is anything beyond reason, or without a name to keep it by.
        assert_eq!(one.measured(1000.0, ms(6)), None);
        assert_eq!(bench(None, None).measured(143.0, ms(6)), None);
    }

    #[test]
    fn words_say_the_side_and_the_unit() {
        assert!(bench(None, None).words().contains("no trim"));
        let words = bench(None, Some(-20.0)).words();
        assert!(words.contains("20 ms earlier"), "{words}");
        assert_eq!(
            bench(None, Some(140.0)).short().as_deref(),
            Some("trim 140 ms")
        );
    }

    #[test]
    fn what_cannot_be_kept_is_told_and_changes_nothing() {
        let mut one = bench(Some("pulse"), None);
        one.measured(143.0, Duration::from_millis(6));
        let said = one.keep().expect_err("there is nowhere to keep it");
        assert!(said.contains("give --trim"), "{said}");
        assert_eq!(one.trim(), Trim::NONE);
    }
}
