//! A neck written out as the text of a neck file.

use std::fmt::Write;

use crate::{Neck, Spelling};

impl Neck {
    /// The text of a neck file that reads back as this very neck.
    pub fn to_toml(&self) -> String {
        let neck = self.description();
        let mut text = String::new();
        // Writing to a String cannot fail.
        let _ = writeln!(text, "name = {}", quoted(&neck.name));
        let _ = writeln!(text, "scale_length_mm = {:?}", neck.scale_length_mm);
        let _ = writeln!(text, "frets = {}", self.last_fret());
        for (number, string) in self.numbered_strings() {
            let _ = writeln!(text, "\n[[strings]] # string {number}");
            let _ = writeln!(
                text,
                "open = \"{}\"",
                string.open.ascii_name(Spelling::Sharps)
            );
            if string.first_fret > 0 {
                let _ = writeln!(text, "first_fret = {}", string.first_fret);
            }
            if string.last_fret != self.last_fret() {
                let _ = writeln!(text, "last_fret = {}", string.last_fret);
            }
            if !string.course.is_empty() {
                let _ = writeln!(text, "course = {:?}", string.course);
            }
        }
        if let Some(capo) = neck.capo {
            let _ = writeln!(text, "\n[capo]\nfret = {}", capo.fret);
            if let Some(short) = capo.short {
                let _ = writeln!(text, "short = {short}");
            }
        }
        text
    }
}

/// A basic TOML string. A neck's name holds no control characters, so only
/// these two need care.
fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}
