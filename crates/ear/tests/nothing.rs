//! What is no pluck of one's own is not named, or is taken back.

mod common;

use common::{Chance, RATE_HZ, Scene, ear, hz, plucks};
use fifthpeg_ear::{EarDoubt, Heard, RoomListener, RoomTrouble};

#[test]
fn noise_and_silence_have_no_notes() {
    for deviation in [0.0, 0.001, 0.1] {
        let mut scene = Scene::new(RATE_HZ, 60.0);
        scene.noise(deviation, 8);
        assert!(plucks(&scene.heard(50, 84)).is_empty());
    }
}

#[test]
fn a_voice_is_no_pluck() {
    let mut chance = Chance(2);
    let mut scene = Scene::new(RATE_HZ, 60.0);
    scene.noise(1e-4, 1);
    for i in 0..100u64 {
        let from = chance.between(100.0, 260.0);
        let to = from * chance.between(0.85, 1.18);
        let length_s = chance.between(0.15, 0.5);
        scene.voice(0.3 + 0.59 * i as f64, length_s, (from, to), 0.1, i);
    }
    let heard = scene.heard(50, 84);
    let named = plucks(&heard);
    let may: Vec<_> = named
        .iter()
        .filter(|pluck| {
            let this =
                |event: &Heard| matches!(event, Heard::MayAnswer { id, .. } if *id == pluck.id);
            heard.iter().any(this)
        })
        .collect();
    let answers = may.windows(2).filter(|pair| {
        pair[0].pitch == pair[1].pitch && pair[1].onset - pair[0].onset < 2.0 * scene.rate_hz
    });
    assert_eq!(answers.count(), 0, "the same note twice: {may:?}");
    assert!(
        named.is_empty(),
        "{} stand, {} may answer",
        named.len(),
        may.len()
    );
}

/// Beeps, a metronome's or a tuner's, however long, and a tone that is held.
fn beeps() -> Scene {
    let mut scene = Scene::new(RATE_HZ, 24.0);
    scene.noise(1e-4, 1);
    let mut at_s = 0.5;
    for hz in [880.0, 1000.0] {
        for (length_s, level) in [
            (0.02, 0.3),
            (0.05, 0.1),
            (0.15, 0.3),
            (0.3, 0.02),
            (1.5, 0.1),
        ] {
            for _ in 0..3 {
                let start = (at_s * scene.rate_hz) as usize;
                let length = (length_s * scene.rate_hz) as usize;
                for i in 0..length {
                    let t = i as f64 / scene.rate_hz;
                    let edge = (t.min(length_s - t) / 0.002).min(1.0);
                    let wave = (std::f64::consts::TAU * hz * t).sin();
                    scene.samples[start + i] += (level * edge * wave) as f32;
                }
                at_s += length_s + 0.3;
            }
        }
    }
    assert!(at_s < 24.0);
    scene
}

fn may_answer(heard: &[Heard]) -> usize {
    let may = |event: &&Heard| matches!(event, Heard::MayAnswer { .. });
    heard.iter().filter(may).count()
}

#[test]
fn no_beep_may_answer() {
    let heard = beeps().heard(50, 84);
    assert_eq!(may_answer(&heard), 0, "{heard:?}");
}

/// Holes of 12 ms as a busy machine leaves them, one each so often from a moment on.
fn with_holes(mut scene: Scene, from_s: f64, each_s: f64) -> Scene {
    let samples = |s: f64| (s * f64::from(RATE_HZ)) as usize;
    for hole in (samples(from_s)..scene.samples.len()).step_by(samples(each_s)) {
        let end = (hole + samples(0.012)).min(scene.samples.len());
        scene.samples[hole..end].fill(0.0);
    }
    scene
}

#[test]
fn a_hole_makes_no_string_of_a_beep_nor_two_plucks_of_one() {
    for from_s in [0.5, 0.53, 0.56, 0.59] {
        let heard = with_holes(beeps(), from_s, 0.13).heard(50, 84);
        assert_eq!(may_answer(&heard), 0, "{heard:?}");
    }
    for after_s in [0.06, 0.12, 0.2, 0.5] {
        let mut scene = Scene::new(RATE_HZ, 12.0);
        scene.noise(1e-4, 1);
        for i in 0..10u8 {
            scene.pluck(1.0 + f64::from(i), hz(55 + 2 * i), 0.2, 0.0, u64::from(i));
        }
        let heard = with_holes(scene, 1.0 + after_s, 1.0).heard(50, 84);
        assert_eq!(plucks(&heard).len(), 10, "{after_s} s after: {heard:?}");
        assert_eq!(may_answer(&heard), 10, "{after_s} s after: {heard:?}");
    }
}

#[test]
fn a_slide_is_taken_back() {
    let mut scene = Scene::new(RATE_HZ, 3.0);
    // A string stopped ever higher, two semitones within 150 ms of the pluck.
    let mut phase = 0.0f64;
    let start = RATE_HZ as usize;
    for i in 0..RATE_HZ as usize {
        let t = i as f64 / f64::from(RATE_HZ);
        let along = ((t - 0.07) / 0.08).clamp(0.0, 1.0);
        phase += std::f64::consts::TAU * hz(57) * (along / 6.0).exp2() / f64::from(RATE_HZ);
        let wave: f64 = (1..=10)
            .map(f64::from)
            .map(|n| (n * phase).sin() * (-t * (3.0 + 0.5 * n)).exp() / n)
            .sum();
        scene.samples[start + i] += (0.1 * (1.0 - (-t / 0.0008).exp()) * wave) as f32;
    }
    let heard = scene.heard(50, 84);
    assert!(plucks(&heard).is_empty(), "{heard:?}");
    assert!(heard.iter().any(|event| matches!(
        event,
        Heard::Withdrawn {
            why: EarDoubt::Slide,
            ..
        }
    )));
}

#[test]
fn chords_are_not_taken_for_a_note() {
    let chords: [&[u8]; 6] = [
        &[55, 59, 62],
        &[50, 57],
        &[60, 64, 67],
        &[62, 66],
        &[57, 60],
        &[59, 62, 67],
    ];
    let mut scene = Scene::new(RATE_HZ, 8.0);
    for (i, chord) in chords.iter().enumerate() {
        for (string, &midi) in chord.iter().enumerate() {
            let at_s = 0.5 + 1.2 * i as f64 + 0.003 * string as f64;
            scene.pluck(at_s, hz(midi), 0.08, -6.0, (10 * i + string) as u64);
        }
    }
    let heard = scene.heard(50, 84);
    // A note far louder than the rest may still be named.
    assert!(plucks(&heard).len() <= 1, "{:?}", plucks(&heard));
}

#[test]
fn the_neighbour_is_too_quiet_once_both_were_heard() {
    let mut scene = Scene::new(RATE_HZ, 32.0);
    let mut chance = Chance(6);
    for i in 0..40u64 {
        let at_s = 0.5 + 0.77 * i as f64;
        scene.pluck(at_s, hz(50 + (i * 7 % 30) as u8), 0.1, -6.0, i);
        let late = at_s + chance.between(0.3, 0.45);
        scene.pluck(late, hz(50 + (i * 11 % 30) as u8), 0.02, -6.0, i + 99);
    }
    let heard = scene.heard(50, 84);
    let later: Vec<_> = plucks(&heard)
        .into_iter()
        .filter(|pluck| pluck.onset > 8.0 * scene.rate_hz)
        .collect();
    // 30 of the player's own and 30 of the neighbour's, 14 dB softer, are left.
    assert!((27..=33).contains(&later.len()), "{}", later.len());
    assert!(heard.iter().any(|event| matches!(
        event,
        Heard::Unsure {
            why: EarDoubt::TooQuiet,
            ..
        }
    )));
}

#[test]
fn a_room_tells_what_is_wrong_with_it() {
    let room = |fill: &dyn Fn(&mut Scene)| {
        let mut scene = Scene::new(RATE_HZ, 3.1);
        fill(&mut scene);
        let mut listener = RoomListener::new(RATE_HZ);
        listener.hear(&scene.samples[..RATE_HZ as usize]);
        assert!(listener.done().is_none());
        listener.hear(&scene.samples[RATE_HZ as usize..]);
        listener.done().unwrap()
    };
    let quiet = room(&|scene| scene.noise(0.001, 1));
    assert_eq!(quiet.trouble(), None);
    assert!((quiet.noise_db + 60.0).abs() < 0.5, "{quiet:?}");
    assert_eq!(room(&|_| ()).trouble(), Some(RoomTrouble::Silent));
    assert_eq!(
        room(&|scene| scene.noise(0.1, 1)).trouble(),
        Some(RoomTrouble::TooLoud)
    );
    let played = room(&|scene| {
        scene.noise(0.0005, 1);
        scene.pluck(1.0, hz(62), 0.1, 0.0, 3);
    });
    assert_eq!(played.trouble(), Some(RoomTrouble::SomethingSounded));
    let over = room(&|scene| scene.samples[5000] = 1.0);
    assert_eq!(over.trouble(), Some(RoomTrouble::Clipping));
}

#[test]
fn settings_that_no_ear_can_work_with_say_why() {
    use fifthpeg_core::{Pitch, Reference};
    use fifthpeg_ear::{Ear, EarError, EarSettings};
    let good = EarSettings {
        sample_rate_hz: 48_000,
        lowest: Pitch::new(50).unwrap(),
        highest: Pitch::new(84).unwrap(),
        reference: Reference::default(),
    };
    assert!(Ear::new(good).is_ok());
    let rate = Ear::new(EarSettings {
        sample_rate_hz: 8_000,
        ..good
    });
    assert!(matches!(rate, Err(EarError::Rate { rate_hz: 8_000 })));
    let range = Ear::new(EarSettings {
        lowest: good.highest,
        highest: good.lowest,
        ..good
    });
    assert!(matches!(range, Err(EarError::Range { .. })));
    let low = Ear::new(EarSettings {
        lowest: Pitch::new(10).unwrap(),
        ..good
    });
    assert!(matches!(low, Err(EarError::OutOfHearing { .. })));
}

/// The lesson's own tones from a loudspeaker, 14 dB louder than the player: the
/// gate would take them for the player's level, unless it is told.
#[test]
fn the_programs_own_tones_do_not_shut_the_player_out() {
    const EVERY_S: f64 = 1.6;
    let mut scene = Scene::new(RATE_HZ, 52.0);
    for i in 0..30u64 {
        let at_s = 0.5 + EVERY_S * i as f64;
        scene.pluck(at_s, hz(50 + (i * 7 % 30) as u8), 0.1, -6.0, i);
        scene.pluck(at_s + 0.8, hz(50 + (i * 11 % 30) as u8), 0.02, -6.0, i + 99);
    }
    let counted = |told: bool| {
        let mut ear = ear(RATE_HZ, 50, 84);
        let mut counted = 0;
        for (block, samples) in scene.samples.chunks(480).enumerate() {
            let at_s = block as f64 * 480.0 / scene.rate_hz;
            ear.set_own_tone(told && (at_s - 0.4).rem_euclid(EVERY_S) < 0.7);
            ear.hear(samples);
            while let Some(heard) = ear.poll() {
                let late = |onset: f64| onset / scene.rate_hz > 12.0;
                if let Heard::Pluck(pluck) = heard
                    && late(pluck.onset)
                    && (pluck.onset / scene.rate_hz - 0.4).rem_euclid(EVERY_S) > 0.7
                {
                    counted += 1;
                }
            }
        }
        counted
    };
    // 23 of the player's own are left after the first 12 s.
    assert!(counted(true) >= 21, "{}", counted(true));
    // Untold, the gate shuts on the player sooner or later.
    assert!(counted(false) <= 16, "{}", counted(false));
}
