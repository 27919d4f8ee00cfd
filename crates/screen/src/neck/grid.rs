//! Where a neck falls on the cells of a screen.
//!
//! Frets are true to scale wherever there is room. A narrow screen gives the
//! high frets the two columns they need (one for the place, one for the wire)
//! and takes them from the low ones.

use fifthpeg_core::{Neck, NeckDrawing, Position};
use ratatui::layout::Rect;

/// Columns a fret needs at least: its place and its wire.
const MIN_FRET_COLUMNS: f64 = 2.0;
/// Columns for open places: room for the cursor's two brackets.
const OPEN_COLUMNS: u16 = 3;
/// Rows between two strings at most.
const MAX_STRING_ROWS: u16 = 4;

/// How a neck falls on a grid of cells.
#[derive(Debug, Clone, PartialEq)]
pub struct NeckGrid {
    area: Rect,
    label_columns: u16,
    left_handed: bool,
    /// Column of each fret wire from the left edge, right-handed; `[0]` is the
    /// nut.
    wires: Vec<u16>,
    strings: Vec<GridString>,
    string_rows: u16,
    inlays: Vec<(u8, u8)>,
}

/// One string on the grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GridString {
    /// The fret where it begins: nut, peg or capo.
    pub start: u8,
    /// Its open place.
    pub open: Position,
    /// The last fret drawn.
    pub last: u8,
}

impl NeckGrid {
    /// Rows that a neck of so many strings takes with `spacing` rows for each.
    pub fn height(strings: u8, spacing: u16) -> u16 {
        u16::from(strings.saturating_sub(1)) * spacing + 2
    }

    /// Lays a neck out to `last_fret` in an area; `label_columns` are left for labels
    /// before the nut. `None` if there is no room for even one fret.
    pub fn new(
        neck: &Neck,
        area: Rect,
        label_columns: u16,
        left_handed: bool,
        last_fret: u8,
    ) -> Option<Self> {
        let count = neck.string_count();
        let free = area
            .width
            .checked_sub(label_columns + OPEN_COLUMNS + 1)
            .filter(|free| *free >= 2)?;
        if area.height < Self::height(count, 1) || count == 0 {
            return None;
        }
        let shown = neck
            .last_fret()
            .min(last_fret)
            .min(u8::try_from(free / 2).unwrap_or(u8::MAX));
        let drawing = NeckDrawing::new(neck, false, shown);
        let nut = label_columns + OPEN_COLUMNS;
        let wires = wire_columns(&fret_widths(&drawing, shown), nut, free);
        let strings = (1..=count)
            .filter_map(|number| {
                let string = neck.string(number)?;
                let open = neck.open_position(number)?;
                Some(GridString {
                    start: open.fret.max(string.first_fret),
                    open,
                    last: string.last_fret.min(shown),
                })
            })
            .collect::<Vec<_>>();
        let gaps = u16::from(count - 1).max(1);
        let string_rows = ((area.height - 2) / gaps).clamp(1, MAX_STRING_ROWS);
        let inlays = drawing.dots.iter().map(|dot| {
            // Away from the middle, so that a pair lies evenly about it.
            let down = dot.y * f64::from(gaps);
            let gap = if dot.y < 0.5 {
                down.ceil()
            } else {
                down.floor() + 1.0
            };
            // At most 255 strings, so the gap fits.
            (dot.fret, (gap as u8).clamp(1, count.max(2) - 1))
        });
        let inlays = inlays.collect();
        Some(Self {
            area,
            label_columns,
            left_handed,
            wires,
            strings,
            string_rows,
            inlays,
        })
    }

    /// The strings, string 1 first.
    pub fn strings(&self) -> &[GridString] {
        &self.strings
    }

    /// Rows from one string to the next.
    pub fn string_rows(&self) -> u16 {
        self.string_rows
    }

    /// Inlays: the fret, and the string above the inlay.
    pub fn inlays(&self) -> &[(u8, u8)] {
        &self.inlays
    }

    /// The last fret drawn.
    pub fn last_fret(&self) -> u8 {
        u8::try_from(self.wires.len() - 1).unwrap_or(u8::MAX)
    }

    /// Columns from one wire to the next, before this fret.
    pub fn fret_columns(&self, fret: u8) -> u16 {
        match fret {
            0 => OPEN_COLUMNS,
            _ => self.wires[usize::from(fret)] - self.wires[usize::from(fret) - 1],
        }
    }

    /// The screen row of a string, counted from 1.
    pub fn row(&self, string: u8) -> u16 {
        self.area.y + u16::from(string.saturating_sub(1)) * self.string_rows
    }

    /// The row below the strings, for fret numbers.
    pub fn ruler_row(&self) -> u16 {
        self.row(u8::try_from(self.strings.len()).unwrap_or(u8::MAX)) + 1
    }

    /// The screen column of a fret's wire (0 is the nut).
    pub fn wire(&self, fret: u8) -> u16 {
        self.on_screen(self.wires[usize::from(fret)])
    }

    /// The screen columns that a fret's place may use, wire left out, from left
    /// to right.
    pub fn cell_columns(&self, fret: u8) -> (u16, u16) {
        let (from, to) = self.cell(fret);
        let (a, b) = (self.on_screen(from), self.on_screen(to));
        (a.min(b), a.max(b))
    }

    /// The columns of the labels: where they start and how many there are.
    pub fn label(&self) -> (u16, u16) {
        let start = if self.left_handed {
            self.area.right().saturating_sub(self.label_columns)
        } else {
            self.area.x
        };
        (start, self.label_columns)
    }

    /// The cell where the finger of a place goes; an open place lies just
    /// before its nut or peg. `None` if it is not on this drawing.
    pub fn place(&self, place: Position) -> Option<(u16, u16)> {
        let string = self.string(place.string)?;
        let column = if place == string.open {
            self.open_column(string)
        } else if place.fret > string.start && place.fret <= string.last {
            let (from, to) = self.cell(place.fret);
            u16::midpoint(from, to)
        } else {
            return None;
        };
        Some((self.on_screen(column), self.row(place.string)))
    }

    /// The place under a cell, for the mouse.
    pub fn place_at(&self, x: u16, y: u16) -> Option<Position> {
        let below = y.checked_sub(self.area.y)?;
        let number = (below + self.string_rows / 2) / self.string_rows + 1;
        let number = u8::try_from(number).ok()?;
        let string = self.string(number)?;
        let column = self.column_of(x)?;
        let open = self.open_column(string);
        if column.abs_diff(open) <= 1 && column <= self.wires[usize::from(string.start)] {
            return Some(string.open);
        }
        let after = |fret: u8| self.wires[usize::from(fret)];
        (string.start + 1..=string.last)
            .find(|fret| column > after(fret - 1) && column <= after(*fret))
            .map(|fret| Position {
                string: number,
                fret,
            })
    }

    fn string(&self, number: u8) -> Option<&GridString> {
        self.strings.get(usize::from(number.checked_sub(1)?))
    }

    fn open_column(&self, string: &GridString) -> u16 {
        let before = if string.start == 0 { 2 } else { 1 };
        self.wires[usize::from(string.start)] - before
    }

    /// First and last column of a fret's place, right-handed.
    fn cell(&self, fret: u8) -> (u16, u16) {
        let wire = self.wires[usize::from(fret)];
        (wire + 1 - self.fret_columns(fret), wire - 1)
    }

    fn on_screen(&self, column: u16) -> u16 {
        if self.left_handed {
            self.area.right() - 1 - column
        } else {
            self.area.x + column
        }
    }

    fn column_of(&self, x: u16) -> Option<u16> {
        if x < self.area.x || x >= self.area.right() {
            None
        } else if self.left_handed {
            Some(self.area.right() - 1 - x)
        } else {
            Some(x - self.area.x)
        }
    }
}

/// The true width of each fret from 1 on, as a share of the neck drawn.
fn fret_widths(drawing: &NeckDrawing, shown: u8) -> Vec<f64> {
    let at = |fret: u8| {
        let found = drawing.frets.iter().find(|drawn| drawn.number == fret);
        found.map_or(0.0, |drawn| drawn.x)
    };
    (1..=shown).map(|fret| at(fret) - at(fret - 1)).collect()
}

/// Columns of the wires: true to scale, but never under the least width.
fn wire_columns(widths: &[f64], nut: u16, free: u16) -> Vec<u16> {
    let free = f64::from(free);
    let filled = |scale: f64| {
        let columns = widths.iter().map(|w| (w * scale).max(MIN_FRET_COLUMNS));
        columns.sum::<f64>()
    };
    // The sum grows with the scale, so halving the interval finds it.
    let (mut low, mut high) = (
        0.0,
        free / widths.iter().sum::<f64>().max(f64::MIN_POSITIVE),
    );
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if filled(middle) > free {
            high = middle;
        } else {
            low = middle;
        }
    }
    let mut along = f64::from(nut);
    let mut columns = vec![nut];
    for width in widths {
        along += (width * low).max(MIN_FRET_COLUMNS);
        // Within 0..=u16::MAX: at most `nut + free` columns.
        columns.push(along.round() as u16);
    }
    columns
}
