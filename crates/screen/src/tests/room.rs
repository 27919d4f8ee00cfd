//! A lesson with its students in one room, and their screens.

use std::time::Duration;

use crossterm::event::{KeyCode, KeyModifiers, MouseButton, MouseEvent, MouseEventKind};
pub use fifthpeg_fixture::at;
pub use fifthpeg_fixture::class::Class as Room;
use fifthpeg_host::{BookState, Invite};
use fifthpeg_lesson::terminal::HandsFree;
use fifthpeg_student::Status;
use fifthpeg_student::ear::{EarState, EarStatus};
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;
use ratatui::{Frame, Terminal as Screen};

use crate::host::deeds::HostDeed;
use crate::host::layers::{HostAction, Layer};
use crate::host::state::HostState;
use crate::keys::Key;
use crate::options::ScreenOptions;
use crate::student::layers::{Alone, Hosting, StudentAction};
use crate::student::state::StudentState;

/// What screens add to a class.
pub trait Screens {
    /// Does what a host's screen asked for.
    fn host_does(&mut self, action: Option<HostAction>);

    /// Does what a student's screen asked for.
    fn student_does(&mut self, which: usize, action: Option<StudentAction>);

    /// A host's screen with the caution read.
    fn host_screen(&self, options: ScreenOptions) -> HostState;

    /// Brings a host's screen up to date.
    fn show_host(&self, state: &mut HostState);

    /// A student's screen with the caution read.
    fn student_screen(&self, which: usize, options: ScreenOptions) -> StudentState;

    /// Brings a student's screen up to date.
    fn show_student(&self, which: usize, state: &mut StudentState);
}

impl Screens for Room {
    fn host_does(&mut self, action: Option<HostAction>) {
        let Some(HostAction::Host(HostDeed::Order(order))) = action else {
            panic!("the screen asked for nothing");
        };
        self.host(order);
    }

    fn student_does(&mut self, which: usize, action: Option<StudentAction>) {
        let Some(StudentAction::Order(order)) = action else {
            panic!("the screen asked for {action:?}");
        };
        self.student(which, order);
    }

    fn host_screen(&self, options: ScreenOptions) -> HostState {
        let joining = "To join: Thursday class, or by address: 192.168.1.20:4750".to_owned();
        let mut state =
            HostState::new(self.lesson.view().into(), joining, options).expect("a neck");
        state.now = self.now;
        if state.layer == Layer::Caution {
            state.handle_key(&Key::Code(KeyCode::Enter).event());
        }
        state
    }

    fn show_host(&self, state: &mut HostState) {
        state.now = self.now;
        state.set_view(self.lesson.view().into());
    }

    fn student_screen(&self, which: usize, options: ScreenOptions) -> StudentState {
        drop(self.take_news(which));
        let view = self.students[which].1.view(self.now);
        let status = Status::In {
            address: ([192, 168, 1, 20], 4750).into(),
            locked: true,
        };
        let mut state = StudentState::new(view.into(), status, options);
        state.now = self.now;
        state.handle_key(&Key::Code(KeyCode::Enter).event());
        state
    }

    fn show_student(&self, which: usize, state: &mut StudentState) {
        state.now = self.now;
        state.set_view(self.students[which].1.view(self.now).into());
        for event in self.take_news(which) {
            state.take_event(&event);
        }
    }
}

/// A microphone that listens.
pub fn listening() -> EarStatus {
    EarStatus {
        state: EarState::Listening,
        device: Some("the hall's microphone".to_owned()),
        level_db: Some(-20.0),
        ..EarStatus::new(true)
    }
}

/// A student's screen with a microphone.
pub fn with_ear(screen: StudentState) -> StudentState {
    screen.with_ear(listening(), HandsFree::default())
}

/// What the screen of who is alone in this room has of the host.
pub fn alone_in(room: &Room) -> Hosting {
    Hosting {
        view: room.lesson.view().into(),
        joining: String::new(),
        joining_in_full: String::new(),
        book: BookState::Writing,
        known: Vec::new(),
        alone: Some(Alone {
            gap: Duration::from_secs(5),
            by_itself: false,
        }),
    }
}

/// How phones come in.
pub fn invite() -> Invite {
    Invite {
        address: "http://192.168.1.20:4750/".to_owned(),
        words: Some("lemon basket otter violin".to_owned()),
        link: "http://192.168.1.20:4750/#lemon-basket-otter-violin".to_owned(),
        fingerprint: None,
    }
}

/// Presses one key on the host's screen.
pub fn press_host(state: &mut HostState, key: Key) -> Option<HostAction> {
    state.handle_key(&key.event())
}

/// Presses one key on a student's screen.
pub fn press(state: &mut StudentState, key: Key) -> Option<StudentAction> {
    state.handle_key(&key.event())
}

/// A click with the left button.
pub fn click(column: u16, row: u16) -> MouseEvent {
    MouseEvent {
        kind: MouseEventKind::Down(MouseButton::Left),
        column,
        row,
        modifiers: KeyModifiers::NONE,
    }
}

/// What is drawn, as a buffer.
pub fn drawn(columns: u16, rows: u16, draw: impl FnOnce(&mut Frame)) -> Buffer {
    let mut screen = Screen::new(TestBackend::new(columns, rows)).expect("a screen");
    screen
        .draw(|frame| crate::guard::tamed(frame, draw))
        .expect("drawn");
    screen.backend().buffer().clone()
}

/// A buffer as lines of text, without the blanks at their ends.
pub fn lines(buffer: &Buffer) -> Vec<String> {
    let width = usize::from(buffer.area.width);
    let rows = buffer.content.chunks(width);
    let line = |cells: &[ratatui::buffer::Cell]| {
        let text: String = cells.iter().map(ratatui::buffer::Cell::symbol).collect();
        text.trim_end().to_owned()
    };
    rows.map(line).collect()
}

/// A host's screen as text.
pub fn host_text(state: &HostState, columns: u16, rows: u16) -> Vec<String> {
    lines(&drawn(columns, rows, |frame| {
        crate::host::draw::draw(state, frame);
    }))
}

/// A student's screen as text.
pub fn student_text(state: &StudentState, columns: u16, rows: u16) -> Vec<String> {
    lines(&drawn(columns, rows, |frame| {
        crate::student::draw::draw(state, frame);
    }))
}

/// The first line that holds some text.
#[track_caller]
pub fn line_with<'a>(text: &'a [String], wanted: &str) -> &'a str {
    let found = text.iter().find(|line| line.contains(wanted));
    found.unwrap_or_else(|| panic!("no line with {wanted:?} in\n{}", text.join("\n")))
}

/// Whether some text is nowhere on the screen.
pub fn nowhere(text: &[String], unwanted: &str) -> bool {
    text.iter().all(|line| !line.contains(unwanted))
}
