//! Pictures of a report as SVG: black, grey and white, with numbers and hatching,
//! so that they print on anything and nothing is told by colour. Each comes with
//! its words as `aria-label`. Each is drawn twice, for a page and for a telephone:
//! one scaled down could not be read.

use std::fmt::Write;

use fifthpeg_core::svg::{NeckMark, escaped, neck_svg, neck_svg_upright};
use fifthpeg_core::{NeckDrawing, interval_name};

use super::figures::{Misses, ResponseTimes, Share};
use super::overview::{NeckPart, Period};
use super::words::{self, FEW, ReportStyle};

/// Writing to a string cannot fail.
macro_rules! add {
    ($svg:expr, $($what:tt)*) => {{ let _ = write!($svg, $($what)*); }};
}

/// How much room a picture has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Room {
    /// A page, on a screen or printed.
    Page,
    /// A telephone held upright.
    Phone,
}

impl Room {
    /// In user units, which are about pixels.
    fn width(self) -> f64 {
        match self {
            Room::Page => 640.0,
            Room::Phone => 340.0,
        }
    }

    fn is_phone(self) -> bool {
        self == Room::Phone
    }
}

fn open(room: Room, height: f64, equivalent: &str) -> String {
    format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {:.0} {height:.0}" role="img" aria-label="{}" font-family="sans-serif" font-size="13">"#,
        room.width(),
        escaped(equivalent)
    )
}

fn text(svg: &mut String, (x, y): (f64, f64), anchor: &str, words: &str) {
    add!(
        svg,
        r##"<text x="{x:.1}" y="{y:.1}" text-anchor="{anchor}" stroke="#fff" stroke-width="4" paint-order="stroke">{}</text>"##,
        escaped(words)
    );
}

fn line(svg: &mut String, from: (f64, f64), to: (f64, f64), manner: &str) {
    add!(
        svg,
        r#"<path d="M{:.1} {:.1}L{:.1} {:.1}" fill="none" {manner}/>"#,
        from.0,
        from.1,
        to.0,
        to.1
    );
}

const INK: &str = r##"stroke="#000" stroke-width="1.5""##;
const THICK: &str = r##"stroke="#000" stroke-width="4""##;
const FAINT: &str = r##"stroke="#bbb" stroke-width="1""##;
const DASHED: &str = r##"stroke="#000" stroke-width="1.5" stroke-dasharray="6 4""##;

/// How often each note was found at first, on the neck: in each mark, out of
/// ten; the darker, the less often. A question mark where too few were called.
pub fn neck(part: &NeckPart, manner: &ReportStyle, room: Room, equivalent: &str) -> String {
    let mut marks = Vec::new();
    for (pitch, figures) in &part.notes {
        let first = figures.first();
        let few = first.of < FEW;
        let share = first.value().unwrap_or_default();
        for place in part.places.get(pitch).into_iter().flatten() {
            let label = if few {
                "?".to_owned()
            } else {
                out_of_ten(first)
            };
            marks.push(NeckMark {
                label,
                // Half grey is where neither ink can be read well.
                shade: match share {
                    _ if few => 0.0,
                    s if s >= 0.95 => 0.0,
                    s if s >= 0.75 => 0.15,
                    s if s >= 0.55 => 0.3,
                    s if s >= 0.35 => 0.75,
                    _ => 1.0,
                },
                ..NeckMark::hollow(*place)
            });
        }
    }
    // A fret more than is needed, also behind a short string's peg, and never so
    // few that the neck looks odd.
    let needed = |mark: &NeckMark| {
        let string = part.neck.string(mark.place.string);
        mark.place.fret.max(string.map_or(0, |s| s.first_fret))
    };
    let last = marks.iter().map(needed).max().unwrap_or(0);
    let drawing = NeckDrawing::new(
        &part.neck,
        manner.left_handed,
        last.saturating_add(1).max(5),
    );
    // Few frets are drawn larger.
    let frets = f64::from(drawing.last_fret());
    match room {
        Room::Page => {
            let wide = (60.0 * frets).clamp(420.0, room.width());
            neck_svg(&drawing, &marks, wide, equivalent)
        }
        Room::Phone => {
            let long = (40.0 * frets).clamp(260.0, 660.0);
            neck_svg_upright(&drawing, &marks, (room.width(), long), equivalent)
        }
    }
}

/// Ten only where it is always, and nought only where it is never.
fn out_of_ten(share: Share) -> String {
    let tenths = share.value().unwrap_or_default() * 10.0;
    let between = share.count > 0 && share.count < share.of;
    let tenths = if between {
        tenths.clamp(1.0, 9.0)
    } else {
        tenths
    };
    format!("{tenths:.0}")
}

/// Wrong answers by interval: too low to the left, too high to the right. On a
/// telephone an interval's name stands above its bars.
pub fn misses(misses: &Misses, room: Room) -> String {
    const TOP: f64 = 30.0;
    let phone = room.is_phone();
    let (row_height, bars_at) = if phone { (44.0, 18.0) } else { (26.0, 0.0) };
    // Half of the room for the intervals' names.
    let names = if phone { 2.0 } else { 105.0 };
    let middle = room.width() / 2.0;
    let of = |away: i32| misses.by_semitones.get(&away).copied().unwrap_or(0);
    let mut rows: Vec<u32> = misses
        .by_semitones
        .keys()
        .map(|a| a.unsigned_abs())
        .collect();
    rows.sort_unstable();
    rows.dedup();
    let most = misses.by_semitones.values().copied().max().unwrap_or(1);
    let longest = middle - names - 40.0;
    let height = TOP + row_height * rows.len() as f64 + 6.0;
    let mut svg = open(room, height, &words::misses(misses));
    // Two pictures of one page may not share a name.
    let hatched = if phone { "low-phone" } else { "low" };
    add!(
        svg,
        r##"<defs><pattern id="{hatched}" width="6" height="6" patternUnits="userSpaceOnUse"><path d="M0 6L6 0" stroke="#000" stroke-width="1.2"/></pattern></defs>"##
    );
    let beside = if phone { 12.0 } else { names };
    let (low, high) = ("◂ answered too low", "answered too high ▸");
    text(&mut svg, (middle - beside, 18.0), "end", low);
    text(&mut svg, (middle + beside, 18.0), "start", high);
    for (row, semitones) in rows.iter().enumerate() {
        let y = TOP + row_height * row as f64;
        let away = i32::try_from(*semitones).unwrap_or(i32::MAX);
        let name = match semitones {
            1 => "semitone".to_owned(),
            2 => "whole tone".to_owned(),
            more => interval_name(*more),
        };
        text(
            &mut svg,
            (middle, y + 17.0 - bars_at / 6.0),
            "middle",
            &name,
        );
        let y = y + bars_at;
        for (number, low) in [(of(-away), true), (of(away), false)] {
            let long = longest * f64::from(number) / f64::from(most);
            let (x, at, anchor, fill) = if low {
                let left = middle - names - long;
                (left, left - 6.0, "end", format!("url(#{hatched})"))
            } else {
                let left = middle + names;
                (left, left + long + 6.0, "start", "#888".to_owned())
            };
            if number > 0 {
                add!(
                    svg,
                    r##"<rect x="{x:.1}" y="{:.1}" width="{long:.1}" height="18.0" fill="{fill}" stroke="#000"/>"##,
                    y + 3.0
                );
            }
            text(&mut svg, (at, y + 17.0), anchor, &number.to_string());
        }
    }
    svg.push_str("</svg>");
    svg
}

/// Times in seconds that the axis of a strip is marked at.
const TICKS: [f64; 12] = [
    0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0,
];

/// A row of a strip: its name and its times.
pub type StripRow<'a> = (String, &'a ResponseTimes);

/// Response times: a dot for each found call, in stacks; below them the median
/// with its 95% bounds. On a telephone a row's name stands above it.
pub fn strip(rows: &[StripRow<'_>], room: Room, equivalent: &str) -> String {
    let phone = room.is_phone();
    let (names, medians) = if phone { (8.0, 8.0) } else { (120.0, 70.0) };
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
        text(&mut svg, (0.0, beside), "start", name);
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

/// Most lessons that there is room for on a telephone: the latest.
const MOST_ON_PHONE: usize = 6;

/// Shares found over lessons or weeks: with the first answer as filled circles
/// on a full line, with any as hollow squares on a dashed one, each with its 95%
/// bounds. On a telephone only the latest.
pub fn progress(periods: &[Period], room: Room, equivalent: &str) -> String {
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
    let every = (70.0 / step).ceil().max(1.0) as usize;
    for (n, period) in periods.iter().enumerate().rev().step_by(every) {
        text(
            &mut svg,
            (x(n), bottom + 18.0),
            "middle",
            &period.date.short(),
        );
        let calls = words::count(period.figures.calls, "call");
        text(&mut svg, (x(n), bottom + 35.0), "middle", &calls);
    }
    svg.push_str("</svg>");
    svg
}

fn circle(svg: &mut String, (x, y): (f64, f64)) {
    add!(
        svg,
        r##"<circle cx="{x:.1}" cy="{y:.1}" r="4.5" fill="#000"/>"##
    );
}

fn square(svg: &mut String, (x, y): (f64, f64)) {
    add!(
        svg,
        r##"<rect x="{:.1}" y="{:.1}" width="9" height="9" fill="#fff" stroke="#000" stroke-width="1.5"/>"##,
        x - 4.5,
        y - 4.5
    );
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
        for (room, lessons) in [(Room::Page, 9), (Room::Phone, 6)] {
            let picture = progress(&weeks, room, "nine weeks");
            // One more in the key.
            assert_eq!(picture.matches("<circle").count(), lessons + 1);
            assert!(picture.contains("Tue 8 Dec"), "{picture}");
            assert_eq!(picture.contains("Tue 13 Oct"), room == Room::Page);
        }
    }

    #[test]
    fn always_and_never_are_only_that() {
        for (count, of, label) in [
            (0, 5, "0"),
            (1, 40, "1"),
            (5, 10, "5"),
            (39, 40, "9"),
            (7, 7, "10"),
        ] {
            assert_eq!(out_of_ten(Share { count, of }), label);
        }
    }
}
