//! A safe copy of the book, and whether its file is sound.

use std::path::Path;

use fifthpeg_book::location::kept_copies;
use fifthpeg_book::{BookError, Reader};
use fifthpeg_core::text::count;
use fifthpeg_front::drafts::{Drafts, Replaces};
use fifthpeg_front::failure::Failure;

use super::shelf;
use super::talk::say;
use super::working::work;
use crate::report_cmd::is_standard_output;

/// Whether two paths are one file.
pub fn one_file(one: &Path, other: &Path) -> bool {
    match (one.canonicalize(), other.canonicalize()) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}

/// Writes a copy, and looks whether it is whole before it gets its name.
pub fn copy(named: Option<&Path>, to: &Path, replace: bool) -> Result<(), Failure> {
    let path = shelf::there(named)?;
    let reader = shelf::to_read(&path)?;
    if is_standard_output(to) {
        return Err(Failure::usage(
            "a copy is a file that a program reads, so it does not go to standard output: name \
             one, or say fifthpeg book export --as json --to -",
        ));
    }
    if one_file(&path, to) {
        return Err(Failure::usage(
            "that is the book itself: name another file for its copy",
        ));
    }
    let books = replace.then_some(Replaces {
        what: "lesson book",
        is_one: |there: &Path| Reader::open(there).is_ok(),
    });
    let drafts = Drafts::of_one(to, books)?;
    let at = drafts.temporary(to).unwrap_or(to).to_owned();
    work("copying", vec![at.clone()], move || {
        reader.copy_to(&at).map_err(Failure::runtime)?;
        let copied = Reader::open(&at).and_then(|copy| copy.faults());
        match copied.map_err(Failure::runtime)?.first() {
            None => Ok(()),
            Some(fault) => Err(Failure::runtime(format!(
                "the copy is not sound ({fault}) and was not kept: say fifthpeg book check"
            ))),
        }
    })?;
    drafts.publish()?;
    say(&[format!(
        "copied to {}: it holds everybody's names, so mind who may see it, and delete it once it is no longer needed",
        to.display()
    )])
}

/// Looks through the whole file.
pub fn check(named: Option<&Path>) -> Result<(), Failure> {
    let path = shelf::there(named)?;
    let reader = Reader::open(&path).map_err(|error| match error {
        BookError::Older { version, .. } => Failure::usage(format!(
            "{} is of the older version {version}: fifthpeg book lessons brings it up to date and \
             keeps it as it was, then check",
            path.display()
        )),
        other => Failure::runtime(other),
    })?;
    let at = path.clone();
    let (faults, holds) = work("looking through it", Vec::new(), move || {
        let faults = reader.faults().map_err(Failure::runtime)?;
        let holds = if faults.is_empty() {
            holds(&reader).map_err(Failure::runtime)?
        } else {
            String::new()
        };
        Ok((faults, holds))
    })?;
    if !faults.is_empty() {
        let lines: Vec<String> = faults
            .iter()
            .map(|fault| format!("fault: {fault}"))
            .collect();
        say(&lines)?;
        return Err(Failure::runtime(format!(
            "the lesson book {} is not sound: keep the file, put a copy of it in its place, or \
             export what can be read",
            at.display()
        )));
    }
    let mut lines = vec![format!("sound: {} holds {holds}", path.display())];
    for copy in kept_copies(&path) {
        lines.push(format!(
            "an older copy stands beside it: {}",
            copy.display()
        ));
    }
    say(&lines)
}

fn holds(reader: &Reader) -> Result<String, BookError> {
    let classes = reader.classes()?;
    let sum = |of: fn(&fifthpeg_book::reader::Class) -> u32| classes.iter().map(of).sum::<u32>();
    let (people, lessons) = (sum(|c| c.people), sum(|c| c.lessons));
    let classes = match classes.len() {
        1 => "1 class".to_owned(),
        n => format!("{n} classes"),
    };
    let people = match people {
        1 => "1 person".to_owned(),
        n => format!("{n} people"),
    };
    Ok(format!(
        "{classes}, {people}, {}",
        count(lessons as usize, "lesson")
    ))
}
