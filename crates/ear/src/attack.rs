//! How a sound begins: a plucked string is at its loudest within a few
//! milliseconds and dies away from then on; a voice swells over tens of them
//! (the classes of attack in Bello et al., 2005, section II).

use crate::news::News;

/// Shortest window that power is averaged over, in milliseconds.
const WINDOW_MS: f64 = 8.0;
/// What grows by more than this, in dB, has not been let go yet.
const GROWS_DB: f64 = 6.0;

/// The shape of what is new.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Attack {
    /// The first moments beside the loudest, in dB.
    pub first_db: f64,
    /// What follows after a while beside the beginning, in dB.
    pub growth_db: f64,
    /// The end beside the beginning, in dB.
    pub fade_db: f64,
}

impl Attack {
    /// Measures the span that was looked at last, of `length` decimated samples,
    /// with a fundamental at `hz`.
    pub fn measure(news: &News, rate_hz: f64, length: usize, hz: f64) -> Attack {
        // Less than a period would swing with the wave.
        let window = (rate_hz * (WINDOW_MS * 1e-3).max(1.0 / hz.max(30.0))) as usize;
        let window = window.min(length / 4).max(1);
        let hop = (window / 4).max(1);
        let loudest = |from: usize, until: usize| {
            let mut most = 1e-12f64;
            let mut at = from;
            while at + window <= until.min(length) {
                most = most.max(f64::from(news.power(at..at + window)));
                at += hop;
            }
            most
        };
        let db = |ratio: f64| 10.0 * ratio.log10();
        let early = loudest(0, 2 * window);
        let end = (5 * window).min(length);
        Attack {
            first_db: db(loudest(0, window + window / 2) / loudest(0, end)),
            growth_db: db(loudest(end.saturating_sub(2 * window), end) / early),
            fade_db: db(loudest(length.saturating_sub(2 * window), length) / early),
        }
    }

    /// Whether the loudest is still to come.
    pub fn grows(&self) -> bool {
        self.growth_db > GROWS_DB
    }
}
