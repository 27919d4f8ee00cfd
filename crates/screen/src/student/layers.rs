//! What can lie over the student's screen, what it can want done, and what the
//! friend who hosts has besides.

use std::sync::Arc;
use std::time::Duration;

use fifthpeg_host::{BookState, KnownPerson};
use fifthpeg_lesson::terminal::StudentOrder;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_lock::Passphrase;

use crate::host::deeds::HostDeed;
use crate::host::joining::Joining;
use crate::host::layers::MenuChoice;
use crate::line_edit::LineEdit;
use crate::menu::Menu;

/// What the screen wants done.
#[derive(Debug, Clone, PartialEq)]
pub enum StudentAction {
    /// Give this order to the terminal.
    Order(StudentOrder),
    /// As the lesson's host.
    Host(HostDeed),
    /// Take the class key that is offered, or not.
    TakeKey(bool),
    /// Come in as somebody else, of this name.
    SomebodyElse(String),
    /// Listen to the microphone, or no longer.
    Listen(bool),
    /// Measure the noise of the room.
    Calibrate,
    /// Try this passphrase at the lock.
    Passphrase(Passphrase),
    /// Go on with the host's new key.
    NewKey,
    /// Let the next note come by itself, or no longer.
    ByItself(bool),
    /// Close the screen.
    Leave,
}

/// What lies over the main screen.
#[derive(Debug, Clone, PartialEq)]
pub enum Layer {
    /// The caution about loudness, before the first tone.
    Caution,
    /// Nothing.
    Main,
    /// This terminal could not sound a tone, and why.
    NoSound(String),
    /// The keys that matter now.
    Keys,
    /// A note name is being typed.
    TypeName(LineEdit),
    /// Whether to leave: true for yes.
    Leave(Menu<bool>),
    /// One of the host's lists, for the friend who hosts.
    HostList(Menu<MenuChoice>),
    /// How a phone gets in, for the friend who hosts.
    Joining(Joining),
    /// The friend who hosts is typing a reach.
    TypeReach(LineEdit),
    /// What a lesson's lock asks for.
    Lock(LockLayer),
    /// Help, from this line on.
    Help(usize),
}

/// What is asked at the lock.
#[derive(Debug, Clone, PartialEq)]
pub enum LockLayer {
    /// The passphrase is being typed.
    Passphrase(LineEdit),
    /// Whether to go on with a host whose key has changed: true for yes.
    NewKey(Menu<bool>),
    /// Whether it is who this machine's class key says: true for yes.
    IsMe(Menu<bool>),
    /// The name of somebody else is being typed.
    OtherName(LineEdit),
    /// Whether to take a class key: true for yes.
    KeyOffer(Menu<bool>),
}

/// How a lesson alone goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Alone {
    /// The pause before the next note.
    pub gap: Duration,
    /// The next note comes by itself.
    pub by_itself: bool,
}

/// How many friends are so few that how to join stays in sight.
const FEW: usize = 3;

/// The lesson as the friend who hosts sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Hosting {
    /// The lesson as it is now. Nothing of it is drawn but the roster and the
    /// rules, because this friend searches as well.
    pub view: Arc<LessonView>,
    /// How to join, and who gets in: a line each.
    pub joining: String,
    /// The same in full.
    pub joining_in_full: String,
    /// How it stands with the lesson book.
    pub book: BookState,
    /// Whom it knows in this class, as asked for last.
    pub known: Vec<KnownPerson>,
    /// Nobody else is in the lesson, nor can be.
    pub alone: Option<Alone>,
}

impl Hosting {
    /// Whether so few are here that more are likely to come.
    pub fn is_quiet(&self) -> bool {
        let here = self.view.students.iter().filter(|s| s.connected);
        self.alone.is_none() && here.count() < FEW
    }
}
