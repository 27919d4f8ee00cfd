//! What a named pluck looks like, in numbers: how its partials came, stay and go.
//! By these a string is told from what merely has a pitch (`kind`).
//!
//! Six short spectra, one before the onset and five after it, are laid side by
//! side. Of each the partials of the note that was named are taken, and what is
//! left. A plucked string comes at once, dies away, its high partials first (N. H.
//! Fletcher and T. D. Rossing, "The Physics of Musical Instruments", 2nd ed.,
//! section 9.5), and keeps its pitch; a voice swells and glides; a beep stays as
//! loud and as bright as it is; of a knock little is left after a tenth of a
//! second.

use crate::company::{COMPANY, STRONGEST, company};
use crate::decide::Named;
use crate::onset::{After, Onset, OnsetFinder};
use crate::polyphony::{SecondNote, second_note};
use crate::ring::Ring;
use crate::string::read;
use crate::workspace::Workspace;

/// Numbers in a portrait.
pub const TRAITS: usize = OWN + COMPANY;
/// Those of the note itself, after which come those of what began with it.
const OWN: usize = 41;
/// Where it says how loud others are beside the note.
pub(crate) const STRONGEST_OTHER: usize = OWN + STRONGEST;
/// A portrait, each number about between -1 and 1.
pub type Portrait = [f32; TRAITS];

/// Spectra after the onset: how many, how long, and from one to the next.
const LOOKS: usize = 5;
const LOOK_MS: f64 = 50.0;
const HOP_MS: f64 = 45.0;
/// The one before the onset ends this long before it.
const GUARD_MS: f64 = 6.0;
/// How far a partial may lie from its place, in cents and in hertz.
const REACH_CENTS: f32 = 35.0;
const REACH_HZ: f32 = 5.0;
const PARTIALS: usize = 12;
/// A partial this far below the strongest is not counted, in dB.
const COUNTED_DB: f32 = -26.0;
/// Softest that is told apart, as power.
const LEAST: f32 = 1e-10;

/// One spectrum's partials.
#[derive(Debug, Clone, Copy, Default)]
struct Look {
    /// Power of all that is heard, of the partials, and of the strongest of them.
    all: f32,
    own: f32,
    strongest: f32,
    /// Which partial that is, and the mean number by power.
    first: f32,
    middle: f32,
    count: f32,
    /// Power of peaks that are no partials.
    others: f32,
    /// Fundamental, in hertz, and how far the partials disagree, in cents.
    hz: f64,
    spread: f64,
}

/// What else is known when a portrait is made.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sitting {
    pub named: Named,
    pub onset: Onset,
    /// Position where the note ends or the listening does.
    pub end: i64,
    pub after: After,
    /// The looks after the onset begin so much later, in milliseconds.
    pub later_ms: f64,
}

/// Draws the portrait of a pluck.
pub(crate) fn draw(
    sitting: &Sitting,
    sound: &Ring,
    floor: &OnsetFinder,
    workspace: &mut Workspace,
) -> Portrait {
    let named = &sitting.named;
    let onset = sitting.onset.at as i64;
    let rate_hz = workspace.rate_hz;
    let samples = |ms: f64| (ms * 1e-3 * rate_hz) as i64;
    let (length, hop, guard) = (samples(LOOK_MS), samples(HOP_MS), samples(GUARD_MS));
    let first_at = onset + samples(sitting.later_ms);
    let span = (sitting.end - onset).max(1);
    let before = look(
        onset - guard - length,
        length,
        named,
        sound,
        floor,
        workspace,
    );
    let mut looks = [Look::default(); LOOKS];
    let mut known = 0;
    for i in 0..LOOKS {
        let from = first_at + i as i64 * hop;
        if i == 0 || from + length <= sitting.end + hop / 8 {
            let length = length.min((sitting.end - from).max(samples(20.0)));
            looks[i] = look(from, length, named, sound, floor, workspace);
            known = i;
        } else {
            looks[i] = looks[known];
        }
    }
    // The whole after the pick's noise: whether a second note is in it.
    let from = onset + samples(10.0);
    let whole = (sitting.end - from).clamp(samples(30.0), samples(170.0));
    workspace.news.all_peaks(sound, from, whole as usize, floor);
    let blur = workspace.blur_hz(whole as usize);
    let string = (named.hz, f64::from(named.fit.stiffness));
    let second = second_note(workspace, named.fit.midi, string, blur);
    // Scoring what is left over leaves the peaks as they are.
    (workspace.news).look_before(sound, onset - guard, whole as usize);
    let company = company(workspace, named.fit.midi, string, blur);
    let rough = roughness(sound, onset, span, rate_hz);
    let db = |power: f32| 10.0 * power.max(LEAST).log10();
    let [first, .., last] = looks;
    let share = |look: &Look| (look.own / look.all.max(LEAST)).min(1.5);
    let rest_share = |look: &Look| (look.others / (look.own + look.others).max(LEAST)).min(1.0);
    let cents = |a: f64, b: f64| {
        if a > 0.0 && b > 0.0 {
            (1200.0 * (a / b).log2()).abs().min(100.0) as f32
        } else {
            60.0
        }
    };
    let steps = (1..=known)
        .map(|i| cents(looks[i].hz, looks[i - 1].hz))
        .fold(0.0, f32::max);
    let treble =
        treble(sound, first_at, samples(12.0)) / treble(sound, onset + hop, hop).max(LEAST);
    let SecondNote {
        left,
        own: second_own,
        found,
        explained,
    } = second;
    let attack = &named.attack;
    let own: [f32; OWN] = [
        (named.fit.midi - 66.0) / 12.0,
        span as f32 / samples(250.0) as f32,
        (db(first.own) - db(before.own)) / 20.0,
        (db(first.all) - db(before.all)) / 20.0,
        (db(looks[1].own) - db(first.own)) / 10.0,
        (db(looks[2].own) - db(first.own)) / 10.0,
        (db(looks[3].own) - db(first.own)) / 10.0,
        (db(last.own) - db(first.own)) / 10.0,
        share(&first),
        share(&looks[2]),
        share(&last),
        rest_share(&first),
        rest_share(&looks[2]),
        rest_share(&last),
        first.middle / 4.0,
        (first.middle - looks[2].middle) / 2.0,
        (first.middle - last.middle) / 2.0,
        first.strongest / first.own.max(LEAST),
        looks[2].strongest / looks[2].own.max(LEAST),
        first.first / 4.0,
        first.count / 6.0,
        looks[2].count / 6.0,
        cents(looks[1].hz, first.hz) / 20.0,
        cents(looks[known].hz, looks[known.min(1)].hz) / 20.0,
        steps / 20.0,
        looks[1].spread.min(20.0) as f32 / 10.0,
        (attack.first_db as f32).max(-20.0) / 5.0,
        (attack.growth_db as f32).clamp(-20.0, 10.0) / 5.0,
        (attack.fade_db as f32).clamp(-30.0, 10.0) / 10.0,
        sitting.onset.strength.max(1.0).ln() / 3.0,
        sitting.onset.rise.max(0.1).ln() / 3.0,
        db(treble) / 20.0,
        rough / 4.0,
        left,
        second_own,
        explained * (found as f32 / 4.0).min(1.0),
        named.spacing as f32,
        named.repeats as f32,
        named.readers as f32 / 3.0,
        sitting.after.count as f32 / 2.0,
        sitting.after.strongest.max(1.0).ln() / 3.0,
    ];
    let traits: Portrait = std::array::from_fn(|i| match i.checked_sub(OWN) {
        None => own[i],
        Some(other) => company[other],
    });
    traits.map(|x| {
        if x.is_finite() {
            x.clamp(-4.0, 4.0)
        } else {
            0.0
        }
    })
}

fn look(
    from: i64,
    length: i64,
    named: &Named,
    sound: &Ring,
    floor: &OnsetFinder,
    workspace: &mut Workspace,
) -> Look {
    let mut look = Look {
        all: power(sound, from, length),
        ..Look::default()
    };
    let peaks = workspace
        .news
        .all_peaks(sound, from, length as usize, floor);
    let (hz, stiffness) = (named.hz as f32, named.fit.stiffness);
    let mut powers = [0.0f32; PARTIALS];
    for peak in peaks {
        let power = 0.5 * peak.magnitude * peak.magnitude;
        let number = (1..=PARTIALS).find(|&n| {
            let n = n as f32;
            let at = hz * n * ((1.0 + stiffness * n * n) / (1.0 + stiffness)).sqrt();
            (peak.hz - at).abs() < REACH_HZ + at * (REACH_CENTS / 1731.0)
        });
        match number {
            Some(n) => powers[n - 1] = powers[n - 1].max(power),
            None => look.others += power,
        }
    }
    for (n, power) in powers.iter().enumerate() {
        look.own += power;
        look.middle += power * (n + 1) as f32;
        if *power > look.strongest {
            look.strongest = *power;
            look.first = (n + 1) as f32;
        }
    }
    let least = look.strongest * 10f32.powf(COUNTED_DB / 10.0);
    look.count = powers.iter().filter(|&&p| p > least && p > LEAST).count() as f32;
    look.middle /= look.own.max(LEAST);
    if let Some(reading) = read(peaks, named.hz, f64::from(stiffness)) {
        (look.hz, look.spread) = (reading.hz, reading.spread_cents);
    }
    look
}

fn power(sound: &Ring, from: i64, length: i64) -> f32 {
    let sum: f32 = (from..from + length).map(|i| sound.at(i).powi(2)).sum();
    sum / length.max(1) as f32
}

/// Power of the differences between neighbours' differences: the treble.
fn treble(sound: &Ring, from: i64, length: i64) -> f32 {
    let bend = |i: i64| sound.at(i) - 2.0 * sound.at(i - 1) + sound.at(i - 2);
    let sum: f32 = (from..from + length).map(|i| bend(i).powi(2)).sum();
    sum / length.max(1) as f32
}

/// How far the level strays from an even decay, in dB.
fn roughness(sound: &Ring, onset: i64, span: i64, rate_hz: f64) -> f32 {
    const MOST: usize = 24;
    let frame = (0.01 * rate_hz) as i64;
    let count = ((span / frame).max(0) as usize).min(MOST);
    if count < 4 {
        return 0.0;
    }
    let mut levels = [0.0f32; MOST];
    for (i, level) in levels[..count].iter_mut().enumerate() {
        *level = 10.0
            * power(sound, onset + i as i64 * frame, frame)
                .max(LEAST)
                .log10();
    }
    let levels = &levels[1..count];
    let n = levels.len() as f32;
    let middle = (n - 1.0) / 2.0;
    let mean = levels.iter().sum::<f32>() / n;
    let (mut slope, mut squares) = (0.0, 0.0);
    for (i, level) in levels.iter().enumerate() {
        slope += (i as f32 - middle) * (level - mean);
        squares += (i as f32 - middle).powi(2);
    }
    slope /= squares;
    let off = |(i, level): (usize, &f32)| (level - mean - slope * (i as f32 - middle)).powi(2);
    (levels.iter().enumerate().map(off).sum::<f32>() / n).sqrt()
}
