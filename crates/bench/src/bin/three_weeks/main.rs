//! Three weeks of a made-up class, in a real book: for looking at reports.
//!
//! `cargo run -p fifthpeg-bench --bin three_weeks -- FILE` writes six lessons
//! of an evening class in a village hall into a new book. The lessons are real
//! ones in virtual time, picked for the class by `lesson::learning`, with the
//! made-up learners of the lesson's `picking_table`. The same book comes out
//! every time, but for the random numbers that lessons and people get.

#[allow(dead_code, reason = "shared with another example")]
mod evening;
#[allow(dead_code, reason = "shared with another example")]
use std::path::PathBuf;

use fifthpeg_bench::dice::Dice;
use fifthpeg_bench::learners::{Kind, Learner};
use fifthpeg_core::{Neck, ReachSpec, ReachStep};
use fifthpeg_lesson::learning::suggest::ReachChange;
use fifthpeg_lesson::learning::{Model, StudentKey, suggest};

use evening::{Evening, when};

type Failed = Box<dyn std::error::Error>;

/// Invented; so are their strengths.
const CLASS: [(&str, Kind, f64); 7] = [
    ("Mia", Kind::Blurred, 0.1),
    ("Ivo", Kind::Logistic, -0.6),
    ("Ruth", Kind::Logistic, 0.9),
    ("Ben", Kind::Blurred, -1.3),
    ("Ada", Kind::AllOrNone, 0.3),
    ("Tomas", Kind::Logistic, 0.2),
    ("Noor", Kind::Blurred, 0.7),
];

/// Monday, 12 October 2026, 18:00 UTC.
const FIRST_MS: i64 = 1_791_828_000_000;
const DAY_MS: i64 = 24 * 3600 * 1000;
/// Mondays and Thursdays.
const DAYS: [i64; 6] = [0, 3, 7, 10, 14, 17];
const CALLS: u32 = 20;

fn main() -> Result<(), Failed> {
    let path = std::env::args().nth(1).map(PathBuf::from);
    let path = path.ok_or("say where the book is to be written")?;
    if path.exists() {
        return Err(format!("{} is there already: name a new file", path.display()).into());
    }
    let neck = Neck::ready("banjo-open-g").ok_or("no such neck")?;
    let mut dice = Dice::new(20_261_012);
    let mut learners: Vec<Learner> = CLASS
        .iter()
        .map(|(_, kind, strength)| Learner::new(*kind, *strength, &mut dice))
        .collect();
    let mut model = Model::new();
    let mut reach = ReachSpec::from(ReachStep::AllOpen);
    for (number, day) in DAYS.iter().enumerate() {
        if number > 0 {
            let days = (day - DAYS[number - 1]) as f64;
            learners.iter_mut().for_each(|l| l.rest(days, &mut dice));
        }
        let mut evening =
            Evening::begin(&path, &neck, &reach, number as u64, FIRST_MS + day * DAY_MS)?;
        for (student, (name, ..)) in CLASS.iter().enumerate() {
            // Ben is away once, Ada twice.
            let away = matches!((number, *name), (2, "Ben") | (3 | 4, "Ada"));
            if !away {
                evening.join(name, student);
            }
        }
        for _ in 0..CALLS {
            evening.call(&mut model, &mut learners, &mut dice)?;
        }
        let lesson = evening.end()?;
        let keys: Vec<StudentKey> = (0..CLASS.len() as u128).map(StudentKey).collect();
        let told = suggest(&model, &keys, &neck, &reach, when(FIRST_MS + day * DAY_MS));
        println!("{lesson}: {reach}. {told}");
        if let ReachChange::Widen(Some(step)) | ReachChange::Narrow(Some(step)) = told.change {
            reach = step.into();
        }
    }
    Ok(())
}
