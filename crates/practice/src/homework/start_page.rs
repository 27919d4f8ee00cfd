//! The start page for a browser and for printing: no network, no script, no
//! colour.

use std::fmt::Write;

use fifthpeg_core::svg::escaped;
use fifthpeg_front::html;

use super::start::{MARK, Paragraph, Piece, REPORT, StartWords};
use crate::track::html::{STYLE as SHEET_STYLE, answers};
use crate::track::practice::Practice;

/// Writing to a string cannot fail.
macro_rules! add {
    ($page:expr, $($what:tt)*) => {{ let _ = writeln!($page, $($what)*); }};
}

const STYLE: &str = include_str!("start.css");

/// The whole page.
pub fn page(start: &StartWords) -> String {
    let player = start
        .sound
        .as_ref()
        .map(|(file, of)| player(&escaped(file), of));
    let mut page = String::new();
    body(&mut page, start, player, &link);
    add!(page, "<h2>What is in this folder</h2>");
    add!(page, "<ul>");
    for (file, what) in &start.files {
        add!(page, "<li>{}: {what}</li>", link(file));
    }
    add!(page, "</ul>");
    add!(page, "<p class=\"privacy\">{}</p>", escaped(&start.privacy));
    html::page(&start.title, STYLE, MARK, &page)
}

/// The page with the sound and the answers inside, to be sent as one file.
pub fn in_one(start: &StartWords, sound: &[u8], practice: &Practice) -> String {
    // An address of its own content (RFC 2397).
    let data = |of: &str| format!("data:{of};base64,{}", base64(sound));
    let player = start.sound.as_ref().map(|(_, of)| player(&data(of), of));
    let within = |file: &str| match start.sheet.as_deref() == Some(file) {
        true => "<a href=\"#answers\">at the end of this page</a>".to_owned(),
        false => "the track, just below".to_owned(),
    };
    let mut page = String::new();
    body(&mut page, start, player, &within);
    if start.sheet.is_some() {
        add!(page, "<h2 id=\"answers\">Answer sheet</h2>");
        add!(
            page,
            "<details><summary>Show the answers (only after the track)</summary>"
        );
        answers(&mut page, practice);
        add!(page, "</details>");
    }
    add!(
        page,
        "<p class=\"privacy\">This page is made for one student alone. Mind who may see it, and \
         delete it once it is no longer needed.</p>"
    );
    html::page(&start.title, &format!("{SHEET_STYLE}{STYLE}"), MARK, &page)
}

fn player(address: &str, of: &str) -> String {
    format!(
        "<audio controls preload=\"none\" aria-label=\"The practice track\">\
         <source src=\"{address}\" type=\"{of}\"></audio>"
    )
}

/// What both pages say; `named` writes a file of the folder.
fn body(page: &mut String, start: &StartWords, player: Option<String>, named: Named<'_>) {
    add!(page, "<p>{}</p>", escaped(&start.about));
    add!(
        page,
        "<p class=\"caution\"><strong>Take care of your ears.</strong> {}</p>",
        escaped(start.caution)
    );
    add!(page, "<h2>What to do, in this order</h2>");
    add!(page, "<ol>");
    let mut player = player.unwrap_or_default();
    for step in &start.steps {
        add!(
            page,
            "<li>{}{}</li>",
            line(step, named),
            std::mem::take(&mut player)
        );
    }
    add!(page, "</ol>");
    add!(page, "<h2>What is on the track</h2>");
    for words in &start.track {
        add!(page, "<p>{}</p>", escaped(words));
    }
    add!(page, "<h2>For whoever helps</h2>");
    add!(page, "<ul>");
    let is_report = |piece: &Piece| matches!(piece, Piece::File(file) if file == REPORT);
    for words in &start.helpers {
        // Beside the page in the folder, and not in what is sent.
        if named(REPORT) == link(REPORT) || !words.iter().any(is_report) {
            add!(page, "<li>{}</li>", line(words, named));
        }
    }
    add!(page, "</ul>");
}

type Named<'a> = &'a dyn Fn(&str) -> String;

fn line(line: &Paragraph, named: Named<'_>) -> String {
    line.iter()
        .map(|piece| match piece {
            Piece::Words(words) => escaped(words),
            Piece::Strong(words) => format!("<strong>{}</strong>", escaped(words)),
            Piece::File(file) => named(file),
        })
        .collect()
}

/// File names are made of letters, digits, `-`, `_` and one dot: nothing that an
/// address would take for something else.
fn link(file: &str) -> String {
    let file = escaped(file);
    format!("<a href=\"{file}\">{file}</a>")
}

/// Base64 (RFC 4648, section 4).
fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let byte = |n: usize| u32::from(three.get(n).copied().unwrap_or(0));
        let all = byte(0) << 16 | byte(1) << 8 | byte(2);
        for n in 0..4_usize {
            let six = (all >> (18 - 6 * n)) & 63;
            out.push(match n <= three.len() {
                true => char::from(SIGNS[six as usize]),
                false => '=',
            });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648, section 10.
    #[test]
    fn base64_is_as_in_the_standard() {
        for (bytes, text) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(bytes.as_bytes()), text);
        }
        assert_eq!(base64(&[0xff, 0xef, 0xbe]), "/+++");
    }
}
