//! The notes of a track as they are typed: `F#4,A4`, or with weights,
//! `F#4=46,A4=12`.

use fifthpeg_core::text;
use fifthpeg_core::{Named, Pitch, Reach, Spelling};
use fifthpeg_front::failure::Failure;

/// The greatest weight that may be typed.
const MOST: u32 = 1000;

/// Each note named, with its weight; 1 where none is typed.
///
/// # Errors
/// One sentence for a note that is none or not in reach, or a weight that is
/// none.
pub fn weights(notes: &[String], reach: &Reach) -> Result<Vec<(Pitch, f64)>, Failure> {
    let mut weights = Vec::new();
    for typed in notes {
        let wrong = |why: String| Failure::usage(why).told(|why| format!("--notes: {why}"));
        let (name, weight) = match typed.split_once('=') {
            None => (typed.trim(), 1),
            Some((name, weight)) => {
                let number = weight.trim().parse().ok();
                let number = number.filter(|n| (1..=MOST).contains(n)).ok_or_else(|| {
                    wrong(format!(
                        "\"{}\" has no weight after its =: give a whole number from 1 to {MOST}",
                        text::shown(typed.trim())
                    ))
                })?;
                (name.trim(), number)
            }
        };
        let named: Named = name.parse().map_err(|e| wrong(format!("{e}")))?;
        let matching: Vec<Pitch> = match named {
            Named::Pitch(pitch) => vec![pitch],
            Named::Class(class) => {
                let pitches = reach.pitches().iter().copied();
                pitches.filter(|pitch| pitch.class() == class).collect()
            }
        };
        if !matching.iter().all(|pitch| reach.contains_pitch(*pitch)) || matching.is_empty() {
            return Err(wrong(format!(
                "\"{}\" is not in reach: widen --reach, or leave that note out",
                text::shown(name)
            )));
        }
        weights.extend(matching.into_iter().map(|pitch| (pitch, f64::from(weight))));
    }
    Ok(weights)
}

/// A note with its weight, as it is typed.
pub fn typed(pitch: Pitch, weight: u8) -> String {
    format!("{}={weight}", pitch.ascii_name(Spelling::Sharps))
}

/// Whether any of these is typed with a weight.
pub fn are_weighted(notes: &[String]) -> bool {
    notes.iter().any(|typed| typed.contains('='))
}

#[cfg(test)]
mod tests {
    use super::*;
    use fifthpeg_core::{Neck, ReachStep};

    fn read(notes: &[&str]) -> Result<Vec<(u8, f64)>, String> {
        let neck = Neck::ready("banjo-open-g").expect("it comes with the program");
        let reach = Reach::resolve(&neck, &ReachStep::OctaveLow.into()).expect("a reach");
        let notes: Vec<String> = notes.iter().map(|n| (*n).to_owned()).collect();
        let weights = weights(&notes, &reach).map_err(|e| e.to_string())?;
        Ok(weights.into_iter().map(|(p, w)| (p.midi(), w)).collect())
    }

    #[test]
    fn weights_are_read_as_they_are_written() {
        assert_eq!(read(&["D3", "E3 = 46"]), Ok(vec![(50, 1.0), (52, 46.0)]));
        assert_eq!(read(&["D=2"]), Ok(vec![(50, 2.0), (62, 2.0)]));
        for pitch in (50..=62).filter_map(Pitch::new) {
            let back = read(&[&typed(pitch, 99)]);
            assert_eq!(back, Ok(vec![(pitch.midi(), 99.0)]));
        }
        for wrong in [
            "D3=", "D3=0", "D3=-1", "D3=1.5", "D3=nan", "D3=1001", "D3=1=2",
        ] {
            let told = read(&[wrong]).expect_err(wrong);
            assert!(told.contains("whole number from 1 to 1000"), "{told}");
        }
        assert!(read(&["C6=3"]).is_err_and(|told| told.contains("\"C6\" is not in reach")));
    }
}
