//! How a sound begins: a plucked string is at its loudest within a few
//! milliseconds and dies away from then on; a voice swells over tens of them
//! (the classes of attack in Bello et al., 2005, section II).

use crate::news::News;

/// Shortest window that power is averaged over, in milliseconds.
const WINDOW_MS: f64 = 8.0;
/// A pluck has this much of its loudest window's power at once, in dB,
const FIRST_DB: f64 = -3.0;
/// and does not grow by more than this afterwards, in dB: partials may beat.
const GROWTH_DB: f64 = 1.5;
/// Soft fingers on thick strings, and notes in noise, are less clear.
const DOUBTFUL_FIRST_DB: f64 = -6.0;
const DOUBTFUL_GROWTH_DB: f64 = 3.5;

/// A string sounds on for longer than a knock: after a tenth of a second it is no
/// softer than this beside its beginning, in dB.
const FADED_DB: f64 = -14.0;

/// The shape of what is new.
#[derive(Debug, Clone, Copy, PartialEq)]
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

    /// Whether it began as a pluck surely does.
    pub fn is_plucked(&self) -> bool {
        self.first_db > FIRST_DB && self.growth_db < GROWTH_DB
    }

    /// Whether it still sounds: wood that was knocked does not.
    pub fn lasts(&self) -> bool {
        self.fade_db > FADED_DB
    }

    /// Whether it may be a pluck all the same.
    pub fn may_be_plucked(&self) -> bool {
        self.first_db > DOUBTFUL_FIRST_DB && self.growth_db < DOUBTFUL_GROWTH_DB
    }
}
