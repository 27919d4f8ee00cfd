//! `fifthpeg report`: asks the crate `report` for what is wanted and writes it, whole
//! or not at all.

use std::path::Path;

use fifthpeg_book::Reader;
use fifthpeg_core::Spelling;
use fifthpeg_core::text::plain_json;
use fifthpeg_front::drafts::{Drafts, Replaces};
use fifthpeg_front::failure::Failure;
use fifthpeg_front::out;
use fifthpeg_report::ask::Ask;
use fifthpeg_report::asked::{find, local_offset, open_book};
use fifthpeg_report::dates::Date;
use fifthpeg_report::overview::Overview;
use fifthpeg_report::words::ReportStyle;
use fifthpeg_report::{page, tables, text as report_text};

use crate::args::report::{ReportArgs, ReportForm};

/// What stands for standard output where a file is to be named.
pub(crate) const STANDARD_OUTPUT: &str = "-";

/// Makes a report from the lesson book.
///
/// # Errors
/// When what is asked for is not in the book, the book cannot be read, or the
/// report cannot be written.
pub fn run(args: &ReportArgs) -> Result<(), Failure> {
    let book = open_book(args.book.as_deref())?;
    let (made, unread) = made(args, &book)?;
    match args.to.as_deref().filter(|to| !is_standard_output(to)) {
        Some(to) => save(to, args.replace, &made)?,
        None if args.form == ReportForm::Page && out::is_terminal() => {
            return Err(Failure::usage(
                "a page is for a browser: say where to write it, such as --to report.html"
                    .to_owned(),
            ));
        }
        None if args.form == ReportForm::Text => out::say(&made.lines().collect::<Vec<_>>())?,
        None => out::document(&made)?,
    }
    match unread {
        0 => Ok(()),
        _ => Err(Failure::runtime(
            "part of the book could not be read and is in no figure: the report names it, and fifthpeg book check says more",
        )),
    }
}

/// Whether `-` was named, as by other programs.
pub(crate) fn is_standard_output(to: &Path) -> bool {
    to == Path::new(STANDARD_OUTPUT)
}

/// The report, and how much of it could not be read.
fn made(args: &ReportArgs, book: &Reader) -> Result<(String, usize), Failure> {
    let ask = Ask {
        class: args.class.clone(),
        student: args.student.clone(),
        lesson: args.lesson.clone(),
    };
    let subject = find(&ask, book)?;
    let mut report = Overview::read(book, subject, &local_offset).map_err(Failure::runtime)?;
    if args.without_names {
        report.without_names();
    }
    let manner = ReportStyle {
        spelling: Spelling::of(args.flats),
        ascii: args.ascii,
        left_handed: args.left_handed,
    };
    let unread = report.unread.len();
    let made = match args.form {
        ReportForm::Text => {
            let mut lines = report_text::text(&report, &manner).join("\n");
            lines.push('\n');
            lines
        }
        ReportForm::Page => {
            let now = jiff::Timestamp::now().as_millisecond();
            page::page(&report, &manner, Date::at(now, &local_offset))
        }
        ReportForm::Csv => tables::csv(&report, &manner).map_err(Failure::runtime)?,
        ReportForm::Json => plain_json(&format!("{:#}\n", tables::json(&report, &manner))),
    };
    Ok((made, unread))
}

/// Writes a new file, readable for this user alone: whole, or not at all.
fn save(to: &Path, replace: bool, made: &str) -> Result<(), Failure> {
    let reports = replace.then_some(Replaces {
        what: "report",
        is_one: is_report,
    });
    Drafts::save(to, reports, made.as_bytes())?;
    out::say(&[format!("written to {}: mind who may see it", to.display())])
}

/// Whether a file holds a report, so that nothing else is written over.
fn is_report(path: &Path) -> bool {
    let Ok(held) = std::fs::read_to_string(path) else {
        return false;
    };
    held.is_empty()
        || held.contains("finding notes by ear")
        || held.starts_with("part,of,about,")
        || held.contains("\"report\": \"fifthpeg\"")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_reports_are_written_over_and_only_if_asked() {
        let name = format!("fifthpeg-report-{}", std::process::id());
        let folder = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&folder).expect("a folder");
        let (report, other) = (folder.join("mia.csv"), folder.join("song.txt"));
        let held = |path: &Path| std::fs::read_to_string(path).expect("there");
        let refused = |outcome: Result<(), Failure>| match outcome {
            Err(failure) if failure.is_usage() => failure.to_string(),
            other => panic!("{other:?}"),
        };
        save(&report, false, "part,of,about,1").expect("written");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = std::fs::metadata(&report)
                .expect("there")
                .permissions()
                .mode();
            assert_eq!(mode & 0o777, 0o600);
        }
        assert!(refused(save(&report, false, "2")).contains("add --replace"));
        assert_eq!(held(&report), "part,of,about,1");
        save(&report, true, "part,of,about,3").expect("replaced");
        assert_eq!(held(&report), "part,of,about,3");
        std::fs::write(&other, "la la").expect("written");
        assert!(refused(save(&other, true, "4")).contains("is no report"));
        assert_eq!(held(&other), "la la");
        std::fs::remove_dir_all(&folder).expect("gone");
    }
}
