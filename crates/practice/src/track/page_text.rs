//! The answer sheet as plain text: ASCII, 80 columns.

use fifthpeg_front::neck_text::{self, Look};
use fifthpeg_front::wrap;

use super::practice::Practice;
use super::sheet::{self, CAUTION};

const COLUMNS: usize = 80;

/// The whole page.
pub fn page(practice: &Practice) -> String {
    let look = Look {
        spelling: practice.spelling,
        ascii: true,
        left_handed: practice.left_handed,
        columns: COLUMNS,
    };
    let mut lines = vec![format!("Practice track: {}", practice.title), String::new()];
    for line in practice.about() {
        lines.extend(wrapped(&line, ""));
    }
    lines.push(String::new());
    lines.extend(wrapped(CAUTION, ""));
    lines.extend([String::new(), "At each call:".to_owned()]);
    for (number, step) in (1..).zip(practice.steps()) {
        lines.extend(item(&format!("{number}. "), &step));
    }
    lines.extend([String::new(), "The answers:".to_owned(), String::new()]);
    lines.extend(wrapped(&practice.how_places_are_written(), ""));
    lines.push(String::new());
    lines.push("call     time  note  every place on the neck".to_owned());
    for call in &practice.plan.calls {
        lines.push(format!(
            "{:>4}  {:>7}  {:<4}  {}",
            call.number,
            sheet::clock(call.at),
            look.name(call.pitch),
            sheet::short(&practice.neck.places(call.pitch)),
        ));
    }
    lines.extend([String::new(), "Where each note lies:".to_owned()]);
    for (pitch, calls) in practice.notes() {
        lines.push(String::new());
        let said = format!(
            "{} ({}): {}",
            look.name(pitch),
            practice.calls_words(&calls),
            practice.places_words(pitch)
        );
        lines.extend(wrapped(&said, ""));
        let drawn = neck_text::marked(&practice.neck, &practice.neck.places(pitch), look);
        // The neck's own title has been said.
        let titles = 1 + usize::from(practice.neck.capo().is_some());
        lines.extend(drawn.into_iter().skip(titles));
    }
    lines.push(String::new());
    lines.extend(wrapped(&practice.once_more(), ""));
    // Not wrapped, so that it can be taken as it stands.
    lines.push(practice.command.clone());
    let mut page = lines.join("\n");
    page.push('\n');
    page
}

/// Wrapped, with `sign` before its first line.
pub fn item(sign: &str, words: &str) -> Vec<String> {
    let mut lines = wrapped(words, "   ");
    if let Some(first) = lines.first_mut() {
        first.replace_range(..3, &format!("{sign:<3}")[..3]);
    }
    lines
}

/// Words in lines of at most [`COLUMNS`], each after the same indent.
pub(crate) fn wrapped(words: &str, indent: &str) -> Vec<String> {
    wrap::wrapped(&format!("{indent}{words}"), COLUMNS, indent)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_wrapped_between_words() {
        let lines = wrapped(&"twelve signs ".repeat(20), "   ");
        assert!(
            lines
                .iter()
                .all(|line| line.len() <= COLUMNS && line.starts_with("   t")
                    || line.starts_with("   s"))
        );
        assert_eq!(lines.join(" ").split_whitespace().count(), 40);
    }
}
