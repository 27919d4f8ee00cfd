//! Draws a neck into the cells of a screen.

use fifthpeg_core::{Neck, Position, Spelling};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::grid::NeckGrid;
use super::signs::PlaceSign;
use crate::theme::{Theme, Tint};

/// A neck with what is marked on it.
#[derive(Debug)]
pub struct NeckPicture<'a> {
    /// The neck.
    pub neck: &'a Neck,
    /// Places of the reach; their strings are drawn heavy.
    pub reach: &'a [Position],
    /// Marks, later ones over earlier ones.
    pub marks: &'a [(Position, PlaceSign)],
    /// The place between the brackets.
    pub cursor: Option<Position>,
    /// It is chosen; else its brackets are faint.
    pub chosen: bool,
    /// The last fret to draw, where the neck has it.
    pub last_fret: u8,
    /// Label strings with the name of their open note, written this way.
    pub names: Option<Spelling>,
    /// Nut on the right.
    pub left_handed: bool,
    /// Styles and signs.
    pub theme: Theme,
}

impl NeckPicture<'_> {
    /// Where the neck falls in an area, for drawing and for the mouse.
    pub fn grid(&self, area: Rect) -> Option<NeckGrid> {
        let widest = (1..=self.neck.string_count()).map(|n| self.label(n).chars().count());
        let columns = u16::try_from(widest.max().unwrap_or(0)).ok()?;
        NeckGrid::new(self.neck, area, columns, self.left_handed, self.last_fret)
    }

    /// Draws it; a sentence where it does not fit.
    pub fn draw(&self, area: Rect, buf: &mut Buffer) -> Option<NeckGrid> {
        let Some(grid) = self.grid(area) else {
            buf.set_stringn(
                area.x,
                area.y,
                "The neck does not fit here: make the window larger.",
                usize::from(area.width),
                self.theme.style(Tint::Caution),
            );
            return None;
        };
        for number in 1..=self.neck.string_count() {
            self.draw_string(&grid, number, buf);
            self.draw_between(&grid, number, buf);
        }
        self.draw_ruler(&grid, buf);
        for (place, sign) in self.marks {
            if let Some(at) = grid.place(*place) {
                self.draw_name(&grid, *place, at, buf);
                put(
                    buf,
                    at,
                    sign.sign(self.theme.signs()),
                    sign.style(self.theme),
                );
            }
        }
        if let Some((x, y)) = self.cursor.and_then(|place| grid.place(place)) {
            let style = self.theme.style(match self.chosen {
                true => Tint::Cursor,
                false => Tint::Faint,
            });
            put(buf, (x.saturating_sub(1), y), "[", style);
            put(buf, (x + 1, y), "]", style);
            if let Some(cell) = buf.cell_mut((x, y)) {
                cell.fg = ratatui::style::Color::Reset;
                cell.set_style(style);
            }
        }
        Some(grid)
    }

    /// The name of a marked place's note beside its sign, where names are shown and
    /// there is room.
    fn draw_name(&self, grid: &NeckGrid, place: Position, (x, y): (u16, u16), buf: &mut Buffer) {
        let named = self.names.zip(self.neck.pitch_at(place));
        let Some((spelling, pitch)) = named.filter(|_| self.cursor != Some(place)) else {
            return;
        };
        let name = match self.theme.is_ascii() {
            true => pitch.class().ascii_name(spelling),
            false => pitch.class().name(spelling),
        };
        let (_, last) = grid.cell_columns(place.fret);
        let open = grid.strings().iter().any(|string| string.open == place);
        let room = usize::from((last + 1).saturating_sub(x + 1));
        if !open && name.chars().count() <= room {
            buf.set_string(x + 1, y, name, self.theme.style(Tint::Plain));
        }
    }

    fn label(&self, string: u8) -> String {
        let wide = if self.neck.string_count() > 9 { 2 } else { 1 };
        let open = self.neck.open_position(string);
        let name = self
            .names
            .zip(open.and_then(|open| self.neck.pitch_at(open)));
        match name {
            Some((spelling, pitch)) if self.theme.is_ascii() => {
                format!("{string:>wide$} {}", pitch.ascii_name(spelling))
            }
            Some((spelling, pitch)) => format!("{string:>wide$} {}", pitch.name(spelling)),
            None => format!("{string:>wide$}"),
        }
    }

    fn draw_string(&self, grid: &NeckGrid, number: u8, buf: &mut Buffer) {
        let signs = self.theme.signs();
        let row = grid.row(number);
        let (x, columns) = grid.label();
        let faint = self.theme.style(Tint::Faint);
        let plain = self.theme.style(Tint::Plain);
        buf.set_stringn(x, row, self.label(number), usize::from(columns), plain);
        let Some(string) = grid.strings().get(usize::from(number - 1)) else {
            return;
        };
        for fret in string.start + 1..=string.last {
            let place = Position {
                string: number,
                fret,
            };
            let (sign, style) = if self.reach.contains(&place) {
                (signs.string_inside, plain)
            } else {
                (signs.string_outside, faint)
            };
            let (from, to) = grid.cell_columns(fret);
            for x in from..=to {
                put(buf, (x, row), sign, style);
            }
            put(buf, (grid.wire(fret), row), signs.wire, faint);
        }
        put(buf, (grid.wire(string.start), row), signs.nut, plain);
        // An open place in the reach shows as a stub of string before its nut.
        if self.reach.contains(&string.open)
            && let Some(at) = grid.place(string.open)
        {
            put(buf, at, signs.string_inside, plain);
        }
    }

    /// Wires, nut and inlays in the rows between a string and the next.
    fn draw_between(&self, grid: &NeckGrid, number: u8, buf: &mut Buffer) {
        let signs = self.theme.signs();
        let faint = self.theme.style(Tint::Faint);
        let above = grid.strings().get(usize::from(number - 1));
        let Some((above, below)) = above.zip(grid.strings().get(usize::from(number))) else {
            return;
        };
        let start = above.start.max(below.start);
        for row in grid.row(number) + 1..grid.row(number + 1) {
            if above.start == below.start {
                let nut = (grid.wire(start), row);
                put(buf, nut, signs.nut, self.theme.style(Tint::Plain));
            }
            for fret in start + 1..=above.last.min(below.last) {
                put(buf, (grid.wire(fret), row), signs.wire_between, faint);
            }
        }
        if grid.string_rows() < 2 {
            return;
        }
        let row = grid.row(number) + grid.string_rows() / 2;
        for (fret, gap) in grid.inlays().iter().filter(|(fret, _)| *fret > start) {
            if *gap == number {
                let (from, to) = grid.cell_columns(*fret);
                put(buf, (u16::midpoint(from, to), row), signs.inlay, faint);
            }
        }
    }

    /// Fret numbers: all of them where they fit, else those with an inlay.
    fn draw_ruler(&self, grid: &NeckGrid, buf: &mut Buffer) {
        let row = grid.ruler_row();
        let digits = |fret: u8| if fret > 9 { 2 } else { 1 };
        let all = (1..=grid.last_fret()).all(|fret| grid.fret_columns(fret) > digits(fret));
        for fret in 1..=grid.last_fret() {
            let inlay = grid.inlays().iter().any(|(at, _)| *at == fret);
            if !all && !inlay {
                continue;
            }
            let (from, to) = grid.cell_columns(fret);
            let tint = if inlay { Tint::Plain } else { Tint::Faint };
            let text = fret.to_string();
            buf.set_string(u16::midpoint(from, to), row, text, self.theme.style(tint));
        }
    }
}

fn put(buf: &mut Buffer, at: (u16, u16), sign: &str, style: Style) {
    if let Some(cell) = buf.cell_mut(at) {
        cell.reset();
        cell.set_symbol(sign).set_style(style);
    }
}
