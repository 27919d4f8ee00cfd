//! The screen's state, and what keys do to it.

use std::time::Instant;

use crossterm::event::{KeyCode, KeyEvent};
use fifthpeg_core::Spelling;
use fifthpeg_listen::bench::{Bench, BenchNews};
use fifthpeg_listen::hearing::Hearing;
use fifthpeg_listen::microphone::{Microphone, MicrophoneState};
use fifthpeg_listen::words;

use crate::help::{self, HelpPart};
use crate::keys::{self, Binding, CTRL_C, DOWN, ENTER, ESC, Key, PAGE_DOWN, SPACE, UP, row};
use crate::options::ScreenOptions;
use crate::parts::Message;
use crate::rows;
use crate::theme::Theme;
use fifthpeg_lesson::words::as_sentence;

/// What the screen wants done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ListenAction {
    /// Sound this frequency, in hertz.
    Sound(f64),
    /// Measure the room.
    Room,
    /// Measure how late sound comes back.
    Delay,
    /// Keep the delay that was measured as the output's trim.
    KeepTrim,
    /// Forget the output's trim.
    ForgetTrim,
    /// End.
    Leave,
}

/// What lies over the screen.
#[derive(Debug, Clone, PartialEq)]
pub enum Layer {
    /// Nothing.
    None,
    /// What to mind before the first tone.
    Caution,
    /// Whether to measure the delay.
    AskDelay,
    /// What was measured.
    Told {
        /// The words.
        lines: Vec<String>,
        /// Whether it may be kept as the output's trim.
        may_keep: bool,
    },
    /// The output's trim.
    Trim,
    /// The help, from a line on.
    Help(usize),
}

/// What keys do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ListenCommand {
    /// Sound the string's pitch.
    Sound,
    /// The next string.
    Next,
    /// The one before.
    Before,
    /// Show how far a string is off, or no longer.
    Meter,
    /// Measure the room.
    Room,
    /// Measure the delay.
    Delay,
    /// Show the output's trim.
    Trim,
    /// Show the help.
    Help,
    /// End.
    Leave,
}

/// The keys of this screen.
pub const LISTEN_KEYS: &[Binding<ListenCommand>] = &[
    row(
        &[SPACE, PAGE_DOWN],
        "sound the string's pitch (PageDown, a foot switch too)",
        "sound it",
        ListenCommand::Sound,
    ),
    row(
        &[DOWN, ENTER, Key::Code(KeyCode::Tab)],
        "the next string (Enter, Tab too)",
        "next",
        ListenCommand::Next,
    ),
    row(
        &[UP, Key::Code(KeyCode::BackTab)],
        "the string before",
        "",
        ListenCommand::Before,
    ),
    row(
        &[Key::Char('m')],
        "show how far a string is off, or leave it to your ear",
        "meter",
        ListenCommand::Meter,
    ),
    rows::quiet("room", ListenCommand::Room),
    row(
        &[Key::Char('d')],
        "measure how late sound comes back to the microphone",
        "delay",
        ListenCommand::Delay,
    ),
    row(
        &[Key::Char('t')],
        "show the output's trim, and forget it if you like",
        "trim",
        ListenCommand::Trim,
    ),
    row(
        &[Key::Char('q'), CTRL_C, ESC],
        "end (Ctrl-C, Esc too)",
        "end",
        ListenCommand::Leave,
    ),
    rows::help(ListenCommand::Help),
];

/// What the screen shows.
#[derive(Debug, Clone)]
pub struct ListenState {
    /// The strings.
    pub bench: Bench,
    /// The microphone.
    pub microphone: Microphone,
    /// What lies over the screen.
    pub layer: Layer,
    /// What to tell.
    pub message: Option<Message>,
    /// The neck's name.
    pub neck: String,
    /// How notes are spelt.
    pub spelling: Spelling,
    /// Whether own tones go to headphones, so that the microphone hears none.
    pub headphones: bool,
    /// How far the measuring of the delay is, from 0 to 1.
    pub measuring: Option<f32>,
    /// The output's trim in a few words, if it has one.
    pub trim: Option<String>,
    /// The same in a sentence.
    pub trim_words: String,
    /// The moment.
    pub now: Instant,
    /// How it looks.
    pub options: ScreenOptions,
}

impl ListenState {
    /// A screen with the caution over it.
    pub fn new(bench: Bench, neck: String, options: ScreenOptions, now: Instant) -> Self {
        Self {
            bench,
            microphone: Microphone::default(),
            layer: Layer::Caution,
            message: None,
            neck,
            spelling: Spelling::Sharps,
            headphones: false,
            measuring: None,
            trim: None,
            trim_words: String::new(),
            now,
            options,
        }
    }

    /// The theme.
    pub fn theme(&self) -> Theme {
        Theme::new(&self.options)
    }

    /// The parts of the help.
    pub fn help() -> Vec<HelpPart> {
        vec![
            HelpPart::keys("Keys", LISTEN_KEYS),
            HelpPart::keys("When something is asked or told", ASKED_KEYS),
            HelpPart::keys("This help", help::HELP_KEYS),
        ]
    }

    /// Takes one key.
    pub fn handle_key(&mut self, event: &KeyEvent) -> Option<ListenAction> {
        let command = keys::command(LISTEN_KEYS, event);
        let asked = keys::command(ASKED_KEYS, event);
        match &self.layer {
            _ if asked == Some(AskedCommand::Stop) => return Some(ListenAction::Leave),
            Layer::None => {}
            Layer::Help(first) => {
                let length = help::length(&Self::help());
                self.layer = help::scrolled(*first, length, event).map_or(Layer::None, Layer::Help);
                return None;
            }
            Layer::AskDelay => {
                let yes = asked == Some(AskedCommand::Measure);
                if event.is_release() {
                    return None;
                }
                self.layer = Layer::None;
                return yes.then_some(ListenAction::Delay);
            }
            Layer::Told { may_keep: true, .. } if asked == Some(AskedCommand::Keep) => {
                self.layer = Layer::None;
                return Some(ListenAction::KeepTrim);
            }
            Layer::Trim if asked == Some(AskedCommand::Forget) => {
                self.layer = Layer::None;
                return Some(ListenAction::ForgetTrim);
            }
            Layer::Trim if command == Some(ListenCommand::Delay) => {
                self.layer = Layer::AskDelay;
                return None;
            }
            Layer::Caution | Layer::Told { .. } | Layer::Trim => {
                if !event.is_release() {
                    self.layer = Layer::None;
                }
                return None;
            }
        }
        self.message = None;
        match command? {
            ListenCommand::Sound => {
                return Some(ListenAction::Sound(self.bench.chosen().target_hz));
            }
            ListenCommand::Next => self.bench.step(1),
            ListenCommand::Before => self.bench.step(-1),
            ListenCommand::Meter => {
                self.bench.meter = !self.bench.meter;
                if self.bench.meter {
                    self.message = Some(Message::news(as_sentence(words::PEGS)));
                }
            }
            ListenCommand::Room => return Some(ListenAction::Room),
            ListenCommand::Delay => self.layer = Layer::AskDelay,
            ListenCommand::Trim => self.layer = Layer::Trim,
            ListenCommand::Help => self.layer = Layer::Help(0),
            ListenCommand::Leave => return Some(ListenAction::Leave),
        }
        None
    }

    /// An own tone sounds until then.
    pub fn sounded(&mut self, until: Instant) {
        if !self.headphones {
            self.bench.own_tone(until);
        }
    }

    /// Takes what the microphone gives.
    pub fn take(&mut self, hearing: &Hearing) {
        match hearing {
            Hearing::Listened(listened) => {
                // A tone of our own is no note of the instrument's.
                let pluck = matches!(
                    listened,
                    fifthpeg_sound::Listened::Note(fifthpeg_core::HeardNote::Pluck { .. })
                );
                if !(pluck && self.bench.is_deaf(self.now)) {
                    self.microphone.take(listened);
                }
                if let (MicrophoneState::Trouble(why), fifthpeg_sound::Listened::Trouble { .. }) =
                    (&self.microphone.state, listened)
                {
                    self.message = Some(Message::trouble(as_sentence(why)));
                }
            }
            Hearing::Tuner(reading, _) => {
                if let Some(news) = self.bench.take(*reading, self.now) {
                    self.message = told(news, self.bench.meter);
                }
            }
        }
    }
}

/// What is worth a message: the meter itself shows the rest.
fn told(news: BenchNews, meter: bool) -> Option<Message> {
    match news {
        BenchNews::Read { cents, .. } => words::danger(cents)
            .map(|why| Message::trouble(as_sentence(why)))
            .filter(|_| meter || cents > 0.0),
        BenchNews::Other { string } => Some(Message::news(format!(
            "That sounds like string {string}: go to it with Up or Down, or keep turning."
        ))),
        BenchNews::Moved { string } => Some(Message::news(format!("On to string {string}."))),
    }
}

/// What keys do in what is asked and told over this screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AskedCommand {
    /// End.
    Stop,
    /// Measure the delay.
    Measure,
    /// Keep what was measured.
    Keep,
    /// Forget the trim.
    Forget,
}

/// The keys of what is asked and told; any other goes back.
pub const ASKED_KEYS: &[Binding<AskedCommand>] = &[
    row(
        &[ENTER],
        "asked about the delay: measure it",
        "",
        AskedCommand::Measure,
    ),
    row(
        &[Key::Char('k')],
        "told the delay: keep it as this output's trim",
        "",
        AskedCommand::Keep,
    ),
    row(
        &[Key::Char('x'), Key::Code(KeyCode::Delete)],
        "shown the trim: forget it (Delete too)",
        "",
        AskedCommand::Forget,
    ),
    row(&[CTRL_C], "end", "", AskedCommand::Stop),
];
