//! The start page for a browser and for printing: no network, no script, no
//! colour.

use std::fmt::Write;

use fifthpeg_core::svg::escaped;
use fifthpeg_front::html;

use super::start::{Line, MARK, Piece, Start};

/// Writing to a string cannot fail.
macro_rules! add {
    ($page:expr, $($what:tt)*) => {{ let _ = writeln!($page, $($what)*); }};
}

const STYLE: &str = include_str!("start.css");

/// The whole page.
pub fn page(start: &Start) -> String {
    let mut page = String::new();
    add!(page, "<p>{}</p>", escaped(&start.about));
    add!(
        page,
        "<p class=\"caution\"><strong>Take care of your ears.</strong> {}</p>",
        escaped(start.caution)
    );
    add!(page, "<h2>What to do, in this order</h2>");
    add!(page, "<ol>");
    for (number, step) in (1..).zip(&start.steps) {
        let player = match &start.sound {
            Some((file, of)) if number == 1 => format!(
                "<audio controls preload=\"none\" aria-label=\"The practice track\">\
                 <source src=\"{}\" type=\"{of}\"></audio>",
                escaped(file)
            ),
            _ => String::new(),
        };
        add!(page, "<li>{}{player}</li>", line(step));
    }
    add!(page, "</ol>");
    add!(page, "<h2>What is on the track</h2>");
    for words in &start.track {
        add!(page, "<p>{}</p>", escaped(words));
    }
    add!(page, "<h2>For whoever helps</h2>");
    add!(page, "<ul>");
    for words in &start.helpers {
        add!(page, "<li>{}</li>", line(words));
    }
    add!(page, "</ul>");
    add!(page, "<h2>What is in this folder</h2>");
    add!(page, "<ul>");
    for (file, what) in &start.files {
        add!(page, "<li>{}: {what}</li>", link(file));
    }
    add!(page, "</ul>");
    add!(page, "<p class=\"privacy\">{}</p>", escaped(&start.privacy));
    html::page(&start.title, STYLE, MARK, &page)
}

fn line(line: &Line) -> String {
    line.iter()
        .map(|piece| match piece {
            Piece::Words(words) => escaped(words),
            Piece::Strong(words) => format!("<strong>{}</strong>", escaped(words)),
            Piece::File(file) => link(file),
        })
        .collect()
}

/// File names are made of letters, digits, `-`, `_` and one dot: nothing that an
/// address would take for something else.
fn link(file: &str) -> String {
    let file = escaped(file);
    format!("<a href=\"{file}\">{file}</a>")
}
