//! The trims of outputs, kept in the user's configuration folder.
//!
//! One file, `outputs.toml`, with a table for each output by the name that the
//! sound system gives it. What else stands in the file, notes too, stays as it is.
//! A file that cannot be read is never written over.

use std::io::Write;
use std::path::{Path, PathBuf};

use fifthpeg_core::Cause;
use fifthpeg_core::text::shown;
use fifthpeg_sound::{TRIMS_MS, Trim};
use thiserror::Error;
use toml_edit::{DocumentMut, Item, Table, value};

/// The file in its folder.
const FILE: &str = "outputs.toml";
/// More than this is no file of ours, in bytes.
const MOST_BYTES: u64 = 1_000_000;
/// What a new file begins with.
const HEAD: &str = "\
# How much later sound leaves an output than the sound system says, in milliseconds,
# below nought if earlier, and how far that may be out. Kept by `fifthpeg listen`.
# An output is known by the name that the sound system gives it.
";
const LATER: &str = "later_ms";
const WITHIN: &str = "within_ms";

/// Why trims cannot be read or kept.
#[derive(Debug, Error, PartialEq)]
pub enum TrimsError {
    /// There is no folder for it.
    #[error(
        "this system names no folder for settings, so no trim can be kept: give --trim each time"
    )]
    NoFolder,
    /// It cannot be read.
    #[error("{path} cannot be read ({why}): see that it may be, or take it away")]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// Why.
        #[source]
        why: Cause,
    },
    /// It is not what it should be.
    #[error("{path} is damaged ({why}): mend it or take it away; nothing in it was changed")]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        #[source]
        why: Cause,
    },
    /// It cannot be written.
    #[error(
        "the trim is not kept, since {path} cannot be written ({why}): what stood in it still does"
    )]
    Unwritable {
        /// The file.
        path: PathBuf,
        /// Why.
        #[source]
        why: Cause,
    },
}

/// The file of trims.
#[derive(Debug, Clone)]
pub struct Trims {
    path: Option<PathBuf>,
}

impl Trims {
    /// Where they are usually kept: in the program's folder for settings.
    pub fn usual() -> Trims {
        Trims::in_folder(fifthpeg_files::folder(fifthpeg_files::Kept::Settings))
    }

    /// A place where none can be.
    #[cfg(test)]
    pub(crate) fn nowhere() -> Trims {
        Trims { path: None }
    }

    fn in_folder(folder: Option<PathBuf>) -> Trims {
        Trims {
            path: folder.map(|folder| folder.join(FILE)),
        }
    }

    /// The trim of this output, if one is kept.
    ///
    /// # Errors
    /// When the file is there and cannot be read, or is damaged.
    pub fn of(&self, output: &str) -> Result<Option<Trim>, TrimsError> {
        let Some(path) = &self.path else {
            return Ok(None);
        };
        let document = read(path)?;
        let Some(kept) = document.get(output) else {
            return Ok(None);
        };
        let ms = |key| {
            let item = kept.get(key);
            item.and_then(|x| x.as_float().or_else(|| Some(x.as_integer()? as f64)))
        };
        ms(LATER)
            .zip(ms(WITHIN))
            .and_then(|(later, within)| Trim::measured(later, within).ok())
            .map(Some)
            .ok_or_else(|| TrimsError::Damaged {
                path: path.clone(),
                why: format!("the trim of \"{output}\" makes no sense").into(),
            })
    }

    /// Keeps a trim for this output, in place of an older one.
    ///
    /// # Errors
    /// When the file is damaged or cannot be written: it is as it was.
    pub fn keep(&self, output: &str, trim: Trim) -> Result<(), TrimsError> {
        let path = self.path.as_ref().ok_or(TrimsError::NoFolder)?;
        let mut document = read(path)?;
        if document.get(output).is_none_or(|item| !item.is_table()) {
            let mut table = Table::new();
            if document.is_empty() {
                // What stands in a file without tables stays at its head.
                let head = document.trailing().as_str().unwrap_or_default().to_owned();
                let whole = head.is_empty() || head.ends_with('\n');
                let end = if whole { "" } else { "\n" };
                table.decor_mut().set_prefix(head + end);
                document.set_trailing("");
            }
            document.insert(output, Item::Table(table));
        }
        let tenths = |ms: f64| value((ms * 10.0).round() / 10.0);
        document[output][LATER] = tenths(trim.later_ms());
        document[output][WITHIN] = tenths(trim.within_ms());
        write(path, &document)
    }

    /// Forgets the trim of this output; whether there was one.
    ///
    /// # Errors
    /// As [`Trims::keep`].
    pub fn remove(&self, output: &str) -> Result<bool, TrimsError> {
        let path = self.path.as_ref().ok_or(TrimsError::NoFolder)?;
        let mut document = read(path)?;
        let is_first = document
            .iter()
            .next()
            .is_some_and(|(name, _)| name == output);
        let Some(removed) = document.remove(output) else {
            return Ok(false);
        };
        if is_first {
            keep_head(&mut document, &removed);
        }
        write(path, &document).map(|()| true)
    }
}

/// What stood before the first table stays at the file's head.
fn keep_head(document: &mut DocumentMut, removed: &Item) {
    let text = |item: &Item| {
        let prefix = item.as_table()?.decor().prefix()?.as_str()?;
        Some(prefix.to_owned())
    };
    let head = text(removed).unwrap_or_default();
    if document.is_empty() {
        document.set_trailing(head);
        return;
    }
    if let Some((_, next)) = document.iter_mut().next() {
        let all = head + text(next).unwrap_or_default().trim_start_matches('\n');
        if let Some(table) = next.as_table_mut() {
            table.decor_mut().set_prefix(all);
        }
    }
}

/// The file; the beginning of one if there is none.
fn read(path: &Path) -> Result<DocumentMut, TrimsError> {
    let unreadable = |why: Cause| TrimsError::Unreadable {
        path: path.to_owned(),
        why,
    };
    let text = match path.metadata() {
        Err(why) if why.kind() == std::io::ErrorKind::NotFound => HEAD.to_owned(),
        Err(why) => return Err(unreadable(why.into())),
        Ok(about) if about.len() > MOST_BYTES => {
            return Err(unreadable("it is far too large".into()));
        }
        Ok(_) => std::fs::read_to_string(path).map_err(|why| unreadable(why.into()))?,
    };
    text.parse().map_err(|why: toml_edit::TomlError| {
        let line = why
            .span()
            .map(|span| text[..span.start.min(text.len())].lines().count().max(1));
        TrimsError::Damaged {
            path: path.to_owned(),
            why: Cause::told(
                match line {
                    Some(line) => format!("line {line}: {}", why.message()),
                    None => why.message().to_owned(),
                },
                why,
            ),
        }
    })
}

/// Writes a new file beside the old one and puts it in its place, so that there is
/// a whole one at every moment.
fn write(path: &Path, document: &DocumentMut) -> Result<(), TrimsError> {
    let written = || -> std::io::Result<()> {
        let folder = path.parent().unwrap_or(Path::new("."));
        fifthpeg_files::make_own_folder(folder)?;
        let beside = path.with_extension(format!("new-{}", std::process::id()));
        let done = std::fs::File::create(&beside)
            .and_then(|mut file| {
                file.write_all(document.to_string().as_bytes())?;
                file.sync_all()
            })
            .and_then(|()| std::fs::rename(&beside, path));
        if done.is_err() {
            // It may never have been there.
            let _ = std::fs::remove_file(&beside);
        }
        done
    };
    written().map_err(|why| TrimsError::Unwritable {
        path: path.to_owned(),
        why: why.into(),
    })
}

/// A trim in a few words: `trim 143 ms`.
pub fn words(trim: Trim) -> String {
    format!("trim {} ms", shown_ms(trim.later_ms()))
}

/// A trim as it is typed, in milliseconds.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse(typed: &str) -> Result<Trim, String> {
    let ms = typed.trim_end_matches("ms").trim_end();
    ms.parse()
        .ok()
        .and_then(|ms| Trim::typed(ms).ok())
        .ok_or_else(|| {
            format!(
                "\"{}\" is no trim: give milliseconds from {} to {}, such as 140",
                shown(typed),
                TRIMS_MS.start(),
                TRIMS_MS.end()
            )
        })
}

/// Milliseconds with no more places than they need.
pub fn shown_ms(ms: f64) -> String {
    let tenths = (ms * 10.0).round() / 10.0;
    format!("{}", if tenths == 0.0 { 0.0 } else { tenths })
}

#[cfg(test)]
mod tests;
