//! Wrong answers by interval.

use std::fmt::Write;

use fifthpeg_core::interval_name;

use super::drawing::{Width, open, text};
use crate::figures::Misses;
use crate::words;

/// Writing to a string cannot fail.
macro_rules! add {
    ($svg:expr, $($what:tt)*) => {{ let _ = write!($svg, $($what)*); }};
}

/// Wrong answers by interval: too low to the left, too high to the right. On a
/// telephone an interval's name stands above its bars.
pub fn misses(misses: &Misses, room: Width) -> String {
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
