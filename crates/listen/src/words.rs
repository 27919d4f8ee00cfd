//! What is said of strings, rooms and delays.

use std::time::Duration;

use super::bench::{BenchString, IN_TUNE_CENTS, StringState};

/// Beyond this a string may be in danger, in cents: two semitones. Common
/// practice, no source.
const DANGER_CENTS: f64 = 200.0;
/// Places of the scale on each side of its middle, and cents to a place.
const SCALE_PLACES: i32 = 10;
const SCALE_CENTS: f64 = 5.0;

/// What is told before the first string is turned.
pub const PEGS: &str = "turn a peg slowly and pluck as you go: a string that is turned far above \
                        its pitch can snap";
/// What a student who tunes by ear does.
pub const BY_EAR: &str = "hear the tone, sing it, pluck the string, and turn until the two are one";

/// How far a string is off, in words: "12 cents low: turn it up a little".
pub fn how_far(cents: f64) -> String {
    let size = cents.abs();
    let side = if cents < 0.0 { "low" } else { "high" };
    let turn = if cents < 0.0 {
        "turn it up"
    } else {
        "let it down"
    };
    if size <= IN_TUNE_CENTS {
        return match size.round() as i64 {
            0 => "in tune".to_owned(),
            _ => format!("in tune, {} {side}", count_cents(size)),
        };
    }
    if (size - 1200.0).abs() < 60.0 {
        return format!("an octave {side}, or another string: {turn} only if you are sure");
    }
    if size >= 100.0 {
        return format!("{:.1} semitones {side}: {turn}", size / 100.0);
    }
    let much = if size <= 10.0 {
        " by a touch"
    } else if size <= 30.0 {
        " a little"
    } else {
        ""
    };
    format!("{} {side}: {turn}{much}", count_cents(size))
}

fn count_cents(size: f64) -> String {
    match size.round() as i64 {
        1 => "1 cent".to_owned(),
        cents => format!("{cents} cents"),
    }
}

/// What to mind before the peg is turned, for a string this far off.
pub fn danger(cents: f64) -> Option<&'static str> {
    if cents > DANGER_CENTS {
        Some(
            "this string is more than two semitones above its pitch and may snap: keep your face away and let it down",
        )
    } else if cents < -DANGER_CENTS {
        Some(
            "this string would have to rise by more than two semitones and may snap: make sure that it is the right string and is made for this pitch",
        )
    } else {
        None
    }
}

/// How a string is, as far as may be told.
pub fn state(string: &BenchString, meter: bool) -> String {
    match string.state {
        StringState::Unheard => "not heard yet".to_owned(),
        _ if !meter => "heard".to_owned(),
        StringState::Off(cents) | StringState::InTune(cents) => how_far(cents),
    }
}

/// A line of text from 50 cents low to 50 high, with `mark` where the string is
/// and a bar where it should be: `low ....:....|....:.*.. high`.
pub fn scale(cents: f64, mark: &str) -> String {
    let at = (cents / SCALE_CENTS).round().clamp(-1e3, 1e3) as i32;
    let at = at.clamp(-SCALE_PLACES, SCALE_PLACES);
    let mut line = String::from("low ");
    for place in -SCALE_PLACES..=SCALE_PLACES {
        line.push_str(match place {
            _ if place == at => mark,
            0 => "|",
            _ if place % 5 == 0 => ":",
            _ => ".",
        });
    }
    line.push_str(" high");
    line
}

/// What a loop test found, and what it means.
pub fn delay(delay_ms: f64, uncertainty: Duration, clearness_db: f64) -> Vec<String> {
    let within = (uncertainty.as_secs_f64() * 1000.0).ceil().max(1.0);
    let size = delay_ms.abs();
    let what = if size <= within {
        format!("sound came back when output and microphone said it would, within {within:.0} ms")
    } else {
        let side = if delay_ms > 0.0 { "later" } else { "earlier" };
        format!(
            "sound came back {size:.0} ms {side} than output and microphone said, give or take \
             {within:.0} ms"
        )
    };
    let meaning = if size <= within.max(10.0) {
        "the times of answers on your instrument are right as they stand"
    } else {
        "the times of answers on your instrument are out by about as much"
    };
    vec![
        what,
        meaning.to_owned(),
        format!("the sweep stood {clearness_db:.0} dB out of the rest of the room"),
        "3 ms of it are the air's for each metre between loudspeaker and microphone".to_owned(),
        "it changes with the device, its driver and, without wires, from one connection to the \
         next: measure again when you change any of them"
            .to_owned(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_for_how_far() {
        for (cents, words) in [
            (0.3, "in tune"),
            (-1.2, "in tune, 1 cent low"),
            (2.9, "in tune, 3 cents high"),
            (-7.0, "7 cents low: turn it up by a touch"),
            (24.0, "24 cents high: let it down a little"),
            (-70.0, "70 cents low: turn it up"),
            (230.0, "2.3 semitones high: let it down"),
            (
                -1190.0,
                "an octave low, or another string: turn it up only if you are sure",
            ),
        ] {
            assert_eq!(how_far(cents), words);
        }
    }

    #[test]
    fn more_than_two_semitones_either_way_is_a_danger() {
        assert_eq!(danger(190.0), None);
        assert_eq!(danger(-190.0), None);
        assert!(danger(210.0).is_some_and(|why| why.contains("let it down")));
        assert!(danger(-210.0).is_some_and(|why| why.contains("right string")));
    }

    #[test]
    fn the_scale_marks_where_the_string_is() {
        let scale = |cents| scale(cents, "#");
        assert_eq!(scale(-12.0), "low :....:..#.|....:....: high");
        assert_eq!(scale(0.0), "low :....:....#....:....: high");
        assert_eq!(scale(400.0), "low :....:....|....:....# high");
        assert_eq!(scale(f64::NEG_INFINITY), "low #....:....|....:....: high");
    }

    #[test]
    fn a_delay_is_told_with_its_meaning() {
        let ms = Duration::from_millis;
        let late = delay(143.2, ms(6), 31.0);
        assert!(late[0].starts_with("sound came back 143 ms later"));
        assert!(late[1].contains("out by about as much"));
        let right = delay(-2.0, ms(5), 40.0);
        assert!(right[0].contains("within 5 ms"));
        assert!(right[1].contains("right as they stand"));
    }
}
