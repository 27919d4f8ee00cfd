//! What all pages for a browser have around them: no network, no script.

use fifthpeg_core::svg::escaped;

/// A whole page of this title, not escaped yet, and this style. `mark` is a comment
/// that says what kind of page it is, or empty; `body` follows the heading.
pub fn page(title: &str, style: &str, mark: &str, body: &str) -> String {
    let title = escaped(title);
    let mark = match mark {
        "" => String::new(),
        mark => format!("{mark}\n"),
    };
    format!(
        "<!DOCTYPE html>\n\
         <html lang=\"en\">\n\
         <head>\n\
         <meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         {mark}\
         <title>{title}</title>\n\
         <style>{style}</style>\n\
         </head>\n\
         <body>\n\
         <main>\n\
         <h1>{title}</h1>\n\
         {body}\
         </main>\n\
         </body>\n\
         </html>\n"
    )
}
