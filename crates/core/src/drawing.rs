//! A neck as it is drawn, the same on every screen, page and report.
//!
//! The neck lies as in tablature: string 1 at the top, the nut at the left, or
//! at the right for a left-handed player. `x` runs from 0 to 1 across the
//! drawn width and `y` from 0 to 1 down the drawn height; frets are spaced
//! true to scale.

use crate::frets::fret_ratio;
use crate::{Neck, Pitch, Position};

/// A fret wire, or the nut (number 0).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DrawnFret {
    /// Counted from the nut, which is 0.
    pub number: u8,
    /// Where it lies across the width, 0 to 1.
    pub x: f64,
}

/// A string or course.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DrawnString {
    /// The string's number, from 1.
    pub number: u8,
    /// Where it lies down the height, 0 to 1.
    pub y: f64,
    /// Its nut or peg, 0 to 1.
    pub from_x: f64,
    /// Its end at the body, or the edge of the drawing, 0 to 1.
    pub to_x: f64,
}

/// A dot in the fingerboard, for finding one's way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DrawnDot {
    /// The fret it lies before.
    pub fret: u8,
    /// Across the width, 0 to 1.
    pub x: f64,
    /// Down the height, 0 to 1.
    pub y: f64,
}

/// A capo across some strings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DrawnCapo {
    /// The fret it stops.
    pub fret: u8,
    /// Across the width, 0 to 1: between its fret and the one before.
    pub x: f64,
    /// The uppermost string it stops, down the height, 0 to 1.
    pub from_y: f64,
    /// The lowermost one.
    pub to_y: f64,
}

/// A neck ready to draw.
#[derive(Debug, Clone, PartialEq)]
pub struct NeckDrawing {
    /// The nut and every fret shown, in rising number.
    pub frets: Vec<DrawnFret>,
    /// Every string, string 1 first.
    pub strings: Vec<DrawnString>,
    /// Dots in the fingerboard.
    pub dots: Vec<DrawnDot>,
    /// The capo on the full-length strings.
    pub capo: Option<DrawnCapo>,
    /// The short strings' own capo.
    pub short_capo: Option<DrawnCapo>,
    left_handed: bool,
    neck: Neck,
}

/// How much of a fret space next to the nut or peg counts as the open string
/// for a pointer.
const OPEN_MARGIN: f64 = 0.2;

impl NeckDrawing {
    /// Draws a neck from the nut to `last_fret`, which is brought within 1 and
    /// the neck's last fret. A string that would begin at or past the edge is
    /// drawn with no length.
    pub fn new(neck: &Neck, left_handed: bool, last_fret: u8) -> NeckDrawing {
        let last_fret = last_fret.clamp(1, neck.last_fret().max(1));
        let mut drawing = NeckDrawing {
            frets: Vec::new(),
            strings: Vec::new(),
            dots: Vec::new(),
            capo: None,
            short_capo: None,
            left_handed,
            neck: neck.clone(),
        };
        let width = fret_ratio(last_fret);
        drawing.frets = (0..=last_fret)
            .map(|number| DrawnFret {
                number,
                x: drawing.handed(fret_ratio(number) / width),
            })
            .collect();
        let steps = f64::from(neck.string_count().saturating_sub(1));
        drawing.strings = neck
            .numbered_strings()
            .map(|(number, string)| DrawnString {
                number,
                y: if steps > 0.0 {
                    f64::from(number - 1) / steps
                } else {
                    0.5
                },
                from_x: drawing.fret_x(string.first_fret),
                to_x: drawing.fret_x(string.last_fret),
            })
            .collect();
        drawing.dots = drawing.lay_dots();
        if let Some(capo) = neck.capo() {
            drawing.capo = drawing.lay_capo(capo.fret, |first_fret| first_fret == 0);
            drawing.short_capo =
                drawing.lay_capo(capo.short.unwrap_or(0), |first_fret| first_fret > 0);
        }
        drawing
    }

    /// The last fret drawn.
    pub fn last_fret(&self) -> u8 {
        self.frets.last().map_or(0, |fret| fret.number)
    }

    /// Whether the nut is at the right.
    pub fn left_handed(&self) -> bool {
        self.left_handed
    }

    fn handed(&self, x: f64) -> f64 {
        if self.left_handed { 1.0 - x } else { x }
    }

    /// Where a fret lies; the edge for those that are not shown.
    fn fret_x(&self, fret: u8) -> f64 {
        let shown = self.frets.get(usize::from(fret)).or(self.frets.last());
        shown.map_or(0.0, |fret| fret.x)
    }

    /// Where a finger goes to stop a fret: halfway from the fret before.
    fn finger_x(&self, fret: u8) -> f64 {
        f64::midpoint(self.fret_x(fret.saturating_sub(1)), self.fret_x(fret))
    }

    /// Where the finger goes for a place, as (x, y): halfway between its fret
    /// and the one before. An open string is at its nut, peg or capo. `None`
    /// for a place that is not on the neck, or not shown.
    pub fn at(&self, position: Position) -> Option<(f64, f64)> {
        self.neck.pitch_at(position)?;
        let string = self.string(position.string)?;
        let from = self.neck.string(position.string)?.first_fret;
        if position.fret > self.last_fret() || from >= self.last_fret() {
            return None;
        }
        let x = if position.fret == 0 {
            string.from_x
        } else {
            self.finger_x(position.fret)
        };
        Some((x, string.y))
    }

    fn string(&self, number: u8) -> Option<DrawnString> {
        self.strings
            .iter()
            .find(|string| string.number == number)
            .copied()
    }

    /// The place a pointer at (`x`, `y`) means: the nearest string, and the
    /// fret space it is in, or the open string at or before the nut, peg or
    /// capo and a little past it. `None` where that string cannot be played:
    /// more than one fret space before a short string's peg, or past its last
    /// fret. Points outside 0 to 1 count as at the edge.
    pub fn nearest(&self, x: f64, y: f64) -> Option<Position> {
        if x.is_nan() || y.is_nan() {
            return None;
        }
        let away = |string: &&DrawnString| (string.y - y).abs();
        let number = self
            .strings
            .iter()
            .min_by(|a, b| away(a).total_cmp(&away(b)))?
            .number;
        let open = self.neck.open_position(number)?;
        let first_fret = self.neck.string(number)?.first_fret;
        let fret = self.fret_space(x);
        // The fret that the open string sounds from.
        let start = if open.fret > 0 { open.fret } else { first_fret };
        let position = Position {
            string: number,
            fret,
        };
        let meant = if fret > start && !self.beside(x, start) {
            position
        } else if start == 0 || fret >= start || (open.fret > 0 && first_fret == 0) {
            open
        } else {
            return None;
        };
        self.at(meant).map(|_| meant)
    }

    /// The fret whose space holds `x`: 0 at the nut, 1 up to the first fret.
    fn fret_space(&self, x: f64) -> u8 {
        let along = |x: f64| self.handed(x);
        let x = along(x.clamp(0.0, 1.0));
        let reached = self.frets.iter().find(|fret| along(fret.x) >= x);
        reached.map_or(self.last_fret(), |fret| fret.number)
    }

    /// Whether `x` lies before a fret's wire, or only just past it.
    fn beside(&self, x: f64, fret: u8) -> bool {
        let wire = self.handed(self.fret_x(fret));
        let space = self.handed(self.fret_x(fret.saturating_add(1))) - wire;
        self.handed(x) - wire <= OPEN_MARGIN * space
    }

    fn lay_dots(&self) -> Vec<DrawnDot> {
        // Guitars and basses carry a dot at 9, banjos, mandolins and ukuleles
        // at 10 (common practice, no source); the lower necks are the former.
        let low = Pitch::known(45);
        let third = if self.neck.lowest() < low { 9 } else { 10 };
        let mut dots = Vec::new();
        for fret in 1..=self.last_fret() {
            let ys: &[f64] = match fret % 12 {
                0 => &[0.25, 0.75],
                3 | 5 | 7 => &[0.5],
                other if other == third => &[0.5],
                _ => continue,
            };
            dots.extend(ys.iter().map(|y| DrawnDot {
                fret,
                x: self.finger_x(fret),
                y: *y,
            }));
        }
        dots
    }

    fn lay_capo(&self, fret: u8, stops: impl Fn(u8) -> bool) -> Option<DrawnCapo> {
        if fret == 0 || fret > self.last_fret() {
            return None;
        }
        let stopped = self
            .neck
            .numbered_strings()
            .filter(|(_, string)| stops(string.first_fret));
        let ys: Vec<f64> = stopped
            .filter_map(|(number, _)| self.string(number))
            .map(|s| s.y)
            .collect();
        Some(DrawnCapo {
            fret,
            x: self.finger_x(fret),
            from_y: *ys.first()?,
            to_y: *ys.last()?,
        })
    }
}
