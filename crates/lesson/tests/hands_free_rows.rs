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
    Pluck { midi: u8, fate: Fate },
    Chord,
    Cough,
}

/// What the ear says of a pluck in the end.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Fate {
    May,
    MayNot,
    /// A voice was taken for a pluck.
    Voice,
    Withdrawn,
    /// Nothing, ever.
    NoWord,
}

/// A pluck or a chord that stands: its onset, its note, and whether it counts.
type Standing = (u64, Option<u8>, bool);

/// The answers that rows of these plucks are, worked out from the whole
/// recording: each run is cut out first, then looked through for its row.
fn rows(standing: &[Standing], times: usize, within_ms: u64) -> Vec<(u8, u64)> {
    let goes_on =
        |a: &Standing, b: &Standing| a.1.is_some() && a.1 == b.1 && b.0 - a.0 <= within_ms;
    let runs = standing.chunk_by(goes_on);
    let row = |run: &[Standing]| {
        let counting: Vec<&Standing> = run.iter().filter(|pluck| pluck.2).collect();
        let row = counting
            .windows(times)
            .find(|w| w[times - 1].0 - w[0].0 <= within_ms)?;
        Some((row[times - 1].1?, row[times - 1].0))
    };
    runs.filter_map(row).collect()
}

fn fates() -> impl Strategy<Value = Fate> {
    prop_oneof![
        12 => Just(Fate::May),
        3 => Just(Fate::MayNot),
        2 => Just(Fate::Voice),
        3 => Just(Fate::Withdrawn),
        1 => Just(Fate::NoWord),
    ]
}

fn steps() -> impl Strategy<Value = Vec<(u64, Step)>> {
    let step = prop_oneof![
        8 => (60_u8..63, fates()).prop_map(|(midi, fate)| Step::Pluck { midi, fate }),
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
        let mut heard: Vec<Standing> = Vec::new();
        let mut tries = 0;
        let mut reports: Vec<(u64, HeardNote)> = Vec::new();
        for (n, (pause_ms, step)) in steps.into_iter().enumerate() {
            at_ms += pause_ms;
            let (id, at) = (n as u64, ms(at_ms));
            match step {
                Step::Pluck { midi, fate } => {
                    let pitch = Pitch::new(midi).unwrap();
                    let (cents, uncertainty) = (0.0, ONSET_OFF);
                    let pluck = HeardNote::Pluck { id, pitch, cents, at, uncertainty };
                    reports.push((at_ms + DECIDED_MS, pluck));
                    if settles && fate != Fate::Withdrawn {
                        let spread_cents = 0.0;
                        let settled = HeardNote::Settled { id, cents, spread_cents };
                        reports.push((at_ms + 200, settled));
                    }
                    tries += usize::from(fate != Fate::Withdrawn);
                    match fate {
                        Fate::May => reports.push((at_ms + 200, HeardNote::MayAnswer { id })),
                        Fate::MayNot | Fate::Voice => {
                            let played = fate == Fate::MayNot;
                            let why = if played { Doubt::Unsteady } else { Doubt::NotAPluck };
                            reports.push((at_ms + 200, HeardNote::MayNotAnswer { id, why }));
                        }
                        Fate::Withdrawn => {
                            let why = Doubt::Slide;
                            reports.push((at_ms + 240, HeardNote::Withdrawn { id, why }));
                        }
                        Fate::NoWord => {}
                    }
                    if !matches!(fate, Fate::Withdrawn | Fate::Voice) {
                        heard.push((at_ms, Some(midi), fate == Fate::May));
                    }
                }
                Step::Chord => {
                    heard.push((at_ms, None, false));
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
        prop_assert_eq!(player.tries().len(), tries);
        // Nothing is left to be waited for but the clock.
        let clock = player.terminal.next_deadline().unwrap();
        prop_assert!(clock > player.now());
    }
}
