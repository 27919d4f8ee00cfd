//! What the engine does with what the lesson book says.

use fifthpeg_book::WriterEvent;
use fifthpeg_lesson::Moment;

use super::{Engine, Todo};
use crate::{BookState, Notice};

const STOPPED: &str = "the program has stopped writing the lesson book: order to go on without \
                       the book, or end the lesson and start the program again";

impl Engine {
    /// What the book says of the batches; `None` when nothing more will be
    /// said.
    pub fn handle_report(&mut self, report: Option<WriterEvent>, now: Moment) {
        let Some(journal) = &mut self.journal else {
            return;
        };
        match report {
            Some(WriterEvent::Stored { up_to }) => {
                journal.note_stored(up_to);
                self.finds.stored(up_to);
                if matches!(self.book, BookState::Waits { .. }) {
                    self.show_book(BookState::Writing);
                    self.tell(Notice::BookBack);
                }
                let free = self.commit_gate.stored(up_to);
                self.hand_out(free);
            }
            Some(WriterEvent::Trouble {
                sentence, is_lost, ..
            }) => self.book_waits(sentence, is_lost),
            Some(WriterEvent::GaveUp { sentence }) => self.book_waits(sentence, false),
            Some(WriterEvent::NewBook { path }) => self.tell(Notice::NewBook {
                path: path.display().to_string(),
            }),
            None => self.book_waits(STOPPED.to_owned(), false),
        }
        self.pass_on(now);
    }

    fn book_waits(&mut self, sentence: String, is_lost: bool) {
        self.show_book(BookState::Waits {
            sentence: sentence.clone(),
            is_lost,
        });
        self.tell(Notice::BookWaits { sentence });
        let free = self.commit_gate.go_ahead();
        self.hand_out(free);
    }

    /// Writes nothing down any more, and lets go of what waited for it; whether
    /// there was a book.
    pub fn go_without_book(&mut self, now: Moment) -> bool {
        if self.journal.take().is_none() {
            return false;
        }
        self.show_book(BookState::Left);
        self.tell(Notice::BookLeft);
        self.finds.let_go();
        let free = self.commit_gate.let_go();
        self.hand_out(free);
        self.pass_on(now);
        true
    }

    /// The lesson is over and the book is not waited for any longer: the end
    /// itself is told in any case.
    pub fn tell_end(&mut self) {
        let free = self.commit_gate.go_ahead();
        self.hand_out(free);
    }

    fn show_book(&mut self, state: BookState) {
        self.book = state.clone();
        self.todo.push_back(Todo::Book(state));
    }
}
