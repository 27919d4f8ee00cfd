//! Lines, columns, and a question before what cannot be taken back.

use std::io::BufRead;

use fifthpeg_front::failure::Failure;
use fifthpeg_front::out;

pub use fifthpeg_front::out::say;

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

/// Asks; true for `yes`. Without anybody there to answer it is a failure, so
/// that no script goes on as if it had been done.
pub fn sure(yes: bool, question: &str) -> Result<bool, Failure> {
    if yes {
        return Ok(true);
    }
    out::ask(&format!(
        "{question} Type yes, or anything else to leave it:"
    ));
    let mut answer = String::new();
    let read = std::io::stdin().lock().read_line(&mut answer);
    if !matches!(read, Ok(1..)) {
        say(&[""])?;
        return Err(Failure::usage(
            "nobody answered, so nothing was changed: answer yes, or add --yes",
        ));
    }
    if answer.trim().eq_ignore_ascii_case("yes") {
        return Ok(true);
    }
    say(&["nothing was changed".to_owned()])?;
    Ok(false)
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
}
