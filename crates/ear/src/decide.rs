//! One pluck from its onset to its name: several looks, which vote.

use crate::attack::Attack;
use crate::cut::Cut;
use crate::news::{Before, TRANSFORM};
use crate::onset::{After, Onset, OnsetFinder};
use crate::ring::Ring;
use crate::score::{Fit, evidence};
use crate::spectrum::Peak;
use crate::string::read;
use crate::workspace::Workspace;

/// How long after the onset it is looked, in milliseconds.
const LOOKS_MS: [f64; 10] = [
    32.0, 40.0, 48.0, 57.0, 67.0, 78.0, 92.0, 110.0, 130.0, 150.0,
];
/// The past ends this long before the onset, which is not known exactly.
pub(crate) const GUARD_MS: f64 = 4.0;

/// A pluck that is followed by another sooner than this is not named.
const SHORTEST_MS: f64 = 22.0;
/// Past that is used even if another attack lies in it, in milliseconds.
const LEAST_PAST_MS: f64 = 70.0;
/// How much of the past is held back to try out the carrying on.
const TEST_MS: f64 = 40.0;

/// Share of what is new that a note must explain: by the score of its partials
/// alone, and where another reader agrees.
const LEAST_EXPLAINED: f32 = 0.3;
const LEAST_AGREED: f32 = 0.15;
/// Evidence there must be for a note, in nepers.
const LEAST_EVIDENCE: f32 = 1.8;
/// What comes before this, in milliseconds, is the pick's noise: it does not
/// repeat.
const PICK_MS: f64 = 6.0;

/// A wave that repeats as well as this needs no more.
const WELL_REPEATED: f64 = 0.6;

/// The octave and the twelfth: which partials they have, how far up they are, and
/// the share of a note's loudness in partials that they do not have: below the
/// first it is one of them, above the last it is not, and in between more is
/// listened to, since what a touching finger stops dies soon, and then the middle
/// one decides.
const HARMONICS: [(usize, usize, [f32; 3]); 2] =
    [(2, 12, [0.12, 0.19, 0.24]), (3, 19, [0.25, 0.35, 0.4])];
const LONGEST_DOUBT_MS: f64 = 90.0;

/// Where a decision stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Standing {
    /// More has to be heard.
    Waiting,
    /// A note.
    Note(Named),
    /// Nothing new was there, or it was over before anything could be told.
    Nothing,
    /// No note stands out: the one that comes nearest.
    Unclear(Named),
}

/// A note as it was named.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Named {
    pub fit: Fit,
    /// The fundamental, in hertz, and how uncertain that is, in cents.
    pub hz: f64,
    pub spread_cents: f64,
    /// How many of the three readers agree.
    pub readers: u32,
    /// How clear the spacing of its partials is, and how well its wave repeats.
    pub spacing: f64,
    pub repeats: f64,
    pub evidence: f32,
    pub attack: Attack,
}

/// One onset that is being decided on.
#[derive(Debug)]
pub(crate) struct Decision {
    pub onset: Onset,
    pub busy: bool,
    look: usize,
    /// The next attack, if it came before the decision.
    pub cut: Cut,
    /// Attacks that were taken for this one.
    pub after: After,
    /// Another came as soon before it as a strum's strings do.
    pub soon_after: bool,
    /// How loud that was, where it turned out to be several notes; else nothing is as
    /// soft.
    pub after_several_db: f64,
    ringing: Vec<f32>,
    /// How far carrying on is to be trusted, for each bin.
    astray: Vec<f32>,
    votes: Vec<f32>,
    last_best: usize,
    /// Mean square of what is new; beyond all measure where that is not known.
    pub power: f32,
}

impl Decision {
    pub fn new(workspace: &Workspace, notes: usize) -> Decision {
        Decision {
            onset: Onset {
                at: 0.0,
                uncertainty: 0.0,
                strength: 0.0,
                rise: 0.0,
            },
            busy: false,
            look: 0,
            cut: Cut::default(),
            after: After::default(),
            soon_after: false,
            after_several_db: f64::MIN,
            ringing: vec![0.0; workspace.samples(LOOKS_MS[LOOKS_MS.len() - 1]) + 1],
            astray: vec![0.0; TRANSFORM / 2 + 1],
            votes: vec![0.0; notes],
            last_best: usize::MAX,
            power: 0.0,
        }
    }

    /// Begins with an onset. `clean_from` is the position from which on no other
    /// attack is in the past.
    pub fn begin(
        &mut self,
        onset: Onset,
        clean_from: i64,
        sound: &Ring,
        workspace: &mut Workspace,
    ) {
        self.onset = onset;
        self.busy = true;
        self.look = 0;
        self.cut = Cut::default();
        self.after = After::default();
        self.after_several_db = f64::MIN;
        self.power = f32::MAX;
        self.votes.fill(0.0);
        self.last_best = usize::MAX;
        let end = onset.at as i64 - workspace.samples(GUARD_MS) as i64;
        let from = clean_from
            .min(end - workspace.samples(LEAST_PAST_MS) as i64)
            .max(end - workspace.past.len() as i64)
            .max(sound.begin() as i64);
        let length = (end - from).max(0) as usize;
        let longest = workspace.samples(TEST_MS);
        let past = &mut workspace.past[..length];
        sound.copy(from, past);
        // How well that goes is tried out on the past itself.
        let tested = longest.min(length / 3);
        let (known, held_back) = past.split_at(length - tested);
        workspace.carry.carry_on(known, &mut self.ringing[..tested]);
        workspace
            .news
            .astray(&self.ringing[..tested], held_back, &mut self.astray);
        // Starts at the guard, so that the rest lines up with the onset.
        self.ringing.fill(0.0);
        workspace.carry.carry_on(past, &mut self.ringing);
        let guard = (onset.at as i64 - end) as usize;
        self.ringing.copy_within(guard.., 0);
        let kept = self.ringing.len() - guard;
        self.ringing[kept..].fill(0.0);
    }

    /// The fundamental of a fit, in hertz, read from all its partials, how
    /// uncertain it is, in cents, and the stiffness.
    fn tuned(&self, fit: &Fit, workspace: &Workspace) -> (f64, f64, f64) {
        let rough_hz = f64::from(workspace.a4_hz) * ((f64::from(fit.midi) - 69.0) / 12.0).exp2();
        let peaks = workspace.news.last_peaks();
        let stiffness = f64::from(fit.stiffness);
        match read(peaks, rough_hz, stiffness) {
            Some(reading) => (reading.hz, reading.spread_cents, reading.stiffness),
            None => (rough_hz, 10.0, stiffness),
        }
    }

    /// Position up to which must have been heard for the next look.
    pub fn next_look(&self, workspace: &Workspace) -> i64 {
        let look = LOOKS_MS[self.look.min(LOOKS_MS.len() - 1)];
        (self.onset.at as i64 + workspace.samples(look) as i64).min(self.cut.at)
    }

    /// Looks once more; call it when [`Decision::next_look`] was reached.
    pub fn look(
        &mut self,
        sound: &Ring,
        floor: &OnsetFinder,
        workspace: &mut Workspace,
    ) -> Standing {
        let ms = LOOKS_MS[self.look];
        self.look += 1;
        let room = (self.cut.at - self.onset.at as i64).max(0) as usize;
        let cut_short = room < workspace.samples(ms);
        let last = self.look == LOOKS_MS.len() || cut_short;
        if cut_short && room < workspace.samples(SHORTEST_MS.max(workspace.first_look_ms)) {
            return Standing::Nothing;
        }
        if ms < workspace.first_look_ms && !last {
            return Standing::Waiting;
        }
        let length = workspace.samples(ms).min(room);
        let from = self.onset.at as i64;
        let before = Before {
            ringing: &self.ringing[..length.min(self.ringing.len())],
            astray: &self.astray,
            until: from - workspace.samples(GUARD_MS) as i64,
        };
        let blur = workspace.blur_hz(length);
        let skipped = workspace.samples(PICK_MS).min(length / 4);
        let peaks = workspace.news.peaks(sound, from, length, &before, floor);
        let fits = workspace.scorer.score(peaks, blur);
        let first = self.last_best == usize::MAX;
        for (vote, fit) in self.votes.iter_mut().zip(fits) {
            if first {
                *vote = fit.score;
            }
            // Later looks see more: half of what was known is kept.
            *vote += 0.5 * (fit.score - *vote);
        }
        self.power = workspace.news.power(0..length);
        let best = (0..fits.len())
            .max_by(|&a, &b| self.votes[a].total_cmp(&self.votes[b]))
            .unwrap_or(0);
        let rival = (0..fits.len())
            .filter(|&note| note != best && (fits[note].midi - fits[best].midi).abs() > 0.3)
            .map(|note| self.votes[note])
            .fold(f32::MIN, f32::max);
        let wanted = match ms {
            ..42.0 => 0.12,
            ..60.0 => 0.09,
            ..100.0 => 0.06,
            _ => 0.03,
        };
        let clear = self.votes[best] - rival > wanted && fits[best].explained > LEAST_EXPLAINED;
        let (now, past, first_bin) = workspace.news.now_and_before();
        let spacing = workspace.spacing.read(now, past, first_bin);
        let repeats = workspace
            .repeats
            .read(workspace.news.fresh(skipped..length));
        // Where the other two agree on another note, it is theirs.
        let (mut fit, mut best) = (fits[best], best);
        let rough_hz = f64::from(workspace.a4_hz) * ((f64::from(fit.midi) - 69.0) / 12.0).exp2();
        if spacing.agrees(repeats.hz) && !spacing.agrees(rough_hz) && !repeats.agrees(rough_hz) {
            let midi = 69.0 + 12.0 * (repeats.hz / f64::from(workspace.a4_hz)).log2();
            let near = |fit: &Fit| (f64::from(fit.midi) - midi).abs();
            let other = (0..fits.len()).min_by(|&a, &b| near(&fits[a]).total_cmp(&near(&fits[b])));
            if let Some(other) = other.filter(|&other| near(&fits[other]) < 0.8) {
                (fit, best) = (fits[other], other);
            }
        }
        // A note without partials that are its own, only those of its octave or
        // twelfth, is that: perhaps a harmonic of its string.
        let mut in_doubt = false;
        for (times, up, [least, middle, sure]) in HARMONICS {
            if best + up < fits.len() {
                let own = own_share(workspace.news.last_peaks(), &fit, workspace.a4_hz, times);
                let early = !last && ms < LONGEST_DOUBT_MS;
                in_doubt |= early && (least..sure).contains(&own);
                if own < if early { least } else { middle } {
                    (fit, best) = (fits[best + up], best + up);
                    break;
                }
            }
        }
        let (hz, spread_cents, _) = self.tuned(&fit, workspace);
        let agreeing = u32::from(spacing.agrees(hz)) + u32::from(repeats.agrees(hz));
        let evidence = evidence(workspace.news.last_peaks(), &fit, workspace.a4_hz, blur);
        let same = best == self.last_best;
        self.last_best = best;
        let known = fit.explained > LEAST_AGREED || repeats.clarity > WELL_REPEATED;
        let sure = match agreeing {
            0 => clear && !spacing.agrees(repeats.hz) && (same || last),
            1 => known && (same || last),
            _ => known,
        };
        let attack = Attack::measure(&workspace.news, workspace.rate_hz, length, hz);
        // What grows may be the pick that touches the string: the note is to come.
        let named = Named {
            fit,
            hz,
            spread_cents,
            readers: 1 + agreeing,
            spacing: spacing.clarity,
            repeats: repeats.clarity,
            evidence,
            attack,
        };
        if sure && !in_doubt && evidence > LEAST_EVIDENCE && (last || !attack.grows()) {
            return Standing::Note(named);
        }
        match (last, workspace.news.last_peaks().is_empty()) {
            (false, _) => Standing::Waiting,
            (true, true) => Standing::Nothing,
            (true, false) => Standing::Unclear(named),
        }
    }
}

/// Share of the loudness of a note's partials that are no partials of the note
/// that is `times` as high.
fn own_share(peaks: &[Peak], fit: &Fit, a4_hz: f32, times: usize) -> f32 {
    let hz = a4_hz * ((fit.midi - 69.0) / 12.0).exp2();
    let (mut own, mut all) = (0.0f32, 1e-9f32);
    for peak in peaks {
        let number = (peak.hz / hz).round().max(1.0);
        let at = hz * number * (1.0 + fit.stiffness * number * number).sqrt();
        if number < 13.0 && (peak.hz - at).abs() < 0.015 * at + 8.0 {
            all += peak.magnitude;
            if !(number as usize).is_multiple_of(times) {
                own += peak.magnitude;
            }
        }
    }
    own / all
}
