//! Text on as many lines as it takes, for terminals, screens and pages of plain text.

use unicode_width::UnicodeWidthStr;

/// A text in lines of at most so many columns, broken between words only; those behind
/// the first begin with `further`. Spaces before the first word and between words stay.
pub fn wrapped(text: &str, columns: usize, further: &str) -> Vec<String> {
    let (indent, words) = text.split_at(text.len() - text.trim_start_matches(' ').len());
    let mut words = words.split(' ');
    let mut line = format!("{indent}{}", words.next().unwrap_or_default());
    let mut lines = Vec::new();
    for word in words {
        if line.width() + 1 + word.width() <= columns {
            line.push(' ');
            line.push_str(word);
        } else {
            lines.push(std::mem::replace(&mut line, format!("{further}{word}")));
        }
    }
    lines.push(line);
    lines
}

/// The same, with the lines behind the first two columns further in.
pub fn hanging(text: &str, columns: usize) -> Vec<String> {
    let indent = text.len() - text.trim_start_matches(' ').len();
    wrapped(text, columns, &" ".repeat(indent + 2))
}

/// Rows under their headings, each column as wide as its widest entry.
pub fn columns<const N: usize>(headings: [&str; N], rows: &[[String; N]]) -> Vec<String> {
    let wide = |column: usize| {
        let cells = rows.iter().map(|row| row[column].chars().count());
        cells.max().unwrap_or(0).max(headings[column].len())
    };
    let widths: Vec<usize> = (0..N).map(wide).collect();
    let line = |cells: &[String; N]| {
        let padded = cells.iter().zip(&widths).map(|(cell, wide)| {
            let gap = wide.saturating_sub(cell.chars().count());
            format!("{cell}{}", " ".repeat(gap))
        });
        let line = padded.collect::<Vec<_>>().join("  ");
        line.trim_end().to_owned()
    };
    let head = headings.map(str::to_owned);
    std::iter::once(&head).chain(rows).map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up() {
        let row = |a: &str, b: &str| [a.to_owned(), b.to_owned()];
        let lines = columns(
            ["name", "lessons"],
            &[row("Mia", "6"), row("Wilhelmine", "12")],
        );
        assert_eq!(
            lines,
            ["name        lessons", "Mia         6", "Wilhelmine  12"]
        );
    }

    #[test]
    fn a_long_line_is_broken_between_words() {
        let menu = "  4  tune the strings, or try out the microphone and loudspeakers";
        assert_eq!(
            hanging(menu, 60),
            [
                "  4  tune the strings, or try out the microphone and",
                "    loudspeakers"
            ]
        );
        assert_eq!(hanging(menu, 80), [menu]);
        let row = "Mia    8      0% (0 to 32%)";
        assert_eq!(hanging(row, 40), [row]);
        let word = "unbroken".repeat(12);
        assert_eq!(hanging(&word, 60), [word]);
        assert_eq!(hanging("", 60), [""]);
    }

    #[test]
    fn lines_are_measured_in_columns_not_in_letters() {
        // East Asian Wide: two columns each (Unicode Standard Annex 11).
        assert_eq!(wrapped("海海 海海", 8, ""), ["海海", "海海"]);
        assert_eq!(wrapped("海海 海海", 9, ""), ["海海 海海"]);
    }
}
