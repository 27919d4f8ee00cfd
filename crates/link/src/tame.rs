//! Words of a peer, made fit for a screen.

use fifthpeg_core::text::tamed;

/// What a peer said without the signs that would steer a screen: control
/// signs, separators of lines, invisible ones that turn the writing
/// direction or hide, and heaps of marks.
pub fn tame(said: &str) -> String {
    tamed(said)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_that_steer_are_left_out_and_words_stay() {
        assert_eq!(tame("\u{1b}[2JMarta\r\n"), "[2JMarta");
        assert_eq!(
            tame("a\u{202e}b\u{2066}c\u{2069}d\u{2028}e\u{2029}"),
            "abcde"
        );
        assert_eq!(tame("Žofie 🪕"), "Žofie 🪕");
    }
}
