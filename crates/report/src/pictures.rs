//! Pictures of a report as SVG: black, grey and white, with numbers and hatching,
//! so that they print on anything and nothing is told by colour. Each comes with
//! its words as `aria-label`. Each is drawn twice, for a page and for a telephone:
//! one scaled down could not be read.

use fifthpeg_core::NeckDrawing;
use fifthpeg_core::svg::{NeckMark, neck_svg, neck_svg_upright};

use super::figures::Share;
use super::overview::NeckPart;
use super::words::{FEW, ReportStyle};

mod drawing;
mod misses;
mod progress;
mod strip;

pub use drawing::Width;
pub use misses::misses;
pub use progress::progress;
pub use strip::{StripRow, strip};

/// How often each note was found at first, on the neck: in each mark, out of
/// ten; the darker, the less often. A question mark where too few were called.
pub fn neck(part: &NeckPart, manner: &ReportStyle, room: Width, equivalent: &str) -> String {
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
        Width::Page => {
            let wide = (60.0 * frets).clamp(420.0, room.width());
            neck_svg(&drawing, &marks, wide, equivalent)
        }
        Width::Phone => {
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

#[cfg(test)]
mod tests {
    use super::*;

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
