//! Random searches on the instrument: exactly the rows in them are answers.

mod seat;

use std::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_lesson::terminal::{Doubt, HandsFree, HeardNote};
use proptest::prelude::*;

use seat::ear::{DECIDED_MS, ONSET_OFF, Player};
use seat::{ms, rules};

/// What is heard in one step of a random search.
#[derive(Debug, Clone, Copy)]
enum Step {
    Pluck { midi: u8, withdrawn: bool },
    Chord,
    Cough,
}

/// The answers that rows of these plucks are, worked out from the whole
/// recording: each run is cut out first, then looked through for its row.
fn rows(standing: &[(u64, Option<u8>)], times: usize, within_ms: u64) -> Vec<(u8, u64)> {
    let goes_on = |a: &(u64, Option<u8>), b: &(u64, Option<u8>)| {
        a.1.is_some() && a.1 == b.1 && b.0 - a.0 <= within_ms
    };
    let runs = standing.chunk_by(goes_on);
    let row = |run: &[(u64, Option<u8>)]| {
        let row = run
            .windows(times)
            .find(|w| w[times - 1].0 - w[0].0 <= within_ms)?;
        Some((row[times - 1].1?, row[times - 1].0))
    };
    runs.filter_map(row).collect()
}

fn steps() -> impl Strategy<Value = Vec<(u64, Step)>> {
    let step = prop_oneof![
        8 => (60_u8..63, prop::bool::weighted(0.2))
            .prop_map(|(midi, withdrawn)| Step::Pluck { midi, withdrawn }),
        1 => Just(Step::Chord),
        1 => Just(Step::Cough),
    ];
    prop::collection::vec((20_u64..1200, step), 1..120)
}

proptest! {
    /// Exactly the rows answer: nothing else, and none is missed.
    #[test]
    fn exactly_the_rows_answer(
        steps in steps(), times in 1_u8..5, within_ms in 200_u64..2500, settles in prop::bool::ANY,
    ) {
        let mut player = Player::in_call(rules());
        player.terminal.set_hands_free(Some(HandsFree {
            times,
            within: Duration::from_millis(within_ms),
            headphones: false,
        }));
        let mut at_ms = 4000;
        let mut heard = Vec::new();
        let mut reports: Vec<(u64, HeardNote)> = Vec::new();
        for (n, (pause_ms, step)) in steps.into_iter().enumerate() {
            at_ms += pause_ms;
            let (id, at) = (n as u64, ms(at_ms));
            match step {
                Step::Pluck { midi, withdrawn } => {
                    let pitch = Pitch::new(midi).unwrap();
                    let (cents, uncertainty) = (0.0, ONSET_OFF);
                    let pluck = HeardNote::Pluck { id, pitch, cents, at, uncertainty };
                    reports.push((at_ms + DECIDED_MS, pluck));
                    if withdrawn {
                        let why = Doubt::Slide;
                        reports.push((at_ms + 240, HeardNote::Withdrawn { id, why }));
                    } else {
                        heard.push((at_ms, Some(midi)));
                        if settles {
                            let spread_cents = 0.0;
                            let settled = HeardNote::Settled { id, cents, spread_cents };
                            reports.push((at_ms + 200, settled));
                        }
                    }
                }
                Step::Chord => {
                    heard.push((at_ms, None));
                    let why = Doubt::SeveralNotes;
                    reports.push((at_ms + DECIDED_MS, HeardNote::Unsure { at, why }));
                }
                Step::Cough => {
                    let why = Doubt::NoClearPitch;
                    reports.push((at_ms + DECIDED_MS, HeardNote::Unsure { at, why }));
                }
            }
        }
        reports.sort_by_key(|(at, _)| *at);
        for (at, report) in reports {
            player.hear(report, at);
        }
        player.until(at_ms + 5000);
        prop_assert_eq!(player.answered(), rows(&heard, usize::from(times), within_ms));
        let tries: Vec<_> = heard.iter().filter_map(|(_, midi)| *midi).collect();
        prop_assert_eq!(player.tries().len(), tries.len());
        // Nothing is left to be waited for but the clock.
        let clock = player.terminal.next_deadline().unwrap();
        prop_assert!(clock > player.now());
    }
}
