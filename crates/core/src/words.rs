//! Help for messages: the nearest known word, and long input cut short.

/// The known word with the fewest single-letter changes from `text`, if they
/// are few enough for it to have been meant.
pub(crate) fn nearest<'a>(text: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // Nobody means a known word by a hundred letters, and the table is square.
    if text.chars().count() > 40 {
        return None;
    }
    let (changes, word) = known
        .into_iter()
        .map(|word| (changes(text, word), word))
        .min_by_key(|(n, _)| *n)?;
    let allowed = (word.chars().count() / 2).max(2);
    (changes <= allowed).then_some(word)
}

/// Letters to insert, leave out or replace to make `b` of `a` (Levenshtein's
/// distance).
fn changes(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, to) in b.iter().enumerate() {
            let replaced = diagonal + usize::from(from != *to);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

/// `text` made fit to quote in one line: what may not be shown left out, and cut
/// after 40 letters.
pub(crate) fn shortened(text: &str) -> String {
    let clean = crate::text::tamed(text.trim());
    let mut letters = clean.chars();
    let mut short: String = letters.by_ref().take(40).collect();
    if letters.next().is_some() {
        short.push('…');
    }
    short
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances() {
        assert_eq!(changes("kitten", "sitting"), 3);
        assert_eq!(changes("", "abc"), 3);
        assert_eq!(changes("fret", "fret"), 0);
    }

    #[test]
    fn nearest_gives_up_on_nonsense() {
        assert_eq!(nearest("strngs", ["name", "strings"]), Some("strings"));
        assert_eq!(nearest("zzzzzzzz", ["name", "strings"]), None);
    }

    #[test]
    fn quoting_is_safe() {
        assert_eq!(shortened(" a\u{1b}[2Jb\n"), "a[2Jb");
        assert_eq!(shortened("a\u{202e}b\u{2028}c"), "abc");
        // Found by made-up bytes: a heap of marks.
        let heap = format!("%{}", "\u{7f0}".repeat(5));
        assert!(crate::text::may_be_shown(&shortened(&heap)));
        assert_eq!(shortened(&"x".repeat(50)).chars().count(), 41);
    }
}
