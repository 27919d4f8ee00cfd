//! The student's screen at the lock of a lesson: the passphrase, and a host
//! whose key has changed.

use fifthpeg_lock::Passphrase;
use fifthpeg_student::{Status, Wanted};

use super::state::{Layer, StudentAction, StudentState};
use crate::screen::line_edit::LineEdit;
use crate::screen::menu::Menu;
use crate::screen::parts::Message;

/// What is asked at the lock.
#[derive(Debug, Clone, PartialEq)]
pub enum LockLayer {
    /// The passphrase is being typed.
    Passphrase(LineEdit),
    /// Whether to go on with a host whose key has changed: true for yes.
    NewKey(Menu<bool>),
}

impl StudentState {
    /// Opens what the lock asks for, or takes it away once it is answered. The
    /// caution about loudness and a question whether to leave come first.
    pub(super) fn mind_lock(&mut self) {
        let asks = match &self.status {
            Status::PassphraseWanted { wanted, .. } => {
                let mut line = LineEdit::default();
                if *wanted != Wanted::First {
                    line.complain(&self.status);
                }
                Some(LockLayer::Passphrase(line))
            }
            Status::KeyChanged { .. } => {
                let lines = vec![
                    ("no, stop here".to_owned(), false),
                    ("yes, go on: I know why it changed".to_owned(), true),
                ];
                Some(LockLayer::NewKey(Menu::new(
                    "The host's key has changed. Go on?",
                    lines,
                    0,
                )))
            }
            _ => None,
        };
        match (asks, &self.layer) {
            (_, Layer::Caution | Layer::Leave(_) | Layer::Help(_)) => {}
            (Some(asks), _) => {
                self.layer = Layer::Lock(asks);
                self.message = None;
            }
            (None, Layer::Lock(_)) => self.layer = Layer::Main,
            (None, _) => {}
        }
    }

    /// A line that can be no passphrase stays open, to be mended.
    pub(super) fn take_passphrase(&mut self, text: &str) -> Option<StudentAction> {
        match Passphrase::typed(text) {
            Ok(passphrase) => {
                self.layer = Layer::Main;
                self.message = Some(Message::news("Trying the passphrase."));
                Some(StudentAction::Passphrase(passphrase))
            }
            Err(why) => {
                if let Layer::Lock(LockLayer::Passphrase(line)) = &mut self.layer {
                    line.complain(why);
                }
                None
            }
        }
    }

    /// What stands above the line for the passphrase.
    pub(super) fn passphrase_hints(&self) -> Vec<String> {
        let lesson = match &self.status {
            Status::PassphraseWanted { lesson, .. } => lesson.as_str(),
            _ => "",
        };
        vec![
            format!("\"{lesson}\" is locked. The words are on the host's screen."),
            "Capitals, spaces and hyphens make no difference.".to_owned(),
        ]
    }
}
