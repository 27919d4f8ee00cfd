//! A neck as SVG (W3C Scalable Vector Graphics 1.1), for pages and reports.
//!
//! Black, white and grey: nothing is told by colour. Everything is in
//! presentation attributes, so that the picture needs no style sheet, and its
//! text equivalent goes with it as `aria-label` (W3C WAI-ARIA 1.2, role `img`).
//!
//! ```
//! use fifthpeg_core::svg::{NeckMark, neck_svg};
//! use fifthpeg_core::{Neck, NeckDrawing};
//!
//! let neck = Neck::ready("banjo-open-g").expect("it comes with the program");
//! let drawing = NeckDrawing::new(&neck, false, 12);
//! let c4 = NeckMark::solid("2/1".parse()?);
//! let picture = neck_svg(&drawing, &[c4], 640.0, "C4 is at string 2, fret 1");
//! assert!(picture.starts_with("<svg") && picture.ends_with("</svg>"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use std::fmt::Write;

use crate::text::steers;
use crate::{DrawnCapo, DrawnString, NeckDrawing, Position};

/// A mark on one place of a drawn neck.
#[derive(Debug, Clone, PartialEq)]
pub struct NeckMark {
    /// Where.
    pub place: Position,
    /// How dark it is filled, from 0 (white) to 1 (black).
    pub shade: f64,
    /// Whether a second ring goes around it.
    pub ring: bool,
    /// What stands in it: one or two letters or digits, or nothing.
    pub label: String,
}

impl NeckMark {
    /// A black mark.
    pub fn solid(place: Position) -> NeckMark {
        NeckMark {
            place,
            shade: 1.0,
            ring: false,
            label: String::new(),
        }
    }

    /// A white mark with a black edge.
    pub fn hollow(place: Position) -> NeckMark {
        NeckMark {
            shade: 0.0,
            ..NeckMark::solid(place)
        }
    }
}

/// Between two strings, in user units.
const STRING_APART: f64 = 17.0;
/// The same at most, where there is room to spare.
const WIDEST_APART: f64 = 44.0;
/// Beside the nut: the strings' numbers, and marks on open strings.
const BESIDE: f64 = 34.0;
/// Beside the last fret.
const END: f64 = 10.0;
const ABOVE: f64 = 12.0;
/// Below the last string: the frets' numbers.
const BELOW: f64 = 26.0;
/// Radius of a mark where the frets leave room for it.
const MARK: f64 = 7.0;

/// Draws a neck with marks, `width` user units wide. `equivalent` says the same
/// in words. Marks that the drawing does not show are left out.
pub fn neck_svg(drawing: &NeckDrawing, marks: &[NeckMark], width: f64, equivalent: &str) -> String {
    let page = Page::new(drawing, width, STRING_APART, None);
    page.svg((width, page.height), marks, equivalent)
}

/// The same with the nut on top, for pages too narrow to lay the neck along:
/// `width` user units wide, and `length` from the nut to the last fret. String 1
/// is at the right, for the left-handed at the left.
pub fn neck_svg_upright(
    drawing: &NeckDrawing,
    marks: &[NeckMark],
    (width, length): (f64, f64),
    equivalent: &str,
) -> String {
    let gaps = drawing.strings.len().saturating_sub(1).max(1) as f64;
    let apart = ((width - ABOVE - BELOW) / gaps).min(WIDEST_APART);
    let page = Page::new(drawing, length + BESIDE + END, apart, Some(width));
    page.svg((width, length + BESIDE + END), marks, equivalent)
}

/// Text as it may stand in HTML and SVG, in attributes too.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for sign in text.chars() {
        match sign {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // No control sign is allowed in XML 1.0 but these three, and none
            // that turns the writing direction belongs on a page of ours.
            sign if steers(sign) && !matches!(sign, '\n' | '\r' | '\t') => out.push('?'),
            sign => out.push(sign),
        }
    }
    out
}

/// Writing to a string cannot fail.
macro_rules! add {
    ($svg:expr, $($what:tt)*) => {{ let _ = write!($svg, $($what)*); }};
}

/// Everything is laid out with the neck lying; [`Page::put`] sets it upright.
struct Page<'a> {
    drawing: &'a NeckDrawing,
    /// Along the neck, with what stands beside it.
    length: f64,
    height: f64,
    from_x: f64,
    across: f64,
    down: f64,
    radius: f64,
    /// The width of the picture where the neck stands upright.
    upright: Option<f64>,
}

impl<'a> Page<'a> {
    fn new(drawing: &'a NeckDrawing, length: f64, apart: f64, upright: Option<f64>) -> Page<'a> {
        let down = apart * drawing.strings.len().saturating_sub(1) as f64;
        let across = (length - BESIDE - END).max(1.0);
        let from_x = if drawing.left_handed() { END } else { BESIDE };
        let closest = drawing
            .frets
            .windows(2)
            .map(|pair| (pair[0].x - pair[1].x).abs() * across)
            .fold(f64::INFINITY, f64::min);
        Page {
            drawing,
            length,
            height: ABOVE + down + BELOW,
            from_x,
            across,
            down,
            radius: MARK.min(closest / 2.0 - 0.8).max(1.5),
            upright,
        }
    }

    fn svg(&self, (width, height): (f64, f64), marks: &[NeckMark], equivalent: &str) -> String {
        let mut svg = format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0} {height:.0}" role="img" aria-label="{}" font-family="sans-serif" font-size="10" text-anchor="middle">"#,
            escaped(equivalent)
        );
        self.board(&mut svg);
        self.strings(&mut svg);
        for capo in [self.drawing.capo, self.drawing.short_capo]
            .into_iter()
            .flatten()
        {
            self.capo(&mut svg, capo);
        }
        for mark in marks {
            self.mark(&mut svg, mark);
        }
        svg.push_str("</svg>");
        svg
    }

    fn x(&self, x: f64) -> f64 {
        self.from_x + x * self.across
    }

    fn y(&self, y: f64) -> f64 {
        ABOVE + y * self.down
    }

    /// Where a point of the lying neck is in the picture.
    fn put(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let Some(width) = self.upright else {
            return (x, y);
        };
        let beside = (width - self.height) / 2.0;
        if self.drawing.left_handed() {
            (beside + y, self.length - x)
        } else {
            (beside + self.height - y, x)
        }
    }

    fn line(&self, svg: &mut String, from: (f64, f64), to: (f64, f64), manner: &str) {
        let ((x1, y1), (x2, y2)) = (self.put(from), self.put(to));
        add!(
            svg,
            r#"<path d="M{x1:.1} {y1:.1}L{x2:.1} {y2:.1}" {manner}/>"#
        );
    }

    /// Words with their middle at a point.
    fn words(&self, svg: &mut String, at: (f64, f64), words: u8) {
        let (x, y) = self.put(at);
        add!(svg, r#"<text x="{x:.1}" y="{:.1}">{words}</text>"#, y + 3.5);
    }

    /// From the nut outwards.
    fn outwards(&self) -> f64 {
        if self.drawing.left_handed() {
            1.0
        } else {
            -1.0
        }
    }

    fn board(&self, svg: &mut String) {
        for dot in &self.drawing.dots {
            let (x, y) = self.put((self.x(dot.x), self.y(dot.y)));
            add!(
                svg,
                r##"<circle cx="{x:.1}" cy="{y:.1}" r="3.5" fill="#ccc"/>"##
            );
        }
        for fret in &self.drawing.frets {
            let over = |string: &&DrawnString| {
                let (low, high) = ordered(string.from_x, string.to_x);
                high - low > 1e-9 && (low - 1e-9..=high + 1e-9).contains(&fret.x)
            };
            let mut crossed = self.drawing.strings.iter().filter(over).map(|s| s.y);
            let Some(first) = crossed.next() else {
                continue;
            };
            let last = crossed.next_back().unwrap_or(first);
            let (x, wide) = (self.x(fret.x), if fret.number == 0 { 4.0 } else { 1.2 });
            self.line(
                svg,
                (x, self.y(first) - 4.0),
                (x, self.y(last) + 4.0),
                &format!(r##"stroke="#000" stroke-width="{wide}""##),
            );
        }
        for pair in self.drawing.frets.windows(2) {
            let x = self.x(f64::midpoint(pair[0].x, pair[1].x));
            self.words(svg, (x, self.height - 8.5), pair[1].number);
        }
    }

    fn strings(&self, svg: &mut String) {
        let outer = if self.drawing.left_handed() {
            self.x(1.0) + BESIDE - 6.0
        } else {
            6.0
        };
        let nut = self.drawing.frets.first().map_or(0.0, |fret| fret.x);
        for string in &self.drawing.strings {
            let (y, from) = (self.y(string.y), self.x(string.from_x));
            let manner = r##"stroke="#555" stroke-width="1""##;
            self.line(svg, (from, y), (self.x(string.to_x), y), manner);
            if (string.from_x - nut).abs() > 1e-9 {
                // A short string's peg.
                let manner = r##"stroke="#000" stroke-width="4""##;
                self.line(svg, (from, y - 4.0), (from, y + 4.0), manner);
            }
            self.words(svg, (outer, y), string.number);
        }
    }

    fn capo(&self, svg: &mut String, capo: DrawnCapo) {
        let x = self.x(capo.x);
        self.line(
            svg,
            (x, self.y(capo.from_y) - 4.0),
            (x, self.y(capo.to_y) + 4.0),
            r##"stroke="#777" stroke-width="6" stroke-linecap="round""##,
        );
    }

    fn mark(&self, svg: &mut String, mark: &NeckMark) {
        let Some((x, y)) = self.drawing.at(mark.place) else {
            return;
        };
        let (mut x, y, r) = (self.x(x), self.y(y), self.radius);
        if mark.place.fret == 0 {
            // Off the nut or peg, where it does not look fretted.
            x += self.outwards() * (r + 4.0);
        }
        let (x, y) = self.put((x, y));
        let shade = if mark.shade.is_finite() {
            mark.shade.clamp(0.0, 1.0)
        } else {
            0.0
        };
        let grey = (255.0 * (1.0 - shade)).round() as u8;
        add!(
            svg,
            r##"<circle cx="{x:.1}" cy="{y:.1}" r="{:.1}" fill="#{grey:02x}{grey:02x}{grey:02x}" stroke="#000" stroke-width="1.6"/>"##,
            r - 0.8
        );
        if mark.ring {
            add!(
                svg,
                r##"<circle cx="{x:.1}" cy="{y:.1}" r="{:.1}" fill="none" stroke="#fff" stroke-width="1.4"/>"##,
                r * 0.55
            );
        }
        if !mark.label.is_empty() {
            let ink = if shade > 0.5 { "#fff" } else { "#000" };
            // Two letters must fit as well.
            let size = if mark.label.chars().count() > 1 {
                7.5
            } else {
                9.0
            };
            add!(
                svg,
                r#"<text x="{x:.1}" y="{:.1}" font-size="{size}" fill="{ink}">{}</text>"#,
                y + 0.36 * size,
                escaped(&mark.label)
            );
        }
    }
}

fn ordered(a: f64, b: f64) -> (f64, f64) {
    (a.min(b), a.max(b))
}
