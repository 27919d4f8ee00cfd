//! Small helpers for lines of text.

use std::time::Duration;

use crate::text::one_line;

/// Longest piece of somebody's input that is quoted back.
const QUOTED_CHARS: usize = 40;

/// Somebody's input, safe to quote in a sentence: no signs that steer a screen,
/// not long.
pub fn shown(input: &str) -> String {
    let start: String = input.chars().take(QUOTED_CHARS).collect();
    let mut out = one_line(&start);
    if input.chars().count() > QUOTED_CHARS {
        out.push_str("...");
    }
    out
}

/// "a, b or c".
pub fn list_or<S: AsRef<str>>(words: &[S]) -> String {
    list(words, "or")
}

/// "a, b and c".
pub fn list_and<S: AsRef<str>>(words: &[S]) -> String {
    list(words, "and")
}

fn list<S: AsRef<str>>(words: &[S], between: &str) -> String {
    let words: Vec<&str> = words.iter().map(AsRef::as_ref).collect();
    match &words[..] {
        [rest @ .., last] if !rest.is_empty() => {
            format!("{} {between} {last}", rest.join(", "))
        }
        words => words.concat(),
    }
}

/// Seconds with two decimals, "4.21 s".
pub fn seconds(time: Duration) -> String {
    format!("{:.2} s", time.as_secs_f64())
}

/// A measured time with how far it may be off, "4.21 s +/- 0.04 s"; never an
/// uncertainty of nought, which nobody has.
pub fn measured(time: Duration, uncertainty: Duration) -> String {
    let hundredths = uncertainty.as_micros().div_ceil(10_000).max(1);
    format!(
        "{} +/- {}.{:02} s",
        seconds(time),
        hundredths / 100,
        hundredths % 100
    )
}

/// "1 student", "2 students".
pub fn count(number: usize, what: &str) -> String {
    counted(number, what, &format!("{what}s"))
}

/// "1 try", "2 tries".
pub fn counted(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quoted_input_is_short_and_tame() {
        assert_eq!(shown("a\u{1b}[2Jb"), "a?[2Jb");
        assert_eq!(shown("\u{202e}aiM"), "?aiM");
        assert_eq!(shown(&"x".repeat(100)).chars().count(), QUOTED_CHARS + 3);
    }

    #[test]
    fn an_uncertainty_is_rounded_up_and_never_nought() {
        let time = Duration::from_millis(4212);
        assert_eq!(measured(time, Duration::ZERO), "4.21 s +/- 0.01 s");
        assert_eq!(
            measured(time, Duration::from_micros(40_001)),
            "4.21 s +/- 0.05 s"
        );
        assert_eq!(
            measured(time, Duration::from_millis(1200)),
            "4.21 s +/- 1.20 s"
        );
    }
}
