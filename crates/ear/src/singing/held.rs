//! Notes that are held: stretches of 400 ms and more in which the middle of the
//! pitch stays where it is.
//!
//! The middle is found by least squares: a straight line and a sine of 4 to
//! 8.5 Hz (the vibrato of singers lies between 5 and 7 Hz: Sundberg, "The
//! Science of the Singing Voice", 1987; from memory) are fitted together, so
//! that a vibrato does not pull the middle even where its last turn is cut off.

use super::track::{Point, Track};

/// Shortest stretch that is a held note, in seconds.
const HOLD_S: f64 = 0.4;
/// A note that lasts so long is told without waiting for its end, in seconds.
const TELL_AFTER_S: f64 = 1.0;
/// Steeper than this is a glide, in cents a second.
const STEEPEST: f64 = 120.0;
/// What line and sine may leave over in a held note, in cents.
const ROUGHEST_CENTS: f64 = 25.0;
/// Widest vibrato, in cents either way.
const WIDEST_CENTS: f64 = 150.0;
/// The middle may wander so far within one note, in cents.
const SAME_NOTE_CENTS: f64 = 60.0;
/// Left out at either end of a note, in seconds: voices scoop and fall there.
const EDGE_S: f64 = 0.04;
/// No voice dies away as fast as this, in dB a second, and no string that does
/// so has a vibrato.
const DYING: f64 = -14.0;
const STILL_CENTS: f64 = 20.0;
/// A string that rings long falls at least so fast, in dB a second, and its
/// pitch strays less than a voice's (common practice, no source).
const RINGING: f64 = -4.0;
const STEADY_CENTS: f64 = 3.0;
/// Vibrato rates that are tried, in hertz.
const SLOWEST_HZ: f64 = 4.0;
const RATE_STEP_HZ: f64 = 0.25;
const RATES: usize = 19;
/// How far apart the levels lie that are compared, in looks: longer than a
/// stretch.
const LEVEL_LOOKS: usize = 4;
/// Points of a fit whose level is compared, at the most.
const MOST_FALLS: usize = 150;

/// A note that was held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct HeldNote {
    pub cents: f64,
    pub spread_cents: f64,
    pub from: u64,
    pub until: u64,
}

/// A stretch that is being held.
#[derive(Debug, Clone, Copy)]
struct Holding {
    from: usize,
    until: usize,
    cents: f64,
    told: bool,
}

/// Finds held notes in a growing track.
#[derive(Debug, Clone)]
pub(super) struct Finder {
    window: usize,
    edge: usize,
    live: usize,
    tell_after: usize,
    holding: Option<Holding>,
    /// The breath began as a plucked string. What is left of such a string may
    /// ring on evenly, so this holds to the breath's end.
    plucked: bool,
}

impl Finder {
    pub fn new(hop_s: f64) -> Finder {
        let looks = |seconds: f64| (seconds / hop_s).round() as usize;
        Finder {
            window: looks(HOLD_S),
            edge: looks(EDGE_S),
            live: looks(HOLD_S / 2.0),
            tell_after: looks(TELL_AFTER_S),
            holding: None,
            plucked: false,
        }
    }

    /// Takes the track's latest point into account; a note, if one is told now.
    pub fn step(&mut self, track: &Track) -> Option<HeldNote> {
        let (now, _) = track.latest()?;
        let from = (now + 1).checked_sub(self.window)?;
        let points = track.between(from, now);
        // A few looks may have given no point.
        let steady = (points.len() * 5 >= self.window * 4)
            .then(|| Fit::of(points, track))
            .flatten()
            .filter(Fit::is_steady);
        let Some(fit) = steady else {
            return self.ended_before(from + self.window / 2, track);
        };
        match &mut self.holding {
            Some(held) if (fit.cents - held.cents).abs() <= SAME_NOTE_CENTS => {
                held.until = now;
                held.cents += 0.05 * (fit.cents - held.cents);
                if held.told || now - held.from < self.tell_after {
                    return None;
                }
                held.told = true;
                let held = *held;
                self.note(held, track)
            }
            _ if self.plucked || fit.is_plucked() => {
                self.plucked = true;
                self.ended_before(now + 1, track)
            }
            _ => {
                let before = self.ended_before(now + 1, track);
                self.holding = Some(Holding {
                    from,
                    until: now,
                    cents: fit.cents,
                    told: false,
                });
                before
            }
        }
    }

    /// The breath is over.
    pub fn finish(&mut self, track: &Track) -> Option<HeldNote> {
        self.plucked = false;
        self.ended_before(usize::MAX, track)
    }

    /// Where the voice is, in cents above 1 Hz, if it is one.
    pub fn current(&self, track: &Track) -> Option<f64> {
        let (now, _) = track.latest()?;
        let from = (now + 1).checked_sub(self.live)?;
        let points = track.between(from, now);
        let sings = self.holding.is_some()
            || (!self.plucked
                && points.len() * 5 >= self.live * 4
                && Fit::of(points, track).is_some_and(|fit| !fit.is_plucked()));
        sings.then(|| mean(points.iter().map(|(_, point)| point.cents)))
    }

    /// Ends the stretch that was last steady before some look.
    fn ended_before(&mut self, look: usize, track: &Track) -> Option<HeldNote> {
        let held = self.holding.take_if(|held| held.until < look)?;
        if held.told {
            return None;
        }
        self.note(held, track)
    }

    fn note(&self, held: Holding, track: &Track) -> Option<HeldNote> {
        let edge = if held.until - held.from > self.window + 2 * self.edge {
            self.edge
        } else {
            0
        };
        let points = track.between(held.from + edge, held.until - edge);
        let fit = Fit::of(points, track)?;
        let off = |(_, point): &(usize, Point)| (point.cents - fit.cents).powi(2);
        Some(HeldNote {
            cents: fit.cents,
            spread_cents: mean(points.iter().map(off)).sqrt(),
            from: points.first()?.1.position,
            until: points.last()?.1.position,
        })
    }
}

/// A line and a sine through a stretch of pitches, and how its level moves.
#[derive(Debug, Clone, Copy)]
struct Fit {
    /// The middle, in cents above 1 Hz.
    cents: f64,
    cents_per_s: f64,
    vibrato_cents: f64,
    left_over_cents: f64,
    db_per_s: f64,
}

impl Fit {
    fn of(points: &[(usize, Point)], track: &Track) -> Option<Fit> {
        let (first, _) = points.first()?;
        let (last, _) = points.last()?;
        let middle_s = 0.5 * track.seconds(first + last);
        let base = mean(points.iter().map(|(_, point)| point.cents));
        let at = |look: usize| track.seconds(look) - middle_s;
        let best = (0..RATES)
            .filter_map(|step| {
                let rate_hz = SLOWEST_HZ + RATE_STEP_HZ * step as f64;
                sine_fit(points, base, rate_hz, at)
            })
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        let ([offset, slope, cos, sin], left_over) = best;
        Some(Fit {
            cents: base + offset,
            cents_per_s: slope,
            vibrato_cents: cos.hypot(sin),
            left_over_cents: left_over,
            db_per_s: usual_fall(points, track),
        })
    }

    fn is_steady(&self) -> bool {
        self.cents_per_s.abs() <= STEEPEST
            && self.left_over_cents <= ROUGHEST_CENTS
            && self.vibrato_cents <= WIDEST_CENTS
    }

    fn is_plucked(&self) -> bool {
        let strays = self.left_over_cents.hypot(self.vibrato_cents);
        (strays <= STILL_CENTS && self.db_per_s <= DYING)
            || (strays <= STEADY_CENTS && self.db_per_s <= RINGING)
    }
}

/// How the level moves most of the time, in dB a second: the middle one of its
/// differences, which new attacks on the same string leave alone.
fn usual_fall(points: &[(usize, Point)], track: &Track) -> f64 {
    let mut falls = [0.0; MOST_FALLS];
    let pairs = points.iter().zip(points.iter().skip(LEVEL_LOOKS));
    let mut count = 0;
    for (slot, ((look, before), (later, after))) in falls.iter_mut().zip(pairs) {
        *slot = (after.level_db - before.level_db) / track.seconds(later - look);
        count += 1;
    }
    let falls = &mut falls[..count];
    falls.sort_unstable_by(f64::total_cmp);
    falls.get(count / 2).copied().unwrap_or(0.0)
}

/// Offset, slope, and the two parts of a sine of some rate that fit best, and
/// the standard deviation of what they leave over.
fn sine_fit(
    points: &[(usize, Point)],
    base: f64,
    rate_hz: f64,
    at: impl Fn(usize) -> f64,
) -> Option<([f64; 4], f64)> {
    let mut rows = [[0.0; 5]; 4];
    let terms = |look: usize| {
        let t = at(look);
        let (sin, cos) = (std::f64::consts::TAU * rate_hz * t).sin_cos();
        [1.0, t, cos, sin]
    };
    for (look, point) in points {
        let terms = terms(*look);
        for (row, a) in rows.iter_mut().zip(terms) {
            for (cell, b) in row.iter_mut().zip(terms) {
                *cell += a * b;
            }
            row[4] += a * (point.cents - base);
        }
    }
    let found = solve(rows)?;
    let off = |(look, point): &(usize, Point)| {
        let fitted: f64 = terms(*look).iter().zip(found).map(|(a, b)| a * b).sum();
        (point.cents - base - fitted).powi(2)
    };
    Some((found, mean(points.iter().map(off)).sqrt()))
}

/// Solves four equations by elimination; `None` if they have no one solution.
fn solve(mut rows: [[f64; 5]; 4]) -> Option<[f64; 4]> {
    for pivot in 0..4 {
        let best = (pivot..4).max_by(|a, b| {
            let size = |row: usize| rows[row][pivot].abs();
            size(*a).total_cmp(&size(*b))
        })?;
        rows.swap(pivot, best);
        let top = rows[pivot];
        if top[pivot].abs() < 1e-9 {
            return None;
        }
        for (index, row) in rows.iter_mut().enumerate() {
            if index != pivot {
                let times = row[pivot] / top[pivot];
                for (cell, above) in row.iter_mut().zip(top) {
                    *cell -= times * above;
                }
            }
        }
    }
    Some(std::array::from_fn(|i| rows[i][4] / rows[i][i]))
}

fn mean(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = values.len().max(1) as f64;
    values.sum::<f64>() / count
}
