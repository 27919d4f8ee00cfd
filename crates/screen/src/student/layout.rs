//! Where the parts of the student's screen lie.

use ratatui::layout::Rect;

use super::state::StudentState;
use crate::host::layout::neck_rows;

/// The parts of the student's screen. A part of no height is left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StudentAreas {
    /// Name, lesson, connection; how to join while few are here; then the
    /// rules where there is room.
    pub head: Rect,
    /// Heading of the neck.
    pub neck_rule: Rect,
    /// What to do now.
    pub sentence: Rect,
    /// The neck.
    pub neck: Rect,
    /// The place under the cursor.
    pub under: Rect,
    /// The microphone, where there is one.
    pub ear: Rect,
    /// This call: answers, or the others' progress, with a heading.
    pub list: Rect,
    /// This student's tally.
    pub tally: Rect,
    /// The message.
    pub message: Rect,
    /// The keys.
    pub foot: Rect,
}

/// Lays the screen out.
pub fn areas(state: &StudentState, screen: Rect) -> StudentAreas {
    let strings = state
        .view
        .neck
        .as_ref()
        .map_or(5, |neck| neck.string_count());
    // Dots and names need two rows for a string; the list can spare them.
    let neck_rows = neck_rows(strings, screen.height / 2);
    let ear_rows = u16::from(state.ear.is_some());
    let fixed = neck_rows + ear_rows + 5;
    let roomy = screen.height >= fixed + 4 + 4;
    let head_rows = if roomy { 3 } else { 1 } + state.joining_rows();
    let rule_rows = u16::from(roomy);
    let mut y = screen.y;
    let mut rows = |height: u16| {
        let rect = Rect::new(screen.x, y, screen.width, height);
        y += height;
        rect
    };
    let head = rows(head_rows);
    let neck_rule = rows(rule_rows);
    let sentence = rows(1);
    let neck = rows(neck_rows);
    let under = rows(1);
    let ear = rows(ear_rows);
    let list = rows(screen.height.saturating_sub(head_rows + rule_rows + fixed));
    StudentAreas {
        head,
        neck_rule,
        sentence,
        neck,
        under,
        ear,
        list,
        tally: rows(1),
        message: rows(1),
        foot: rows(1),
    }
}
