//! What an error or a state is, without anything that it holds.

use core::fmt::{self, Debug, Display, Write};
use std::error::Error;

/// What a value is and not what it holds: the name of its variant, as its derived `Debug` begins. Texts,
/// numbers and named fields end it, so no content can follow.
#[derive(Clone, Copy)]
pub struct Kind<'a>(pub &'a dyn Debug);

impl Display for Kind<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut name = Name::new(f, false);
        // Being full is how it stops.
        let _ = write!(name, "{:?}", self.0);
        Ok(())
    }
}

/// An error with all its sources, each by its kind; the system's own errors with their code.
#[derive(Clone, Copy)]
pub struct Chain<'a>(pub &'a (dyn Error + 'static));

impl Display for Chain<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut next = Some(self.0);
        let mut first = true;
        while let Some(error) = next {
            if !std::mem::take(&mut first) {
                f.write_str("<")?;
            }
            if let Some(error) = error.downcast_ref::<std::io::Error>() {
                write!(f, "io:{:?}", error.kind())?;
                if let Some(code) = error.raw_os_error() {
                    write!(f, ":{code}")?;
                }
            } else {
                let _ = write!(Name::new(f, true), "{error:?}");
            }
            next = error.source();
        }
        Ok(())
    }
}

/// Lets the names through that a derived `Debug` begins with, and then takes no more.
struct Name<'a, 'b> {
    to: &'a mut fmt::Formatter<'b>,
    /// Whether a variant within a variant is named, too.
    nested: bool,
    /// At the beginning, or where a variant's bracket is open: a name may follow.
    opened: bool,
    /// Some name has been let through.
    begun: bool,
}

impl<'a, 'b> Name<'a, 'b> {
    fn new(to: &'a mut fmt::Formatter<'b>, nested: bool) -> Self {
        Self {
            to,
            nested,
            opened: true,
            begun: false,
        }
    }
}

impl Write for Name<'_, '_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        for sign in text.chars() {
            match sign {
                '(' if self.nested && !self.opened => self.opened = true,
                // Variants and types begin like this; what a text or a number holds does not come bare.
                sign if self.opened => {
                    if !sign.is_ascii_uppercase() {
                        return Err(fmt::Error);
                    }
                    if std::mem::replace(&mut self.begun, true) {
                        self.to.write_char(':')?;
                    }
                    self.opened = false;
                    self.to.write_char(sign)?;
                }
                sign if sign.is_ascii_alphanumeric() => self.to.write_char(sign)?,
                _ => return Err(fmt::Error),
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, thiserror::Error)]
    enum Outer {
        #[error("{0}")]
        Wrapped(#[source] Inner),
        #[error("{name}")]
        Named {
            name: String,
            source: std::io::Error,
        },
        #[error("said")]
        Said(String),
    }

    #[derive(Debug, thiserror::Error)]
    enum Inner {
        #[error("full")]
        Full,
    }

    #[test]
    fn an_error_is_told_by_its_kinds_and_codes_alone() {
        let named = Outer::Named {
            name: "Marta".into(),
            source: std::io::Error::from_raw_os_error(28),
        };
        assert_eq!(Chain(&named).to_string(), "Named<io:StorageFull:28");
        assert_eq!(Kind(&named).to_string(), "Named");
        let wrapped = Outer::Wrapped(Inner::Full);
        assert_eq!(Chain(&wrapped).to_string(), "Wrapped:Full<Full");
        let said = Outer::Said("Marta is out of tune".into());
        assert_eq!(Chain(&said).to_string(), "Said");
        // An error that is a text alone has nothing that may be told.
        let text: Box<dyn Error + Send + Sync> = "Marta".into();
        assert_eq!(Chain(&*text).to_string(), "");
    }

    #[test]
    fn a_state_is_told_by_its_name_alone() {
        assert_eq!(Kind(&Some("F#4")).to_string(), "Some");
        assert_eq!(Kind(&"Marta").to_string(), "");
        assert_eq!(Kind(&440.0).to_string(), "");
    }
}
