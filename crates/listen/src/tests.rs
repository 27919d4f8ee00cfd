//! The bench alone, and the devices at work.

use std::time::{Duration, Instant};

use fifthpeg_core::{Neck, Pitch, Reference};
use fifthpeg_ear::tuner::Reading;

use crate::bench::{Bench, BenchNews, StringState};

fn banjo() -> Neck {
    Neck::ready("banjo-open-g").expect("a ready neck")
}

fn bench() -> Bench {
    Bench::new(&banjo(), Reference::default())
}

/// What the tuner reads for a string so many cents off a pitch.
fn reading(midi: u8, cents: f64) -> Reading {
    let reference = Reference::default();
    let hz = Pitch::new(midi).expect("a pitch").frequency_hz(reference);
    let frequency_hz = hz * (cents / 1200.0).exp2();
    let (pitch, cents) = Pitch::nearest(frequency_hz, reference).expect("a pitch");
    Reading {
        frequency_hz,
        pitch,
        cents,
        level_db: -20.0,
        at: 0,
    }
}

/// Plucks: several readings that agree, then silence.
fn pluck(bench: &mut Bench, midi: u8, cents: f64, now: Instant) -> Vec<BenchNews> {
    let mut news: Vec<BenchNews> = (0..12)
        .filter_map(|_| bench.take(Some(reading(midi, cents)), now))
        .collect();
    news.extend(bench.take(None, now));
    news
}

#[test]
fn the_bench_begins_with_the_long_string_of_the_highest_number() {
    let mut bench = bench();
    assert_eq!(bench.chosen().number, 4);
    let pitches: Vec<u8> = bench.strings().iter().map(|s| s.pitch.midi()).collect();
    // D4 B3 G3 D3 and the short G4: common practice, no source.
    assert_eq!(pitches, [62, 59, 55, 50, 67]);
    bench.step(1);
    assert_eq!(bench.chosen().number, 5);
    bench.step(1);
    assert_eq!(bench.chosen().number, 1);
    assert!(!bench.choose(6) && bench.choose(3));
    assert_eq!(bench.chosen().number, 3);
}

#[test]
fn a_capo_raises_what_the_strings_are_tuned_to() {
    let neck = banjo().with_capo_at(2).expect("a capo");
    let bench = Bench::new(&neck, Reference::default());
    let pitches: Vec<u8> = bench.strings().iter().map(|s| s.pitch.midi()).collect();
    assert_eq!(pitches, [64, 61, 57, 52, 69]);
}

#[test]
fn a_pluck_is_told_once_and_kept() {
    let now = Instant::now();
    let mut bench = bench();
    let news = pluck(&mut bench, 50, -12.0, now);
    assert!(
        matches!(news[..], [BenchNews::Read { string: 4, cents }] if (cents + 12.0).abs() < 0.01)
    );
    assert!(matches!(bench.chosen().state, StringState::Off(c) if (c + 12.0).abs() < 0.01));
    assert_eq!(bench.ringing(), None);
    pluck(&mut bench, 50, 1.0, now);
    assert!(matches!(bench.chosen().state, StringState::InTune(_)));
    assert_eq!(bench.in_tune(), 1);
}

#[test]
fn readings_that_still_move_do_not_count() {
    let mut bench = bench();
    for step in 0..40 {
        let moving = reading(50, -60.0 + 3.0 * f64::from(step));
        assert_eq!(bench.take(Some(moving), Instant::now()), None);
        assert!(bench.ringing().is_some());
    }
    assert_eq!(bench.chosen().state, StringState::Unheard);
}

#[test]
fn another_string_is_told_and_followed_only_once_this_one_is_in_tune() {
    let now = Instant::now();
    let mut bench = bench();
    assert!(bench.choose(4));
    assert_eq!(
        pluck(&mut bench, 55, 20.0, now),
        [BenchNews::Other { string: 3 }]
    );
    assert_eq!(bench.chosen().state, StringState::Unheard);
    pluck(&mut bench, 50, 0.0, now);
    let news = pluck(&mut bench, 55, 20.0, now);
    assert_eq!(news[0], BenchNews::Moved { string: 3 });
    assert_eq!(bench.chosen().number, 3);
    assert!(matches!(news[1], BenchNews::Read { string: 3, .. }));
}

#[test]
fn before_a_string_is_chosen_the_one_plucked_is_it() {
    let now = Instant::now();
    let mut bench = bench();
    let news = pluck(&mut bench, 62, 20.0, now);
    assert_eq!(news[0], BenchNews::Moved { string: 1 });
    assert!(matches!(news[1], BenchNews::Read { string: 1, .. }));
    // That one is not in tune, so it stays.
    assert_eq!(
        pluck(&mut bench, 55, 0.0, now),
        [BenchNews::Other { string: 3 }]
    );
}

#[test]
fn own_tones_are_not_taken_for_the_string() {
    let now = Instant::now();
    let mut bench = bench();
    bench.own_tone(now + Duration::from_secs(2));
    assert!(bench.is_deaf(now));
    assert_eq!(pluck(&mut bench, 50, 0.0, now), []);
    assert_eq!(bench.chosen().state, StringState::Unheard);
    let later = now + Duration::from_secs(3);
    assert!(!bench.is_deaf(later));
    assert_eq!(pluck(&mut bench, 50, 0.0, later).len(), 1);
}

/// The devices of a loop test at work: whoever waits for them is never held up,
/// sees how far they are, and is told when they are done.
#[tokio::test]
async fn measuring_the_delay_holds_nobody_up() {
    use crate::trim::TrimBench;
    use crate::trims::Trims;
    use crate::works::{FromWorks, Works};
    use fifthpeg_sound::{Level, ListenFor, ListenSettings, OutputChoice, Voice, open};

    let folder = std::env::temp_dir().join(format!("works-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    // Half a second of silence, heard as though by a microphone, and then no more.
    let heard = folder.join("heard.wav");
    let choice: OutputChoice = format!("wav:{}", heard.display())
        .parse()
        .expect("a choice");
    open(&choice)
        .and_then(|output| {
            std::thread::sleep(Duration::from_millis(500));
            output.finish()
        })
        .expect("a sound file");
    let played: OutputChoice = format!("wav:{}", folder.join("played.wav").display())
        .parse()
        .expect("a choice");
    let settings = ListenSettings {
        lowest: banjo().lowest(),
        highest: banjo().highest(),
        reference: Reference::default(),
        what: ListenFor::Plucks,
    };
    let microphone = format!("wav:{}", heard.display())
        .parse()
        .expect("a choice");
    let output = open(&played).expect("an output");
    let sound = (output, Level::default(), Voice::Plain);
    let trim = TrimBench::new(None, None, Trims::nowhere());
    let mut works = Works::new(microphone, settings, sound, trim);
    works.listen().expect("it listens");
    works.measure_loop().expect("it measures");
    assert!(works.measure_loop().is_err() && works.measure_room().is_err());
    let (mut turns, mut furthest, mut done, mut again) = (0, 0.0f32, None, false);
    while !again {
        tokio::select! {
            news = works.next() => match news {
                FromWorks::Loop(result) => {
                    done = Some(result.is_ok());
                    assert!(works.is_busy(), "the microphone is opened again");
                }
                FromWorks::ListensAgain(_) => again = true,
                FromWorks::Heard(_) => {}
            },
            () = tokio::time::sleep(Duration::from_millis(20)) => {
                turns += 1;
                let so_far = works.measuring(Instant::now()).unwrap_or(furthest);
                assert!(so_far >= furthest, "it goes on");
                furthest = so_far;
            }
        }
    }
    // A silent room gives no delay.
    assert_eq!(done, Some(false));
    assert!(turns > 10 && furthest > 0.0, "{turns} turns, {furthest}");
    assert!(!works.is_busy() && works.measuring(Instant::now()).is_none());
    works.finish().expect("the file is whole");
    std::fs::remove_dir_all(&folder).expect("the folder goes");
}
