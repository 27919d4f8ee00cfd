//! Reading `NAME` or `NAME:ARGUMENT` against a table of kinds.

/// Whether a kind takes an argument.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Argument {
    Never,
    Optional,
    Needed,
}

/// What a table says of one kind.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row {
    pub(crate) name: &'static str,
    pub(crate) example: &'static str,
    pub(crate) argument: Argument,
}

/// Why a choice could not be read.
#[derive(Debug)]
pub(crate) enum Unread {
    /// No such name; how all of them are written.
    Unknown { known: String },
    /// Its argument is missing, empty, or one too many.
    Argument(Row),
}

/// The number of the row that was named, and the argument (empty if none).
pub(crate) fn read(
    text: &str,
    rows: impl Iterator<Item = Row> + Clone,
) -> Result<(usize, String), Unread> {
    let (name, argument) = match text.split_once(':') {
        Some((name, argument)) => (name, Some(argument)),
        None => (text, None),
    };
    let Some((kind, found)) = rows
        .clone()
        .enumerate()
        .find(|(_, row)| row.name.eq_ignore_ascii_case(name.trim()))
    else {
        return Err(Unread::Unknown {
            known: rows.map(|row| row.example).collect::<Vec<_>>().join(", "),
        });
    };
    let fits = match (found.argument, argument) {
        (Argument::Never, argument) => argument.is_none(),
        (Argument::Optional, argument) => argument != Some(""),
        (Argument::Needed, argument) => argument.is_some_and(|text| !text.is_empty()),
    };
    if fits {
        Ok((kind, argument.unwrap_or_default().to_owned()))
    } else {
        Err(Unread::Argument(found))
    }
}

/// How a choice is written.
pub(crate) fn write(
    f: &mut std::fmt::Formatter<'_>,
    name: &str,
    argument: &str,
) -> std::fmt::Result {
    f.write_str(name)?;
    if !argument.is_empty() {
        write!(f, ":{argument}")?;
    }
    Ok(())
}
