//! A neck drawn in text, its frets spaced as on the real one.

use fifthpeg_core::{DrawnString, Neck, NeckDrawing, Pitch, Position, Spelling};

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

/// Columns beside the nut for the string's number and its open note.
const MARGIN: usize = 8;
/// Columns of the longest name without its octave, and of a fret's number.
const SHORT_NAME: usize = 2;

/// The neck in lines, with the name of every note: its title, a line for each
/// string, and the fret numbers. Where the frets do not fit side by side, the
/// neck goes on below, each part true to scale.
pub fn neck(neck: &Neck, look: Look) -> Vec<String> {
    let mut lines = title(neck);
    lines.extend(picture(neck, None, look));
    lines
}

/// The neck with these places named and no others, from the nut to the part
/// that holds the last of them.
pub fn marked(neck: &Neck, places: &[Position], look: Look) -> Vec<String> {
    let mut lines = title(neck);
    lines.extend(picture(neck, Some(places), look));
    lines
}

fn title(neck: &Neck) -> Vec<String> {
    let mut lines = vec![neck.name().to_owned()];
    lines.extend(capo(neck));
    lines
}

/// Where its capo sits, if there is one.
pub fn capo(neck: &Neck) -> Option<String> {
    let capo = neck.capo()?;
    Some(match capo.short {
        Some(short) => format!("capo at fret {}, short string at fret {short}", capo.fret),
        None => format!("capo at fret {}", capo.fret),
    })
}

fn picture(neck: &Neck, marks: Option<&[Position]>, look: Look) -> Vec<String> {
    let longest = marks.unwrap_or_default().iter();
    let longest = longest
        .filter_map(|place| neck.pitch_at(*place))
        .map(|pitch| look.name(pitch).chars().count())
        .fold(SHORT_NAME, usize::max);
    let drawing = NeckDrawing::new(neck, look.left_handed, neck.last_fret());
    let width = look.columns.saturating_sub(MARGIN + 1);
    let last_marked = marks.map(|places| places.iter().map(|p| p.fret).max().unwrap_or(0));
    let mut lines = Vec::new();
    for part in parts(&drawing, width, longest + 1) {
        if part.from > 0 {
            if last_marked.is_some_and(|last| last <= part.from) {
                break;
            }
            lines.push(String::new());
        }
        let page = Page {
            neck,
            look,
            marks,
            drawing: &drawing,
            part,
        };
        lines.extend(drawing.strings.iter().map(|string| page.string(string)));
        lines.push(page.numbers());
    }
    lines
}

/// A piece of the neck, from one fret wire (or the nut) to another, and where
/// its columns lie.
#[derive(Debug, Clone, Copy)]
struct Part {
    from: u8,
    to: u8,
    low_x: f64,
    high_x: f64,
    width: usize,
}

impl Part {
    fn column(self, x: f64) -> usize {
        let along = (x - self.low_x) / (self.high_x - self.low_x);
        ((along * self.width as f64).round().max(0.0) as usize).min(self.width)
    }
}

/// The neck in as few parts as leave every fret that many columns, the parts
/// with as many frets each as can be.
fn parts(drawing: &NeckDrawing, width: usize, narrowest: usize) -> Vec<Part> {
    let last = usize::from(drawing.last_fret());
    let split = |pieces: usize| -> Vec<Part> {
        let wire = |piece: usize| drawing.frets.get((piece * last).div_ceil(pieces));
        (0..pieces)
            .filter_map(|piece| wire(piece).zip(wire(piece + 1)))
            .map(|(from, to)| Part {
                from: from.number,
                to: to.number,
                low_x: from.x.min(to.x),
                high_x: from.x.max(to.x),
                width,
            })
            .collect()
    };
    let fits = |part: &Part| {
        let frets = &drawing.frets[usize::from(part.from)..=usize::from(part.to)];
        frets
            .windows(2)
            .all(|pair| part.column(pair[0].x).abs_diff(part.column(pair[1].x)) >= narrowest)
    };
    (1..last)
        .map(split)
        .find(|parts| parts.iter().all(fits))
        .unwrap_or_else(|| split(last))
}

/// One part being drawn.
struct Page<'a> {
    neck: &'a Neck,
    look: Look,
    marks: Option<&'a [Position]>,
    drawing: &'a NeckDrawing,
    part: Part,
}

impl Page<'_> {
    fn blank(&self) -> Vec<char> {
        vec![' '; self.part.width + 1]
    }

    fn numbers(&self) -> String {
        let mut row = self.blank();
        for fret in self.part.from + 1..=self.part.to {
            self.put(&mut row, fret, &fret.to_string());
        }
        self.with_margin("", &row)
    }

    fn string(&self, string: &DrawnString) -> String {
        let mut row = self.blank();
        let (low, high) = (
            string.from_x.min(string.to_x).max(self.part.low_x),
            string.from_x.max(string.to_x).min(self.part.high_x),
        );
        let (line, wire) = if self.look.ascii {
            ('-', '|')
        } else {
            ('─', '┼')
        };
        if high - low > 1e-9 {
            let (from, to) = (self.part.column(low), self.part.column(high));
            row[from..=to].fill(line);
            for fret in &self.drawing.frets {
                if fret.x >= low - 1e-9 && fret.x <= high + 1e-9 {
                    row[self.part.column(fret.x)] = wire;
                }
            }
        }
        let mut label = string.number.to_string();
        let open = self.neck.open_position(string.number);
        for fret in self.part.from + 1..=self.part.to {
            let place = Position {
                string: string.number,
                fret,
            };
            if open != Some(place)
                && let Some(name) = self.name(place)
            {
                self.put(&mut row, fret, &name);
            }
        }
        let begins = self.neck.string(string.number).map_or(0, |s| s.first_fret);
        if (self.part.from..self.part.to).contains(&begins)
            && let Some(name) = open.and_then(|place| self.open_name(place))
            && !self.put_at_peg(&mut row, self.part.column(string.from_x), &name)
        {
            label = format!("{label} {name}");
        }
        self.with_margin(&label, &row)
    }

    fn is_named(&self, place: Position) -> bool {
        self.marks.is_none_or(|marks| marks.contains(&place))
    }

    /// What to write on a place. Where every place is named, the octave would
    /// only fill the neck.
    fn name(&self, place: Position) -> Option<String> {
        let pitch = self.neck.pitch_at(place)?;
        self.is_named(place).then(|| match self.marks {
            Some(_) => self.look.name(pitch),
            None => self.look.class(pitch),
        })
    }

    fn open_name(&self, place: Position) -> Option<String> {
        let pitch = self.neck.pitch_at(place)?;
        self.is_named(place).then(|| self.look.name(pitch))
    }

    /// Writes between a fret's wire and the one before, in the middle.
    fn put(&self, row: &mut [char], fret: u8, text: &str) {
        let wire = |number: u8| {
            let fret = self.drawing.frets.get(usize::from(number));
            fret.map_or(0, |fret| self.part.column(fret.x))
        };
        let (a, b) = (wire(fret.saturating_sub(1)), wire(fret));
        let room = a.abs_diff(b).saturating_sub(1);
        let from = a.min(b) + 1 + room.saturating_sub(text.chars().count()) / 2;
        write(row, from, text);
    }

    /// Writes an open note behind a short string's peg; `false` where there is
    /// no room, as at the nut.
    fn put_at_peg(&self, row: &mut [char], peg: usize, name: &str) -> bool {
        let room = name.chars().count() + 1;
        if self.look.left_handed {
            let fits = peg + room < row.len();
            if fits {
                write(row, peg + 2, name);
            }
            fits
        } else {
            let from = peg.checked_sub(room);
            if let Some(from) = from {
                write(row, from, name);
            }
            from.is_some()
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

fn write(row: &mut [char], from: usize, text: &str) {
    for (cell, sign) in row.iter_mut().skip(from).zip(text.chars()) {
        *cell = sign;
    }
}

#[cfg(test)]
mod tests;
