//! Shares found over lessons or weeks.

use super::drawing::{DASHED, FAINT, INK, Width, circle, line, open, square, text};
use crate::overview::Period;
use crate::words;

/// Most lessons that there is room for on a telephone: the latest.
const MOST_ON_PHONE: usize = 6;

/// Shares found over lessons or weeks: with the first answer as filled circles
/// on a full line, with any as hollow squares on a dashed one, each with its 95%
/// bounds. On a telephone only the latest.
pub fn progress(periods: &[Period], room: Width, equivalent: &str) -> String {
    const TALL: f64 = 200.0;
    let phone = room.is_phone();
    let periods = match periods.len().checked_sub(MOST_ON_PHONE) {
        Some(older) if phone => &periods[older..],
        _ => periods,
    };
    let (left, right, top) = if phone {
        (40.0, 24.0, 54.0)
    } else {
        (50.0, 40.0, 34.0)
    };
    let bottom = top + TALL;
    let mut svg = open(room, bottom + 44.0, equivalent);
    let y = |share: f64| bottom - TALL * share;
    let step = (room.width() - left - right) / periods.len().max(1) as f64;
    let x = |n: usize| left + step * (n as f64 + 0.5);
    // Beside each other, so that neither hides the other.
    let apart = (step / 6.0).min(9.0);
    for quarter in 0..=4_u8 {
        let share = f64::from(quarter) / 4.0;
        line(&mut svg, (left, y(share)), (room.width(), y(share)), FAINT);
        let words = format!("{}%", u32::from(quarter) * 25);
        text(&mut svg, (left - 6.0, y(share) + 4.5), "end", &words);
    }
    // The key.
    square(&mut svg, (left + 8.0, 12.0));
    line(&mut svg, (left - 8.0, 12.0), (left + 3.0, 12.0), DASHED);
    let words = "found, with any answer";
    text(&mut svg, (left + 20.0, 16.5), "start", words);
    let (key, down) = if phone {
        (left, 20.0)
    } else {
        (left + 210.0, 0.0)
    };
    circle(&mut svg, (key + 8.0, 12.0 + down));
    line(
        &mut svg,
        (key - 8.0, 12.0 + down),
        (key + 8.0, 12.0 + down),
        INK,
    );
    let words = "found with the first answer";
    text(&mut svg, (key + 20.0, 16.5 + down), "start", words);
    for first in [false, true] {
        let side = if first { -apart } else { apart };
        let share = |p: &Period| {
            if first {
                p.figures.first()
            } else {
                p.figures.any()
            }
        };
        let dots: Vec<(f64, f64)> = periods
            .iter()
            .enumerate()
            .filter_map(|(n, p)| Some((x(n) + side, share(p).value()?)))
            .collect();
        for pair in dots.windows(2) {
            let [from, to] = [pair[0], pair[1]];
            let manner = if first { INK } else { DASHED };
            line(&mut svg, (from.0, y(from.1)), (to.0, y(to.1)), manner);
        }
        for (n, period) in periods.iter().enumerate() {
            let (at, share) = (x(n) + side, share(period));
            let (Some(value), Some((low, high))) = (share.value(), share.within()) else {
                continue;
            };
            line(&mut svg, (at, y(low)), (at, y(high)), INK);
            for end in [low, high] {
                line(&mut svg, (at - 3.5, y(end)), (at + 3.5, y(end)), INK);
            }
            let number = format!("{:.0}", value * 100.0);
            if first {
                circle(&mut svg, (at, y(value)));
                text(&mut svg, (at - 8.0, y(value) + 4.5), "end", &number);
            } else {
                square(&mut svg, (at, y(value)));
                // On a telephone the table alone has this number.
                if !phone {
                    text(&mut svg, (at + 8.0, y(value) + 4.5), "start", &number);
                }
            }
        }
    }
    // No more dates than there is room for, the newest of them in any case.
    let wide = if periods.iter().any(|p| p.shares_day) {
        92.0
    } else {
        70.0
    };
    let every = (wide / step).ceil().max(1.0) as usize;
    for (n, period) in periods.iter().enumerate().rev().step_by(every) {
        text(&mut svg, (x(n), bottom + 18.0), "middle", &period.day());
        let calls = words::count(period.figures.calls, "call");
        text(&mut svg, (x(n), bottom + 35.0), "middle", &calls);
    }
    svg.push_str("</svg>");
    svg
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On a telephone the latest six, each dated from the newest on.
    #[test]
    fn the_newest_lesson_is_in_every_picture() {
        let week = |n: i64| Period {
            date: crate::dates::Date::at(1_791_914_400_000 + n * 604_800_000, &|_| 0),
            week: false,
            shares_day: false,
            alone: false,
            reaches: Vec::new(),
            figures: crate::figures::Figures {
                calls: 10,
                found: 9,
                found_first: 5,
                ..Default::default()
            },
        };
        let weeks: Vec<Period> = (0..9).map(week).collect();
        for (room, lessons) in [(Width::Page, 9), (Width::Phone, 6)] {
            let picture = progress(&weeks, room, "nine weeks");
            // One more in the key.
            assert_eq!(picture.matches("<circle").count(), lessons + 1);
            assert!(picture.contains("Tue 8 Dec"), "{picture}");
            assert_eq!(picture.contains("Tue 13 Oct"), room == Width::Page);
        }
    }
    /// Two lessons of one evening are told apart by when they began.
    #[test]
    fn lessons_of_one_day_have_their_time_in_their_name() {
        let mut evening: Vec<Period> = [0, 3_600_000]
            .map(|later| Period {
                date: crate::dates::Date::at(1_791_914_400_000 + later, &|_| 0),
                week: false,
                shares_day: true,
                alone: false,
                reaches: Vec::new(),
                figures: crate::figures::Figures::default(),
            })
            .into();
        let names: Vec<String> = evening.iter().map(words::when).collect();
        assert_eq!(names, ["13 Oct, 18:00", "13 Oct, 19:00"]);
        evening.truncate(1);
        evening[0].shares_day = false;
        assert_eq!(words::when(&evening[0]), "Tue 13 Oct");
    }
}
