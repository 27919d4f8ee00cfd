//! What the friend who hosts hears from the lesson besides.

use std::future::pending;
use std::sync::Arc;

use fifthpeg_host::{BookState, Host, Notice};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::view::LessonView;
use tokio::sync::broadcast::{self, error::RecvError};
use tokio::sync::watch;

use super::state::StudentState;
use crate::host::news;
use crate::parts::Message;

/// One thing heard.
pub enum Heard {
    /// The lesson has changed.
    View(Arc<LessonView>),
    /// Something happened in it.
    Event(Box<LessonEvent>),
    /// Something happened on the network, or with the lesson book.
    Notice(Notice),
    /// It stands otherwise with the lesson book.
    Book(BookState),
    /// Some were missed; the view tells what counts.
    Missed,
    /// The host is gone.
    Over,
}

/// The host's channels.
pub struct Feeds {
    views: watch::Receiver<Arc<LessonView>>,
    events: broadcast::Receiver<LessonEvent>,
    notices: broadcast::Receiver<Notice>,
    books: watch::Receiver<BookState>,
}

impl Feeds {
    /// Begins to listen.
    pub fn of(host: &Host) -> Self {
        Self {
            views: host.view(),
            events: host.events(),
            notices: host.notices(),
            books: host.book(),
        }
    }

    /// The lesson as it is now.
    pub fn view(&mut self) -> Arc<LessonView> {
        Arc::clone(&self.views.borrow_and_update())
    }

    /// How it stands with the lesson book now.
    pub fn book(&mut self) -> BookState {
        self.books.borrow_and_update().clone()
    }

    async fn next(&mut self) -> Heard {
        tokio::select! {
            changed = self.views.changed() => match changed {
                Ok(()) => Heard::View(self.view()),
                Err(_) => Heard::Over,
            },
            Ok(()) = self.books.changed() => Heard::Book(self.book()),
            event = self.events.recv() => match event {
                Ok(event) => Heard::Event(Box::new(event)),
                Err(RecvError::Lagged(_)) => Heard::Missed,
                Err(RecvError::Closed) => Heard::Over,
            },
            notice = self.notices.recv() => match notice {
                Ok(notice) => Heard::Notice(notice),
                Err(RecvError::Lagged(_)) => Heard::Missed,
                Err(RecvError::Closed) => Heard::Over,
            },
        }
    }
}

/// What is heard next; never, where nobody hosts or the host is gone.
pub async fn next(feeds: &mut Option<Feeds>) -> Heard {
    let Some(open) = feeds else {
        return pending().await;
    };
    let heard = open.next().await;
    if matches!(heard, Heard::Over) {
        *feeds = None;
    }
    heard
}

impl StudentState {
    /// Takes what the friend who hosts has heard.
    pub fn take_heard(&mut self, heard: Heard) {
        let Some(hosting) = &mut self.hosting else {
            return;
        };
        match heard {
            Heard::View(view) => hosting.view = view,
            Heard::Book(book) => hosting.book = book,
            // Who is alone knows who comes and goes.
            Heard::Event(_) if hosting.alone.is_some() => {}
            Heard::Event(event) => {
                if let Some(text) = news::of(&event, &hosting.view) {
                    self.message = Some(Message::news(text));
                }
            }
            Heard::Notice(notice) => self.message = Some(Message::trouble(notice)),
            Heard::Missed | Heard::Over => {}
        }
    }
}
