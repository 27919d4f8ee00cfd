//! What is taken into the lesson book from files.

use std::path::{Path, PathBuf};

use fifthpeg_book::Book;
use fifthpeg_book::exchange::csv_files;

use crate::assert_may_be_shown;

/// A folder that goes with the thread it is for.
struct Folder(PathBuf);

impl Drop for Folder {
    fn drop(&mut self) {
        // One that stays is only untidy.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// A book that only tells what it would take in, in a folder of this process
/// and thread.
fn with_book(what: impl FnOnce(&mut Book, &Path)) {
    thread_local! {
        // The book is closed before its folder goes.
        static BOOK: std::cell::RefCell<Option<(Book, Folder)>> = const {
            std::cell::RefCell::new(None)
        };
    }
    BOOK.with_borrow_mut(|book| {
        let (book, folder) = book.get_or_insert_with(|| {
            let thread = format!("{:?}", std::thread::current().id());
            let number: String = thread.chars().filter(char::is_ascii_digit).collect();
            let name = format!("fifthpeg-targets-{}-{number}", std::process::id());
            let folder = Folder(std::env::temp_dir().join(name));
            std::fs::create_dir_all(&folder.0).expect("a folder");
            let mut book = Book::open(&folder.0.join("lessons.book")).expect("a book");
            let reader = book.reader().expect("a reader");
            reader.export_csv(&folder.0.join("csv")).expect("an export");
            book.only_tell();
            (book, folder)
        });
        what(book, &folder.0);
    });
}

/// A JSON file.
pub fn json(bytes: &[u8]) {
    with_book(|book, folder| {
        let path = folder.join("in.json");
        std::fs::write(&path, bytes).expect("room for a file");
        if let Err(why) = book.import_json(&path) {
            assert_may_be_shown(&why.to_string());
        }
    });
}

/// One CSV file among others: the first byte says which.
pub fn csv(bytes: &[u8]) {
    let Some((which, content)) = bytes.split_first() else {
        return;
    };
    with_book(|book, folder| {
        let names = csv_files();
        let folder = folder.join("csv");
        let path = folder.join(&names[usize::from(*which) % names.len()]);
        let before = std::fs::read(&path).expect("an export");
        std::fs::write(&path, content).expect("room for a file");
        if let Err(why) = book.import_csv(&folder) {
            assert_may_be_shown(&why.to_string());
        }
        std::fs::write(&path, before).expect("room for a file");
    });
}
