//! A lesson with its students in one room: messages pass at once, and time
//! only moves when a test says so.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::time::Duration;

use crossterm::event::{KeyCode, KeyModifiers, MouseButton, MouseEvent, MouseEventKind};
use fifthpeg_core::{Neck, Pitch, Position};
use fifthpeg_lesson::message::{Answer, SeatKey, StudentId};
use fifthpeg_lesson::terminal::{HandsFree, HeardNote, StudentOrder, Terminal, TerminalEvent};
use fifthpeg_lesson::{HostOrder, Lesson, LessonSetup, Moment};
use fifthpeg_student::Status;
use fifthpeg_student::ear::{EarState, EarStatus};
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;
use ratatui::{Frame, Terminal as Screen};

use crate::host::layers::{HostAction, Layer};
use crate::host::state::HostState;
use crate::keys::Key;
use crate::options::ScreenOptions;
use crate::student::layers::StudentAction;
use crate::student::state::StudentState;

/// A lesson with its students.
pub struct Room {
    pub lesson: Lesson,
    pub students: Vec<(StudentId, Terminal)>,
    pub now: Moment,
    /// What happened at each terminal since its screen was shown last.
    news: RefCell<BTreeMap<usize, Vec<TerminalEvent>>>,
}

impl Room {
    /// A class on the five-string banjo, its whole neck the reach.
    pub fn class(names: &[&str]) -> Self {
        Self::with(names, |_| {})
    }

    /// The same after some change to the setup.
    pub fn with(names: &[&str], change: impl FnOnce(&mut LessonSetup)) -> Self {
        Self::on("banjo-open-g", names, change)
    }

    /// The same on another neck.
    pub fn on(neck: &str, names: &[&str], change: impl FnOnce(&mut LessonSetup)) -> Self {
        let neck = Neck::ready(neck).expect("a ready neck");
        let mut setup = LessonSetup::new("Thursday class", &neck);
        setup.rules.reach = "whole".parse().expect("a reach");
        change(&mut setup);
        let now = Moment::from_micros(1_000_000);
        let mut room = Self {
            lesson: Lesson::new(setup, now).expect("a lesson"),
            students: Vec::new(),
            now,
            news: RefCell::default(),
        };
        for name in names {
            room.join(name);
        }
        room
    }

    pub fn join(&mut self, name: &str) {
        let key = SeatKey(self.students.len() as u128 + 1);
        let id = self.lesson.handle_join(name, None, key, self.now);
        let id = id.expect("let in");
        let mut terminal = Terminal::new();
        terminal.handle_connected(self.now);
        let back = self.now + Duration::from_micros(800);
        terminal.handle_clock(self.now, self.now, self.now, back);
        self.students.push((id, terminal));
        self.settle();
    }

    /// Lets time pass.
    pub fn wait(&mut self, seconds: f64) {
        self.now = self.now + Duration::from_secs_f64(seconds);
    }

    /// The host orders something that the lesson grants.
    pub fn host(&mut self, order: HostOrder) {
        self.lesson.handle_host(order, self.now).expect("granted");
        self.settle();
    }

    /// The host calls a place, and the first hearing is over.
    pub fn call(&mut self, place: &str) {
        self.host(HostOrder::CallAt(at(place)));
        self.wait(1.0);
    }

    /// A student orders something that the terminal grants.
    pub fn student(&mut self, which: usize, order: StudentOrder) {
        let terminal = &mut self.students[which].1;
        terminal.handle_order(order, self.now).expect("granted");
        self.settle();
    }

    /// Does what a host's screen asked for.
    pub fn host_does(&mut self, action: Option<HostAction>) {
        let Some(HostAction::Order(order)) = action else {
            panic!("the screen asked for nothing");
        };
        self.host(order);
    }

    /// Does what a student's screen asked for.
    pub fn student_does(&mut self, which: usize, action: Option<StudentAction>) {
        let Some(StudentAction::Order(order)) = action else {
            panic!("the screen asked for {action:?}");
        };
        self.student(which, order);
    }

    /// A student has a microphone from now on, and headphones, so that own tones
    /// matter to those tests only that are about them.
    pub fn plays(&mut self, which: usize, headphones: bool) {
        let hands_free = HandsFree {
            headphones,
            ..HandsFree::default()
        };
        self.students[which].1.set_hands_free(Some(hands_free));
    }

    /// A student plucks a note now, which is decided 60 ms later, and may answer.
    pub fn plucks(&mut self, which: usize, id: u64, midi: u8) {
        self.plucks_so(which, id, midi, HeardNote::MayAnswer { id });
    }

    /// A student plucks a note now, and this is the ear's word on it.
    pub fn plucks_so(&mut self, which: usize, id: u64, midi: u8, word: HeardNote) {
        let pluck = HeardNote::Pluck {
            id,
            pitch: Pitch::new(midi).expect("a pitch"),
            cents: 2.0,
            at: self.now,
            uncertainty: Duration::from_millis(4),
        };
        self.wait(0.06);
        self.hears(which, pluck);
        self.wait(0.06);
        self.hears(which, word);
    }

    /// A student's terminal hears something.
    pub fn hears(&mut self, which: usize, heard: HeardNote) {
        self.students[which].1.handle_heard(heard, self.now);
        self.settle();
    }

    /// Lets time pass, and the terminals do what is due.
    pub fn rest(&mut self, seconds: f64) {
        self.wait(seconds);
        for (_, terminal) in &mut self.students {
            terminal.handle_timeout(self.now);
        }
        self.settle();
    }

    /// Passes messages until there are none.
    pub fn settle(&mut self) {
        loop {
            let mut quiet = true;
            while let Some((to, message)) = self.lesson.poll_message() {
                quiet = false;
                let known = self.students.iter_mut().find(|(id, _)| *id == to);
                if let Some((_, terminal)) = known {
                    terminal.handle_message(message, self.now);
                }
            }
            for (id, terminal) in &mut self.students {
                while let Some(sound) = terminal.poll_sound() {
                    let off = Duration::from_millis(5);
                    terminal.handle_sounded(
                        sound.id,
                        sound.at.max(self.now),
                        off,
                        fifthpeg_lesson::terminal::LONGEST_MUTE,
                    );
                }
                while let Some(message) = terminal.poll_message() {
                    quiet = false;
                    // A refusal comes back to the terminal as a message.
                    let _ = self.lesson.handle_message(*id, message, self.now);
                }
            }
            if quiet {
                break;
            }
        }
        for (which, (_, terminal)) in self.students.iter_mut().enumerate() {
            let news = self.news.get_mut().entry(which).or_default();
            news.extend(std::iter::from_fn(|| terminal.poll_event()));
        }
    }

    /// A host's screen with the caution read.
    pub fn host_screen(&self, options: ScreenOptions) -> HostState {
        let joining = "To join: Thursday class, or by address: 192.168.1.20:4750".to_owned();
        let mut state =
            HostState::new(self.lesson.view().into(), joining, options).expect("a neck");
        state.now = self.now;
        if state.layer == Layer::Caution {
            state.handle_key(&Key::Code(KeyCode::Enter).event());
        }
        state
    }

    /// Brings a host's screen up to date.
    pub fn show_host(&self, state: &mut HostState) {
        state.now = self.now;
        state.set_view(self.lesson.view().into());
    }

    /// A student's screen with the caution read.
    pub fn student_screen(&self, which: usize, options: ScreenOptions) -> StudentState {
        self.news.borrow_mut().remove(&which);
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

    /// What happened at a student's terminal since its screen was shown last.
    pub fn take_news(&self, which: usize) -> Vec<TerminalEvent> {
        self.news.borrow_mut().remove(&which).unwrap_or_default()
    }

    /// Brings a student's screen up to date.
    pub fn show_student(&self, which: usize, state: &mut StudentState) {
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

/// A place as an answer, from its text.
pub fn at(place: &str) -> Answer {
    Answer::Place(place.parse::<Position>().expect("a place"))
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
