//! One event as one line: when, how important, where, what, and its fields.

use core::fmt::{self, Debug, Write as _};

use jiff::Timestamp;
use tracing::Event;
use tracing::field::{Field, Visit};

use crate::fields::is_known;
use crate::level::Detail;

/// The program's own targets begin like this; the libraries' do not.
pub(crate) const OURS: &str = "fifthpeg";
/// The most that one value takes up.
const LONGEST: usize = 120;

/// The line for an event, with its end.
pub(crate) fn line(event: &Event<'_>, now: Timestamp) -> String {
    let about = event.metadata();
    let detail = Detail::of(*about.level());
    let place = about.target().strip_prefix("fifthpeg_").unwrap_or("cli");
    let place = place.split("::").next().unwrap_or(place);
    let mut line = format!("{now:.3} {detail:<7} {place:<7} {}", about.name());
    event.record(&mut Fields(&mut line));
    line.push('\n');
    line
}

struct Fields<'a>(&'a mut String);

impl Fields<'_> {
    fn write(&mut self, field: &Field, value: fmt::Arguments<'_>) {
        let known = is_known(field.name());
        debug_assert!(known, "{} is not in the table of fields", field.name());
        if known {
            // A line is never too long to be written.
            let _ = write!(self.0, " {}=", field.name());
            let _ = write!(Value(self.0, LONGEST), "{value}");
        }
    }
}

impl Visit for Fields<'_> {
    fn record_debug(&mut self, field: &Field, value: &dyn Debug) {
        self.write(field, format_args!("{value:?}"));
    }

    fn record_str(&mut self, field: &Field, value: &str) {
        self.write(field, format_args!("{value}"));
    }
}

/// Lets plain signs through, so many of them; a space is shown as `_`.
struct Value<'a>(&'a mut String, usize);

impl fmt::Write for Value<'_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        for sign in text.chars() {
            self.1 = self.1.checked_sub(1).ok_or(fmt::Error)?;
            self.0.push(match sign {
                ' ' => '_',
                sign if sign.is_ascii_alphanumeric() || "_.,:*~<>()/+-".contains(sign) => sign,
                _ => '?',
            });
        }
        Ok(())
    }
}
