//! What a page is made of: sections, paragraphs, lists, pictures, tables.

use std::fmt::Write;

use fifthpeg_core::svg::escaped;

use super::super::pictures::Width;

/// Writing to a string cannot fail.
macro_rules! add {
    ($page:expr, $($what:tt)*) => {{ let _ = write!($page, $($what)*); }};
}

pub(super) fn sentence(words: &str) -> String {
    let mut signs = words.chars();
    let first = signs.next().map(|c| c.to_uppercase().to_string());
    format!("{}{}.", first.unwrap_or_default(), signs.as_str())
}

pub(super) fn paragraph(page: &mut String, words: &str) {
    add!(page, "<p>{}</p>\n", escaped(words));
}

pub(super) fn list(page: &mut String, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    page.push_str("<ul>\n");
    for line in lines {
        add!(page, "<li>{}</li>\n", escaped(line));
    }
    page.push_str("</ul>\n");
}

pub(super) fn section(page: &mut String, title: &str, write: impl FnOnce(&mut String)) {
    add!(page, "<section>\n<h2>{}</h2>\n", escaped(title));
    write(page);
    page.push_str("</section>\n");
}

/// A picture with what is to be known of it, drawn for a page and for a telephone:
/// each shows the one that fits.
pub(super) fn figure(page: &mut String, draw: impl Fn(Width) -> String, caption: &str) {
    add!(
        page,
        "<figure>\n<div class=\"on-page\">{}</div>\n<div class=\"on-phone\">{}</div>\n\
         <figcaption>{}</figcaption>\n</figure>\n",
        draw(Width::Page),
        draw(Width::Phone),
        escaped(caption)
    );
}

/// A table whose first column names its rows. On a telephone each row folds: its
/// cells stand below each other, each after its column's name. It says its roles
/// itself, since browsers forget them then.
pub(super) fn table(page: &mut String, caption: &str, heads: &[&str], rows: &[Vec<String>]) {
    add!(
        page,
        "<table role=\"table\">\n<caption>{}</caption>\n\
         <thead role=\"rowgroup\"><tr role=\"row\">",
        escaped(caption)
    );
    for head in heads {
        add!(
            page,
            "<th scope=\"col\" role=\"columnheader\">{}</th>",
            escaped(head)
        );
    }
    page.push_str("</tr></thead>\n<tbody role=\"rowgroup\">\n");
    for row in rows {
        page.push_str("<tr role=\"row\">");
        for (n, (cell, head)) in row.iter().zip(heads).enumerate() {
            if n == 0 {
                add!(
                    page,
                    "<th scope=\"row\" role=\"rowheader\">{}</th>",
                    escaped(cell)
                );
            } else {
                add!(
                    page,
                    "<td role=\"cell\" data-head=\"{}\">{}</td>",
                    escaped(head),
                    escaped(cell)
                );
            }
        }
        page.push_str("</tr>\n");
    }
    page.push_str("</tbody>\n</table>\n");
}
