//! What kind of sound a named pluck was, by its portrait.
//!
//! Small networks of one hidden layer, taught by `tests/reference/ear/teach.py` on plucked
//! strings, talk, tones and knocks that anybody can fetch or make. Two tell how likely
//! each kind is, and where they differ the mean goes, since what one gets wrong the other
//! seldom does (L. K. Hansen and P. Salamon, "Neural network ensembles", IEEE Trans. PAMI
//! 12:10, 1990). Others, taught later, tell only how much likelier several strings are
//! than one: of that they know more (`company`).

use crate::EarDoubt;
use crate::network::KINDS;
use crate::onset::OnsetFinder;
use crate::portrait::{Portrait, STRONGEST_OTHER, Sitting, draw};
use crate::ring::Ring;
use crate::weights::COMPANY;
use crate::weights_kept::KEPT;
use crate::workspace::Workspace;

/// How likely each kind of sound is: one string, several at once, a string that
/// slides, a voice, a held tone, a knock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Kinds([f32; KINDS]);

/// What those who know company count, beside those who know all kinds.
const COMPANY_SHARE: f32 = 2.0 / 3.0;

/// Company this far below the note, in units of 20 dB, may be another player's: of that
/// they can only make less.
const SOFTER: f32 = -0.5;

/// The last kind of which a string was plucked.
const PLUCKED: usize = 2;

/// The pick's noise is over after so long, in milliseconds.
const PICK_OVER_MS: f64 = 35.0;
/// What is less likely a string than this is looked at without it if it is most like
/// a knock, and is one after all if that is this likely.
const UNLIKELY: f32 = 0.5;
const SURELY: f32 = 0.8;

/// A pluck stands if it is this likely that it is a string,
const LEAST_LIKELY: f32 = 0.3;
/// this likely if it may be several strings, and this if it came as soon after another
/// onset as those of a strum.
const ALONE: f32 = 0.7;
const SOON_ALONE: f32 = 0.8;

/// What else than one string it may be, in the order of the network.
const OTHERS: [EarDoubt; KINDS - 1] = [
    EarDoubt::SeveralNotes,
    EarDoubt::Slide,
    EarDoubt::Voice,
    EarDoubt::HeldTone,
    EarDoubt::Knock,
];

impl Kinds {
    pub fn of(portrait: &Portrait) -> Kinds {
        let kept = KEPT.map(|network| network.likely::<KINDS>(portrait));
        let mut likely: [f32; KINDS] = std::array::from_fn(|i| 0.5 * (kept[0][i] + kept[1][i]));
        let company = COMPANY.map(|network| network.likely::<1>(portrait)[0]);
        let company = company.iter().sum::<f32>() / COMPANY.len() as f32;
        let more = COMPANY_SHARE * (likely[0] + company - likely[1]);
        let is_softer = portrait[STRONGEST_OTHER] < SOFTER;
        likely[1] += if is_softer { more.min(0.0) } else { more };
        let most = likely.iter().copied().fold(f32::MIN, f32::max);
        likely = likely.map(|x| (x - most).exp());
        let sum: f32 = likely.iter().sum();
        Kinds(likely.map(|x| x / sum))
    }

    /// A pick is as loud as the string where that is soon over, the more so behind a
    /// telephone's gain: what is taken for a knock is looked at once more without it.
    pub fn past_the_pick(
        self,
        sitting: &Sitting,
        sound: &Ring,
        floor: &OnsetFinder,
        workspace: &mut Workspace,
    ) -> Kinds {
        if self.string() >= UNLIKELY || self.otherwise() != EarDoubt::Knock {
            return self;
        }
        let later_ms = PICK_OVER_MS;
        let sitting = Sitting {
            later_ms,
            ..*sitting
        };
        let later = Kinds::of(&draw(&sitting, sound, floor, workspace));
        if later.string() > SURELY { later } else { self }
    }

    /// How likely it is one plucked string.
    pub fn string(&self) -> f32 {
        self.0[0]
    }

    /// Why a pluck does not stand that is believed this much to be one string.
    pub fn takes_back(&self, string: f32, soon_after: bool) -> Option<EarDoubt> {
        let alone = if soon_after { SOON_ALONE } else { ALONE };
        match self.otherwise() {
            why if string < LEAST_LIKELY => Some(why),
            // A chord is told from a note as surely as the ear can.
            EarDoubt::SeveralNotes if string < alone => Some(EarDoubt::SeveralNotes),
            _ => None,
        }
    }

    /// How likely strings were plucked at all, one or several.
    pub fn plucked(&self) -> f32 {
        self.0[..=PLUCKED].iter().sum()
    }

    /// What it most likely is, if no string was plucked.
    pub fn no_pluck(&self) -> EarDoubt {
        self.likeliest(PLUCKED + 1)
    }

    /// What it most likely is, if it is not one string.
    pub fn otherwise(&self) -> EarDoubt {
        self.likeliest(1)
    }

    fn likeliest(&self, from: usize) -> EarDoubt {
        let best = (from..KINDS).max_by(|&a, &b| self.0[a].total_cmp(&self.0[b]));
        best.map_or(EarDoubt::NotAPluck, |kind| OTHERS[kind - 1])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::Network;
    use crate::portrait::TRAITS;

    #[test]
    fn what_was_learnt_fits_the_portrait() {
        let of = |networks: &[Network], outcomes: usize| {
            for network in networks {
                let hidden = network.first.len();
                assert!(network.first.iter().all(|row| row.len() <= TRAITS));
                assert_eq!(network.first_bias.len(), hidden);
                assert_eq!(network.last.len(), outcomes);
                assert_eq!(network.last_bias.len(), outcomes);
                assert!(network.last.iter().all(|row| row.len() == hidden));
            }
        };
        of(&KEPT, KINDS);
        of(&COMPANY, 1);
        let whole = |network: &Network| network.first[0].len() == TRAITS;
        assert!(COMPANY.iter().all(whole));
    }
}
