//! Where the parts of the host's screen lie.

use ratatui::layout::Rect;

use super::layers::Pane;
use crate::neck::NeckGrid;

/// From this width on, roster and answers stand side by side.
pub const WIDE_COLUMNS: u16 = 140;
/// Rows of the roster below which the head is shortened.
const LEAST_LIST_ROWS: u16 = 4;

/// The parts of the host's screen. A part of no height is left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HostAreas {
    /// Name and numbers, how to join, who gets in, the rules.
    pub head: Rect,
    /// Heading of the neck.
    pub neck_rule: Rect,
    /// What is called now.
    pub call: Rect,
    /// The neck.
    pub neck: Rect,
    /// The microphone, where there is one.
    pub ear: Rect,
    /// The roster with its heading, if shown.
    pub students: Option<Rect>,
    /// The answers with their heading, if shown.
    pub answers: Option<Rect>,
    /// The message.
    pub message: Rect,
    /// The keys.
    pub foot: Rect,
}

/// What the screen has to make room for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shape {
    /// Strings of the neck.
    pub strings: u8,
    /// A microphone was asked for.
    pub ear: bool,
    /// It is shown who gets in.
    pub door: bool,
    /// Which list is shown where there is room for one.
    pub pane: Pane,
}

/// Lays the screen out.
pub fn areas(shape: Shape, screen: Rect) -> HostAreas {
    let neck_rows = neck_rows(shape.strings, screen.height * 2 / 5);
    let ear_rows = u16::from(shape.ear);
    let fixed = neck_rows + ear_rows + 3;
    let door_rows = u16::from(shape.door);
    let roomy = screen.height >= fixed + door_rows + 5 + LEAST_LIST_ROWS + 2;
    let head_rows = if roomy { 4 } else { 2 } + door_rows;
    let rule_rows = u16::from(roomy);
    let mut y = screen.y;
    let mut rows = |height: u16| {
        let rect = Rect::new(screen.x, y, screen.width, height);
        y += height;
        rect
    };
    let head = rows(head_rows);
    let neck_rule = rows(rule_rows);
    let call = rows(1);
    let neck = rows(neck_rows);
    let ear = rows(ear_rows);
    let list = rows((screen.height).saturating_sub(head_rows + rule_rows + fixed));
    let message = rows(1);
    let foot = rows(1);
    let (students, answers) = if screen.width >= WIDE_COLUMNS {
        let left = screen.width / 2 + 4;
        (
            Some(Rect {
                width: left - 2,
                ..list
            }),
            Some(Rect {
                x: list.x + left,
                width: screen.width - left,
                ..list
            }),
        )
    } else if shape.pane == Pane::Answers {
        (None, Some(list))
    } else {
        (Some(list), None)
    };
    HostAreas {
        head,
        neck_rule,
        call,
        neck,
        ear,
        students,
        answers,
        message,
        foot,
    }
}

/// Rows for a neck: as many as the strings can use of this room, and one for each
/// at the least.
pub fn neck_rows(strings: u8, room: u16) -> u16 {
    let least = NeckGrid::height(strings, 1);
    (1..=4)
        .rev()
        .map(|spacing| NeckGrid::height(strings, spacing))
        .find(|height| *height <= room)
        .unwrap_or(least)
}
