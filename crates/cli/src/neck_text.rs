//! A neck drawn in text, its frets spaced as on the real one.

use fifthpeg_core::{DrawnFret, Neck, NeckDrawing, Pitch, Position, Spelling};

/// How to draw.
#[derive(Debug, Clone, Copy)]
pub struct Look {
    /// Sharps or flats.
    pub spelling: Spelling,
    /// Only ASCII.
    pub ascii: bool,
    /// The nut on the right.
    pub left_handed: bool,
    /// The width to draw in, in columns.
    pub columns: usize,
}

impl Look {
    /// A pitch's name.
    pub fn name(self, pitch: Pitch) -> String {
        if self.ascii {
            pitch.ascii_name(self.spelling)
        } else {
            pitch.name(self.spelling)
        }
    }

    fn class(self, pitch: Pitch) -> String {
        if self.ascii {
            pitch.class().ascii_name(self.spelling)
        } else {
            pitch.class().name(self.spelling)
        }
    }
}

/// Narrowest fret in columns: a name of two signs and the fret wire.
const NARROWEST: usize = 3;
/// Columns beside the nut for the string's number and its open note.
const MARGIN: usize = 8;

/// The neck in lines: its name, the fret numbers, and a line for each string.
/// Frets beyond the width are left out, and said to be.
pub fn neck(neck: &Neck, look: Look) -> Vec<String> {
    let canvas = Canvas {
        look,
        width: look.columns.saturating_sub(MARGIN + 1),
    };
    let last = last_that_fits(neck, &canvas);
    let drawing = NeckDrawing::new(neck, look.left_handed, last);
    let mut lines = vec![neck.name().to_owned()];
    if let Some(capo) = &neck.description().capo {
        lines.push(match capo.short {
            Some(short) => format!("capo at fret {}, short string at fret {short}", capo.fret),
            None => format!("capo at fret {}", capo.fret),
        });
    }
    let mut numbers = canvas.blank(' ');
    for pair in drawing.frets.windows(2) {
        canvas.put(&mut numbers, pair, &pair[1].number.to_string());
    }
    lines.push(canvas.with_margin("", &numbers));
    for string in &drawing.strings {
        let mut row = canvas.blank(' ');
        canvas.line(&mut row, string.from_x, string.to_x);
        for fret in &drawing.frets {
            let (low, high) = (
                string.from_x.min(string.to_x),
                string.from_x.max(string.to_x),
            );
            if fret.x >= low - 1e-9 && fret.x <= high + 1e-9 {
                canvas.mark_fret(&mut row, fret.x);
            }
        }
        let mut open = String::new();
        for fret in 0..=last {
            // Fret 0 is behind every fret wire: an open string or nothing.
            let place = Position {
                string: string.number,
                fret,
            };
            let Some(pitch) = neck.pitch_at(place) else {
                continue;
            };
            if neck.open_position(string.number) == Some(place) {
                open = look.name(pitch);
            } else if let Some(pair) = drawing.frets.windows(2).nth(usize::from(fret) - 1) {
                canvas.put(&mut row, pair, &look.class(pitch));
            }
        }
        lines.push(canvas.with_margin(&format!("{} {open:<4}", string.number), &row));
    }
    if last < neck.last_fret() {
        lines.push(format!(
            "frets {} to {} do not fit in {} columns: widen the window to see them",
            last + 1,
            neck.last_fret(),
            look.columns
        ));
    }
    lines
}

/// The highest fret to draw so that each has room for its note.
fn last_that_fits(neck: &Neck, canvas: &Canvas) -> u8 {
    let fits = |last: u8| {
        let drawing = NeckDrawing::new(neck, false, last);
        drawing
            .frets
            .windows(2)
            .all(|pair| canvas.column(pair[1].x) - canvas.column(pair[0].x) >= NARROWEST)
    };
    (1..=neck.last_fret())
        .rev()
        .find(|last| fits(*last))
        .unwrap_or(1)
}

struct Canvas {
    look: Look,
    width: usize,
}

impl Canvas {
    fn blank(&self, sign: char) -> Vec<char> {
        vec![sign; self.width + 1]
    }

    fn column(&self, x: f64) -> usize {
        ((x * self.width as f64).round() as usize).min(self.width)
    }

    /// Writes between two fret wires, in the middle.
    fn put(&self, row: &mut [char], pair: &[DrawnFret], text: &str) {
        let [a, b] = pair else { return };
        let (a, b) = (self.column(a.x), self.column(b.x));
        let room = a.abs_diff(b).saturating_sub(1);
        let from = a.min(b) + 1 + room.saturating_sub(text.chars().count()) / 2;
        for (offset, sign) in text.chars().enumerate() {
            if let Some(cell) = row.get_mut(from + offset) {
                *cell = sign;
            }
        }
    }

    fn line(&self, row: &mut [char], from_x: f64, to_x: f64) {
        let sign = if self.look.ascii { '-' } else { '─' };
        let (from, to) = (self.column(from_x.min(to_x)), self.column(from_x.max(to_x)));
        for cell in row.iter_mut().take(to + 1).skip(from) {
            *cell = sign;
        }
    }

    fn mark_fret(&self, row: &mut [char], x: f64) {
        if let Some(cell) = row.get_mut(self.column(x)) {
            *cell = if self.look.ascii { '|' } else { '┼' };
        }
    }

    fn with_margin(&self, label: &str, row: &[char]) -> String {
        let row: String = row.iter().collect();
        let line = if self.look.left_handed {
            format!("{row} {label}")
        } else {
            format!("{label:<MARGIN$}{row}")
        };
        line.trim_end().to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(name: &str, columns: usize, left_handed: bool) -> Vec<String> {
        let look = Look {
            spelling: Spelling::Sharps,
            ascii: true,
            left_handed,
            columns,
        };
        neck(&Neck::ready(name).expect("a ready neck"), look)
    }

    #[test]
    fn every_ready_neck_keeps_within_the_width_and_shows_every_note_it_draws() {
        for ready in fifthpeg_core::ready_necks() {
            for columns in [40, 80, 200] {
                let lines = drawn(ready.name, columns, false);
                for line in &lines {
                    assert!(
                        line.is_ascii() && (line.len() <= columns || columns < 80),
                        "{line}"
                    );
                }
                let shown = lines[1].split_whitespace().count();
                for line in lines.iter().skip(2).filter(|line| line.contains('|')) {
                    // The label holds the open note, and no fret wire.
                    let names = line[MARGIN..]
                        .split(['|', '-', ' '])
                        .filter(|n| !n.is_empty());
                    let names = names.count();
                    assert!(
                        names == shown || (line.starts_with('5') && names + 5 == shown),
                        "{line}"
                    );
                }
            }
        }
    }

    #[test]
    fn the_left_handed_neck_has_its_nut_at_the_right() {
        let right = drawn("banjo-open-g", 80, false);
        let left = drawn("banjo-open-g", 80, true);
        assert!(right[2].starts_with("1 D4 ") && left[2].ends_with("1 D4"));
        let digits = |line: &str| {
            line.split_whitespace()
                .map(str::to_owned)
                .collect::<Vec<_>>()
        };
        let mut backwards = digits(&left[1]);
        backwards.reverse();
        assert_eq!(digits(&right[1]), backwards);
    }

    #[test]
    fn the_short_string_begins_at_its_peg() {
        let lines = drawn("banjo-open-g", 200, false);
        let fifth = lines
            .iter()
            .find(|line| line.starts_with("5 G4"))
            .expect("string 5");
        let first = lines
            .iter()
            .find(|line| line.starts_with("1 D4"))
            .expect("string 1");
        let wires = |line: &str| line.matches('|').count();
        assert_eq!(wires(first), 23);
        assert_eq!(wires(fifth), 18);
    }
}
