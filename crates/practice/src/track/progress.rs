//! How far a long piece of work is, on standard error: one line that is written
//! over on a terminal, a line for each quarter elsewhere.

use std::io::IsTerminal;
use std::time::{Duration, Instant};

use fifthpeg_front::out;

/// How often a terminal is told.
const EVERY: Duration = Duration::from_millis(100);

/// Tells how far it is.
#[derive(Debug)]
pub struct TrackProgress {
    terminal: bool,
    told: Option<Instant>,
    quarters: u32,
}

impl Default for TrackProgress {
    fn default() -> Self {
        TrackProgress {
            terminal: std::io::stderr().is_terminal(),
            told: None,
            quarters: 0,
        }
    }
}

impl TrackProgress {
    /// Makes room on a terminal for another line.
    pub fn clear(&mut self) {
        if self.terminal && self.told.take().is_some() {
            out::progress(&format!("{:16}", ""), true);
            out::progress("", true);
        }
    }

    /// Tells a part from 0 to 1, if it is time to. Nobody listening is no
    /// trouble.
    pub fn tell(&mut self, part: f64) {
        if self.terminal {
            if self.told.is_none_or(|told| told.elapsed() >= EVERY) || part >= 1.0 {
                self.told = Some(Instant::now());
                out::progress(&format!("writing {:3.0} %", 100.0 * part), true);
                if part >= 1.0 {
                    out::note("");
                }
            }
        } else {
            let quarters = (4.0 * part) as u32;
            if quarters > self.quarters {
                self.quarters = quarters;
                out::progress(&format!("writing {} %", 25 * quarters), false);
            }
        }
    }
}
