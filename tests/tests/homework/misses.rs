//! Whether a track is made of what its student misses.

use std::collections::BTreeMap;

use fifthpeg_book::{Reader, Whose};
use fifthpeg_core::{Pitch, Spelling};

use fifthpeg_tests::{run, temporary};

use crate::common::{CLASS, Hall, NAMES, command, hall, names, read, text, weights};

/// How often each note is called, by the answer sheet.
fn called(hall: &Hall, student: &str) -> BTreeMap<String, f64> {
    let sheet = read(&hall.of(student).join(format!("{student}.txt")));
    let rows = sheet
        .lines()
        .skip_while(|line| !line.starts_with("call     time"));
    let mut called = BTreeMap::new();
    for row in rows.skip(1).take_while(|row| !row.is_empty()) {
        let note = row.split_whitespace().nth(2).expect("a note");
        *called.entry(note.to_owned()).or_default() += 1.0;
    }
    called
}

/// The shares that the rule written in `lesson::picker` gives in the long run to
/// notes of such weights: drawn by weight times the calls since the note last
/// came, up to 4, and never twice running. By trying, with numbers of its own
/// (xorshift64*: Vigna, ACM Transactions on Mathematical Software 42:4, 2016).
fn long_run(weights: &[f64]) -> Vec<f64> {
    const DRAWS: u32 = 400_000;
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let mut unit = move || {
        state ^= state >> 12;
        state ^= state << 25;
        state ^= state >> 27;
        (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 53) as f64
    };
    let mut since = vec![5_u32; weights.len()];
    let mut came = vec![0_u32; weights.len()];
    for _ in 0..DRAWS {
        let now: Vec<f64> = weights
            .iter()
            .zip(&since)
            .map(|(weight, since)| weight * f64::from((since - 1).min(4)))
            .collect();
        let mut left = unit() * now.iter().sum::<f64>();
        let drawn = now.iter().position(|weight| {
            left -= weight;
            left < 0.0
        });
        let drawn = drawn.unwrap_or(0);
        since
            .iter_mut()
            .for_each(|since| *since = (*since + 1).min(6));
        since[drawn] = 1;
        came[drawn] += 1;
    }
    came.iter()
        .map(|n| f64::from(*n) / f64::from(DRAWS))
        .collect()
}

/// The highest chi-square statistic that comes by chance once in a thousand
/// times, with 12 degrees of freedom: NIST/SEMATECH e-Handbook, 1.3.6.7.4.
const CHI_SQUARE_12: f64 = 32.909;

#[test]
fn notes_come_as_often_as_the_model_says_they_are_missed() {
    let hall = hall("homework-misses");
    hall.made(&[
        "--calls",
        "500",
        "--gap",
        "3",
        "--write",
        "midi,text",
        "--seed",
        "4",
    ]);
    for student in NAMES {
        let weights = weights(&command(&hall, student));
        assert_eq!(weights.len(), 13, "the octave with both its ends");
        let called = called(&hall, student);
        assert_eq!(called.values().sum::<f64>(), 500.0);
        let shares = long_run(&weights.iter().map(|(_, w)| *w).collect::<Vec<_>>());
        let mut statistic = 0.0;
        for ((note, _), share) in weights.iter().zip(&shares) {
            let (expected, came) = (500.0 * share, called.get(note).copied().unwrap_or(0.0));
            statistic += (came - expected).powi(2) / expected;
        }
        // The rule spreads notes more evenly than chance would, so the bound is
        // on the safe side.
        assert!(statistic < CHI_SQUARE_12, "{student}: {statistic}");

        // The upper half of the weights comes more often than the lower.
        let mut by_weight: Vec<&(String, f64)> = weights.iter().collect();
        by_weight.sort_by(|a, b| a.1.total_cmp(&b.1));
        let of = |some: &[&(String, f64)]| -> (f64, f64) {
            let came = some.iter().filter_map(|(note, _)| called.get(note)).sum();
            (some.iter().map(|(_, w)| w).sum(), came)
        };
        let (low, high) = (of(&by_weight[..6]), of(&by_weight[7..]));
        if high.0 > 1.3 * low.0 {
            assert!(high.1 > 1.1 * low.1, "{student}: {high:?} {low:?}");
        }
    }
}

#[test]
fn weights_follow_what_the_book_says_was_missed() {
    let hall = hall("homework-weights");
    hall.made(&[
        "--calls",
        "2",
        "--gap",
        "3",
        "--write",
        "midi,text",
        "--seed",
        "5",
    ]);
    let book = Reader::open(&hall.book).expect("the book");
    let mut means: Vec<(f64, f64)> = Vec::new();
    let (mut missed_weights, mut found_weights) = (Vec::new(), Vec::new());
    for student in NAMES {
        let weights = weights(&command(&hall, student));
        let person = book.person(CLASS, student).expect("a person");
        let calls = book.calls(Whose::Person(person.id)).expect("calls");
        let answered = calls.iter().filter(|call| !call.answers.is_empty());
        let (mut misses, mut of): (BTreeMap<Pitch, f64>, f64) = Default::default();
        for call in answered {
            *misses.entry(call.pitch).or_default() += f64::from(u8::from(!call.found_first()));
            of += 1.0;
        }
        let mean = weights.iter().map(|(_, w)| w).sum::<f64>() / weights.len() as f64;
        means.push((misses.values().sum::<f64>() / of, mean));
        for (pitch, missed) in misses {
            let name = pitch.ascii_name(Spelling::Sharps);
            let weight = weights
                .iter()
                .find(|(note, _)| *note == name)
                .map(|(_, w)| w / mean);
            let Some(weight) = weight else { continue };
            if missed >= 2.0 {
                missed_weights.push(weight);
            } else if missed == 0.0 {
                found_weights.push(weight);
            }
        }
    }
    // Who missed more has the greater weights: every pair that is far apart.
    for (one, other) in means.iter().flat_map(|a| means.iter().map(move |b| (a, b))) {
        if one.0 > other.0 + 0.1 {
            assert!(one.1 > other.1, "{means:?}");
        }
    }
    // Notes missed twice weigh more than those never missed, beside the
    // student's own mean.
    let mean = |some: &[f64]| some.iter().sum::<f64>() / some.len() as f64;
    assert!(missed_weights.len() >= 10 && found_weights.len() >= 10);
    let ratio = mean(&missed_weights) / mean(&found_weights);
    assert!(ratio > 1.3, "{ratio}: {missed_weights:?} {found_weights:?}");
}

#[test]
fn who_misses_nothing_gets_a_fresh_mix_and_a_suggestion() {
    let hall = hall("homework-strong");
    let said = hall.made(&["--calls", "2", "--gap", "3", "--write", "midi,text"]);
    let ruth = said
        .lines()
        .find(|line| line.starts_with("suggestion for Ruth: "));
    let ruth = ruth.expect("a suggestion");
    assert!(
        ruth.contains("Found 20 of the last 20") && ruth.contains("--reach suggested"),
        "{ruth}"
    );
    let plain = read(&hall.of("Ruth").join("start.txt")).replace('\n', " ");
    assert!(
        plain.contains("expected to be found at the first answer"),
        "{plain}"
    );
    let of_ruth = weights(&command(&hall, "Ruth"));
    assert!(
        of_ruth.iter().all(|(_, weight)| *weight <= 15.0),
        "{of_ruth:?}"
    );

    hall.made(&[
        "--calls",
        "2",
        "--gap",
        "3",
        "--write",
        "midi,text",
        "--replace",
        "--reach",
        "suggested",
    ]);
    assert!(command(&hall, "Ruth").contains("--reach octave-along"));
    // Narrower for who finds little, the last one for who is where it fits.
    assert!(command(&hall, "Ben").contains("--reach open"));
    assert!(command(&hall, "Mia").contains("--reach octave "));
}

#[test]
fn a_book_of_an_older_version_serves_as_well() {
    let folder = temporary("homework-older");
    let book = folder.join("lessons.book");
    let old = include_str!("../../../crates/book/tests/old/version-1.sql");
    let connection = rusqlite::Connection::open(&book).expect("a book");
    connection.execute_batch(old).expect("an old book");
    drop(connection);
    let to = folder.join("homework");
    let outcome = run(&[
        "homework",
        "--book",
        text(&book),
        "--to",
        text(&to),
        "--calls",
        "2",
        "--gap",
        "3",
        "--write",
        "midi,text",
    ]);
    // Ruth answered nothing in that book's one lesson.
    assert!(outcome.output.contains("nothing for Ruth"), "{outcome:?}");
    assert_eq!(names(&to), ["Mia"]);
    assert!(names(&folder).contains(&"lessons.v1-backup".to_owned()));
}
