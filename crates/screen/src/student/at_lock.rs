//! The student's screen at the lock of a lesson: the passphrase, and a host
//! whose key has changed.

use fifthpeg_lock::Passphrase;
use fifthpeg_student::{KeyTalk, Status, Wanted};

use super::layers::{Layer, LockLayer, StudentAction};
use super::state::StudentState;
use crate::line_edit::LineEdit;
use crate::menu::Menu;
use crate::parts::Message;

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
            _ => self.asks_about_key(),
        };
        match (asks, &self.layer) {
            (_, Layer::Caution | Layer::Leave(_) | Layer::Help(_)) => {}
            // What is being typed or chosen is not taken away by a question that
            // can wait.
            (Some(LockLayer::IsMe(_) | LockLayer::KeyOffer(_)), layer)
                if !matches!(layer, Layer::Main | Layer::Lock(_)) => {}
            (Some(LockLayer::IsMe(_)), Layer::Lock(LockLayer::OtherName(_))) => {}
            (Some(asks), _) => {
                self.layer = Layer::Lock(asks);
                self.message = None;
            }
            (None, Layer::Lock(_)) => self.layer = Layer::Main,
            (None, _) => {}
        }
    }

    fn asks_about_key(&self) -> Option<LockLayer> {
        let menu = |title: &str, yes: &str, no: &str, chosen| {
            let lines = vec![(no.to_owned(), false), (yes.to_owned(), true)];
            Menu::new(title, lines, chosen)
        };
        match &self.key_talk {
            _ if self.is_over() => None,
            KeyTalk::CameIn { name } => Some(LockLayer::IsMe(menu(
                &format!("You come in as {name}; not you?"),
                &format!("I am {name}"),
                "not me: come in as somebody else",
                1,
            ))),
            KeyTalk::Offered { name, .. } => Some(LockLayer::KeyOffer(menu(
                &format!("Come in as {name} without the passphrase next time?"),
                "yes: nobody else uses this account on this machine",
                "no: others use it too, or I do not want that",
                0,
            ))),
            _ => None,
        }
    }

    /// Takes what there is to ask or tell about class keys.
    pub fn set_key_talk(&mut self, talk: KeyTalk) {
        if matches!(talk, KeyTalk::Kept { .. } | KeyTalk::NotTaken) {
            self.message = Some(Message::news(&talk));
        } else if matches!(talk, KeyTalk::NotKept { .. }) {
            self.message = Some(Message::trouble(&talk));
        }
        self.key_talk = talk;
        self.mind_lock();
    }

    /// The question about a class key is answered.
    pub(super) fn key_answered(&mut self, yes: bool) -> Option<StudentAction> {
        let asked = std::mem::take(&mut self.key_talk);
        self.layer = Layer::Main;
        match (asked, yes) {
            (KeyTalk::Offered { .. }, takes) => Some(StudentAction::TakeKey(takes)),
            (KeyTalk::CameIn { .. }, false) => {
                self.layer = Layer::Lock(LockLayer::OtherName(LineEdit::default()));
                None
            }
            _ => None,
        }
    }

    /// A name that cannot be used leaves the line open, to be mended.
    pub(super) fn take_other_name(&mut self, text: &str) -> Option<StudentAction> {
        match fifthpeg_front::values::parse_name(text) {
            Ok(name) => Some(StudentAction::SomebodyElse(name)),
            Err(why) => {
                if let Layer::Lock(LockLayer::OtherName(line)) = &mut self.layer {
                    line.complain(why);
                }
                None
            }
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
