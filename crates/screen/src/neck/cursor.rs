//! A cursor that goes from place to place on a neck.

use fifthpeg_core::{Neck, Position};

/// Which way an arrow key points on the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Towards string 1, which is drawn on top.
    Up,
    /// Towards the highest string number.
    Down,
    /// To the left of the screen.
    Left,
    /// To the right of the screen.
    Right,
    /// To the open string.
    Open,
    /// To the last fret.
    Last,
}

/// A cursor on a neck; it always lies on a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NeckCursor {
    place: Position,
    /// The fret to come back to after a string that has no such fret.
    wanted: u8,
}

impl NeckCursor {
    /// On the open string 1, or the nearest string that has a place.
    pub fn new(neck: &Neck) -> Option<Self> {
        let place = (1..=neck.string_count()).find_map(|n| neck.open_position(n))?;
        Some(Self {
            place,
            wanted: place.fret,
        })
    }

    /// Where it is.
    pub fn place(self) -> Position {
        self.place
    }

    /// Puts it on a place, if that is on the neck.
    pub fn put(&mut self, neck: &Neck, place: Position) -> bool {
        if neck.pitch_at(place).is_none() {
            return false;
        }
        self.place = place;
        self.wanted = visual_fret(neck, place);
        true
    }

    /// Moves it; at an edge it stays.
    pub fn step(&mut self, neck: &Neck, step: Step, left_handed: bool) {
        match step {
            Step::Up => self.across(neck, self.place.string.saturating_sub(1)),
            Step::Down => self.across(neck, self.place.string + 1),
            Step::Left if !left_handed => self.along(neck, false),
            Step::Right if left_handed => self.along(neck, false),
            Step::Left | Step::Right => self.along(neck, true),
            Step::Open => {
                if let Some(open) = neck.open_position(self.place.string) {
                    self.put(neck, open);
                }
            }
            Step::Last => {
                if let Some(string) = neck.string(self.place.string) {
                    let last = Position {
                        fret: string.last_fret,
                        ..self.place
                    };
                    self.put(neck, last);
                }
            }
        }
    }

    fn across(&mut self, neck: &Neck, string: u8) {
        let place = Position {
            string,
            fret: self.wanted,
        };
        if neck.pitch_at(place).is_some() {
            self.place = place;
        } else if let Some(open) = neck.open_position(string) {
            let last = neck.string(string).map_or(open.fret, |s| s.last_fret);
            let fret = if self.wanted > last { last } else { open.fret };
            self.place = Position { string, fret };
        }
    }

    fn along(&mut self, neck: &Neck, up: bool) {
        let string = self.place.string;
        let fret = self.place.fret;
        let frets: Box<dyn Iterator<Item = u8>> = if up {
            Box::new(fret.saturating_add(1)..=neck.last_fret())
        } else {
            Box::new((0..fret).rev())
        };
        for fret in frets {
            if self.put(neck, Position { string, fret }) {
                return;
            }
        }
    }
}

/// Where a place is seen along the neck: an open short string at its peg.
fn visual_fret(neck: &Neck, place: Position) -> u8 {
    match neck.string(place.string) {
        Some(string) if place.fret == 0 => string.first_fret,
        _ => place.fret,
    }
}
