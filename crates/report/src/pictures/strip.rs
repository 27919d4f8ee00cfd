//! Response times, a dot for each.

use std::fmt::Write;

use super::drawing::{FAINT, INK, THICK, Width, line, open, text};
use crate::figures::ResponseTimes;
use crate::words;

/// Writing to a string cannot fail.
macro_rules! add {
    ($svg:expr, $($what:tt)*) => {{ let _ = write!($svg, $($what)*); }};
}

/// Times in seconds that the axis of a strip is marked at.
const TICKS: [f64; 12] = [
    0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0,
];

/// A row of a strip: its name and its times.
pub type StripRow<'a> = (String, &'a ResponseTimes);

/// Response times: a dot for each found call, in stacks; below them the median
/// with its 95% bounds. On a telephone a row's name stands above it.
pub fn strip(rows: &[StripRow<'_>], room: Width, equivalent: &str) -> String {
    let phone = room.is_phone();
    // On a telephone as much as half a tick's label.
    let (names, medians) = if phone { (14.0, 14.0) } else { (150.0, 70.0) };
    // Letters of a name that have room.
    let letters = if phone { 32 } else { 20 };
    let above = if phone { 22.0 } else { 0.0 };
    const TOP: f64 = 8.0;
    const DOT: f64 = 2.6;
    /// Room below the dots for the median.
    const BELOW: f64 = 20.0;
    let all = || rows.iter().flat_map(|(_, times)| &times.each);
    let shortest = all().map(|(time, _)| *time).fold(f64::INFINITY, f64::min);
    let longest = all().map(|(time, _)| *time).fold(0.0, f64::max);
    let low = TICKS.iter().rev().find(|t| **t <= shortest).copied();
    let low = low.unwrap_or(TICKS[0]);
    let high = TICKS.iter().find(|t| **t >= longest && **t > low).copied();
    let high = high.unwrap_or_else(|| longest.max(low * 2.0));
    let wide = room.width() - names - medians;
    let x = |time: f64| names + wide * ((time.max(low) / low).ln() / (high / low).ln()).min(1.0);
    // Dots of one column stand on each other.
    let stacks: Vec<Vec<(f64, f64, u32)>> = rows
        .iter()
        .map(|(_, times)| {
            let mut column = i64::MIN;
            let mut level = 0;
            let place = |(time, off): &(f64, f64)| {
                let at = (x(*time) / (2.0 * DOT)).round() as i64;
                level = if at == column { level + 1 } else { 0 };
                column = at;
                (*time, *off, level)
            };
            times.each.iter().map(place).collect()
        })
        .collect();
    let tall: Vec<f64> = stacks
        .iter()
        .map(|dots| {
            let most = dots.iter().map(|d| d.2).max().unwrap_or(0);
            (f64::from(most + 1) * 2.0 * DOT).max(16.0) + BELOW + above
        })
        .collect();
    let bottom = TOP + tall.iter().sum::<f64>() + 4.0;
    let mut svg = open(room, bottom + 36.0, equivalent);
    for tick in TICKS.iter().filter(|t| (low..=high).contains(*t)) {
        line(&mut svg, (x(*tick), TOP), (x(*tick), bottom), FAINT);
        text(
            &mut svg,
            (x(*tick), bottom + 14.0),
            "middle",
            &tick.to_string(),
        );
    }
    text(
        &mut svg,
        (names + wide / 2.0, bottom + 31.0),
        "middle",
        if phone {
            "seconds from hearing to finding"
        } else {
            "seconds from hearing to finding (each line about twice the one before)"
        },
    );
    let mut y = TOP;
    for (((name, times), dots), tall) in rows.iter().zip(&stacks).zip(&tall) {
        let ground = y + tall - BELOW;
        let beside = if phone { y + 14.0 } else { ground + 4.0 };
        text(&mut svg, (0.0, beside), "start", &shortened(name, letters));
        for (time, off, level) in dots {
            let (at, up) = (x(*time), ground - DOT - f64::from(*level) * 2.0 * DOT);
            let (from, to) = (x(time - off), x(time + off));
            if to - from > 2.0 * DOT {
                line(&mut svg, (from, up), (to, up), FAINT);
            }
            add!(
                svg,
                r##"<circle cx="{at:.1}" cy="{up:.1}" r="{DOT}" fill="#555"/>"##
            );
        }
        if let Some(middle) = times.median() {
            let under = ground + 7.0;
            if let Some((from, to)) = times.within() {
                line(&mut svg, (x(from), under), (x(to), under), INK);
                for end in [from, to] {
                    line(&mut svg, (x(end), under - 4.0), (x(end), under + 4.0), INK);
                }
            }
            line(
                &mut svg,
                (x(middle), under - 6.0),
                (x(middle), under + 6.0),
                THICK,
            );
            let words = format!("{} s", words::number(middle));
            text(&mut svg, (room.width(), beside), "end", &words);
        } else {
            text(&mut svg, (room.width(), beside), "end", "no times");
        }
        y += tall;
    }
    svg.push_str("</svg>");
    svg
}

/// A name in at most so many letters.
fn shortened(name: &str, letters: usize) -> String {
    if name.chars().count() <= letters {
        return name.to_owned();
    }
    let short: String = name.chars().take(letters - 1).collect();
    format!("{short}…")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The outermost marks of the axis stand half a label inside, and a name that has
    /// room is whole.
    #[test]
    fn on_a_telephone_nothing_is_cut() {
        let times = ResponseTimes {
            each: vec![(0.3, 0.1), (0.6, 0.1)],
        };
        let rows = [("29 Nov, 17:30, alone".to_owned(), &times)];
        for room in [Width::Page, Width::Phone] {
            let picture = strip(&rows, room, "two times");
            assert!(picture.contains("29 Nov, 17:30, alone"), "{picture}");
            let least = picture.split(r#"<text x=""#).skip(1).filter_map(|text| {
                let (at, rest) = text.split_once('"')?;
                rest.contains(r#""middle""#)
                    .then(|| at.parse::<f64>().ok())?
            });
            let least = least.fold(f64::INFINITY, f64::min);
            assert!(least >= 14.0, "{least}");
        }
        let long = ("Wilhelmina, who has a name".to_owned(), &times);
        let picture = strip(&[long], Width::Page, "two times");
        assert!(picture.contains("Wilhelmina, who has…"), "{picture}");
    }
}
