//! The start page as plain text, for any reader.

use super::start::{Paragraph, Piece, StartWords};
use crate::track::page_text::{item, wrapped};

/// The whole page.
pub fn page(start: &StartWords) -> String {
    let mut lines = wrapped(&start.title, "");
    lines.extend(wrapped(&start.about, ""));
    let heading = |lines: &mut Vec<String>, words: &str| {
        lines.extend([String::new(), words.to_owned()]);
    };
    lines.push(String::new());
    lines.extend(wrapped(
        &format!("Take care of your ears. {}", start.caution),
        "",
    ));
    heading(&mut lines, "What to do, in this order:");
    for (number, step) in (1..).zip(&start.steps) {
        lines.extend(item(&format!("{number}. "), &line(step)));
    }
    heading(&mut lines, "What is on the track:");
    for words in &start.track {
        lines.extend(wrapped(words, ""));
    }
    heading(&mut lines, "For whoever helps:");
    for words in &start.helpers {
        lines.extend(item("*  ", &line(words)));
    }
    heading(&mut lines, "What is in this folder:");
    for (file, what) in &start.files {
        lines.extend(item("*  ", &format!("{file}: {what}")));
    }
    lines.push(String::new());
    lines.extend(wrapped(&start.privacy, ""));
    lines.push(String::new());
    lines.join("\n")
}

fn line(line: &Paragraph) -> String {
    line.iter()
        .map(|piece| match piece {
            Piece::Words(words) => words.as_str(),
            Piece::Strong(words) => words,
            Piece::File(file) => file,
        })
        .collect()
}
