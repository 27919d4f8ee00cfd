//! What is taken into the lesson book from files.

use std::path::PathBuf;

use fifthpeg_book::Book;
use fifthpeg_book::exchange::csv_files;

use crate::assert_may_be_shown;

/// A book that only tells what it would take in, in a folder of this process
/// and thread.
fn with_book(what: impl FnOnce(&mut Book, PathBuf)) {
    thread_local! {
        static BOOK: std::cell::RefCell<Option<(Book, PathBuf)>> = const {
            std::cell::RefCell::new(None)
        };
    }
    BOOK.with_borrow_mut(|book| {
        let (book, folder) = book.get_or_insert_with(|| {
            let thread = format!("{:?}", std::thread::current().id());
            let number: String = thread.chars().filter(char::is_ascii_digit).collect();
            let name = format!("fifthpeg-targets-{}-{number}", std::process::id());
            let folder = std::env::temp_dir().join(name);
            std::fs::create_dir_all(&folder).expect("a folder");
            let mut book = Book::open(&folder.join("lessons.book")).expect("a book");
            let reader = book.reader().expect("a reader");
            reader.export_csv(&folder.join("csv")).expect("an export");
            book.only_tell();
            (book, folder)
        });
        what(book, folder.clone());
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
