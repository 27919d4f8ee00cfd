//! How a terminal knows the host's clock.
//!
//! Four timestamps make one exchange, as in RFC 5905 section 8: the student
//! sends at `t1`, the host receives at `t2` and answers at `t3`, the student
//! receives at `t4`; `t1` and `t4` are read on the student's clock, `t2` and
//! `t3` on the host's. Then
//!
//! - offset θ = ((t2 − t1) + (t3 − t4)) / 2, host minus student,
//! - delay δ = (t4 − t1) − (t3 − t2),
//! - the true offset lies within δ/2 of θ, however unequal the two ways were.
//!
//! The last eight exchanges are kept and the best is used (section 10). The
//! RFC sorts by delay; ageing counts here as well, since exchanges are seconds
//! apart and a drifting crystal spoils an old one: the best is the one whose
//! error bound is smallest now. Exchanges close together are sorted by delay.
//!
//! The truth lies within the bound of every exchange, so any two must overlap.
//! Where an older one does not overlap the newest, a clock has jumped since: a
//! monotonic clock stands still while its machine sleeps, on Linux at least.
//! Such older ones are given up (the idea of a falseticker, section 11.2.1).

use core::time::Duration;
use std::collections::VecDeque;

use crate::Moment;

/// How many exchanges are kept (RFC 5905 section 10, NSTAGE).
pub const EXCHANGES_KEPT: usize = 8;

/// How fast two clocks may drift apart, in parts per million. RFC 5905 allows
/// 15 for a disciplined clock; two undisciplined crystals of 50 each, the
/// usual tolerance (from memory, no source), make 100.
pub const DRIFT_PPM: u64 = 100;

/// How finely the timestamps are read, both ends together (they are whole
/// microseconds).
const PRECISION_US: u64 = 2;

/// So many exchanges are enough, whatever they are like: no better one is waited
/// for. Fewer are if the best of them is good to so much.
const ENOUGH_EXCHANGES: usize = 4;
const GOOD_US: u64 = 2000;

/// One exchange that made sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Exchange {
    /// Host minus student, in half microseconds so that halving is exact.
    double_offset_us: i128,
    /// What the offset may be off by when it was taken.
    bound_us: u64,
    /// When the answer came back, student clock.
    at: Moment,
}

impl Exchange {
    fn bound_at_us(&self, now: Moment) -> u64 {
        // Ahead or behind: a moment converted back into the past is as much
        // subject to drift as one in the future.
        let age = now.micros().abs_diff(self.at.micros());
        self.bound_us.saturating_add(drift_us(age))
    }

    /// Whether both can be true: whether one offset lies within both bounds.
    fn agrees_with(&self, newer: &Self) -> bool {
        let apart = (self.double_offset_us - newer.double_offset_us).unsigned_abs();
        let bounds = u128::from(self.bound_at_us(newer.at)) + u128::from(newer.bound_us);
        apart <= bounds * 2
    }
}

/// What two clocks may drift apart in `span_us`, rounded up.
fn drift_us(span_us: u64) -> u64 {
    let drift = (u128::from(span_us) * u128::from(DRIFT_PPM)).div_ceil(1_000_000);
    u64::try_from(drift).unwrap_or(u64::MAX)
}

/// An exchange whose timestamps cannot be: one end received before it sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "the host's clock answer makes no sense, so it was left out: nothing needs doing unless it goes on"
)]
pub struct BadExchange;

/// What a terminal knows of the host's clock.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ClockEstimate {
    exchanges: VecDeque<Exchange>,
}

impl ClockEstimate {
    /// Knows nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes in one exchange: sent at `t1`, received at `t4` (student clock);
    /// received at `t2`, answered at `t3` (host clock).
    ///
    /// # Errors
    /// [`BadExchange`] if an end received before it sent; nothing is changed.
    pub fn add(
        &mut self,
        t1: Moment,
        t2: Moment,
        t3: Moment,
        t4: Moment,
    ) -> Result<(), BadExchange> {
        if t4 < t1 || t3 < t2 {
            return Err(BadExchange);
        }
        let away = t4.micros() - t1.micros();
        let at_host = t3.micros() - t2.micros();
        // A host that claims to have held the question longer than it was away
        // may do so only by drift; more makes no sense.
        let slack = drift_us(away).saturating_add(PRECISION_US);
        if at_host > away.saturating_add(slack) {
            return Err(BadExchange);
        }
        let delay = away.saturating_sub(at_host);
        let us = |m: Moment| i128::from(m.micros());
        let exchange = Exchange {
            double_offset_us: (us(t2) - us(t1)) + (us(t3) - us(t4)),
            bound_us: delay.div_ceil(2).saturating_add(slack),
            at: t4,
        };
        self.exchanges.retain(|older| older.agrees_with(&exchange));
        if self.exchanges.len() == EXCHANGES_KEPT {
            self.exchanges.pop_front();
        }
        self.exchanges.push_back(exchange);
        Ok(())
    }

    /// Whether anything is known.
    pub fn is_known(&self) -> bool {
        !self.exchanges.is_empty()
    }

    /// Whether it is as good as another exchange or two would make it.
    pub fn is_good(&self, local: Moment) -> bool {
        let few = self.exchanges.len() < ENOUGH_EXCHANGES;
        let best = self.best(local);
        best.is_some_and(|best| !few || best.bound_at_us(local) <= GOOD_US)
    }

    /// How many exchanges it rests on, at most [`EXCHANGES_KEPT`].
    pub fn exchanges(&self) -> usize {
        self.exchanges.len()
    }

    /// The best exchange for converting a moment near `local`.
    fn best(&self, local: Moment) -> Option<&Exchange> {
        // The newest of equals, so that a steady link follows drift.
        self.exchanges
            .iter()
            .rev()
            .min_by_key(|e| e.bound_at_us(local))
    }

    /// The newest exchange's time: what "now" is if nothing better is known.
    fn latest(&self) -> Option<Moment> {
        self.exchanges.back().map(|e| e.at)
    }

    /// Host clock minus student clock, in microseconds, as of the newest
    /// exchange. `None` before the first.
    pub fn offset_us(&self) -> Option<f64> {
        let best = self.best(self.latest()?)?;
        Some(best.double_offset_us as f64 / 2.0)
    }

    /// A moment of the host's clock on the student's. `None` before the first
    /// exchange.
    pub fn to_local(&self, host: Moment) -> Option<Moment> {
        let best = self.best(self.latest()?)?;
        Some(clamp(
            i128::from(host.micros()) - best.double_offset_us.div_euclid(2),
        ))
    }

    /// A moment of the student's clock on the host's. `None` before the first
    /// exchange.
    pub fn to_host(&self, local: Moment) -> Option<Moment> {
        let best = self.best(self.latest()?)?;
        Some(clamp(
            i128::from(local.micros()) + best.double_offset_us.div_euclid(2),
        ))
    }

    /// How far a conversion may be off for a moment near `local` (student
    /// clock): half the delay, the precision, and the drift since. `None`
    /// before the first exchange.
    pub fn uncertainty(&self, local: Moment) -> Option<Duration> {
        let best = self.best(self.latest()?)?;
        Some(Duration::from_micros(best.bound_at_us(local)))
    }
}

fn clamp(us: i128) -> Moment {
    Moment::from_micros(u64::try_from(us.max(0)).unwrap_or(u64::MAX))
}
