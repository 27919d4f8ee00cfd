//! docs/limits.md is made from the table and cannot drift from it. To make it anew:
//! `FIFTHPEG_WRITE_PAGES=1 cargo test -p fifthpeg-host --lib limits_page`.

use std::collections::HashSet;
use std::fmt::Write as _;
use std::path::Path;

use fifthpeg_core::Neck;
use fifthpeg_lesson::roles::{Role, TABLE};
use fifthpeg_lesson::setup::LessonSetup;

use super::{Counter, bounds};
use crate::HostConfig;

const OPENING: &str = include_str!("page_opening.md");

const STUDENTS_SIDE: &str = "
## The student's own side

Nor may a host that is wrong, or is not what it seems, crash, stall or grow a
terminal (`student::bounds`). What a frame may hold is limited as above. The
terminal says in a sentence what happened and when it tries again.

| of what | at most | why | beyond it |
|---|---:|---|---|
";

fn page() -> String {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    let config = HostConfig::new(LessonSetup::new("Hall", &neck));
    let mut out = OPENING.to_owned();
    out.push_str(
        "\n## Limits\n\n| of what | at most | why | named | counted as |\n|---|---:|---|---|---|\n",
    );
    for bound in bounds(&config) {
        let counted = bound.counter.map_or("", Counter::title);
        let named = match bound.error {
            "none" => "",
            named => named,
        };
        let most = format!("{} {}", bound.most, bound.unit);
        let _ = writeln!(
            out,
            "| {} | {} | {} | {named} | {counted} |",
            bound.of,
            most.trim_end(),
            bound.why
        );
    }
    out.push_str(STUDENTS_SIDE);
    for bound in fifthpeg_student::bounds::bounds() {
        let most = format!("{} {}", bound.most, bound.unit);
        let _ = writeln!(
            out,
            "| {} | {} | {} | {} |",
            bound.of,
            most.trim_end(),
            bound.why,
            bound.beyond
        );
    }
    out.push_str("\n## Who may say what\n\n| message |");
    for role in Role::ALL {
        let _ = write!(out, " {} |", role.title());
    }
    out.push_str("\n|---|---|---|---|---|---|\n");
    for (said, cells) in TABLE {
        let _ = write!(out, "| `{said:?}` |");
        for cell in cells {
            let _ = write!(out, " {} |", cell.title());
        }
        out.push('\n');
    }
    out
}

#[test]
fn the_limits_page_matches_the_table() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/limits.md");
    let made = page();
    if std::env::var_os("FIFTHPEG_WRITE_PAGES").is_some() {
        std::fs::write(&path, &made).expect("the page can be written");
    }
    let kept = std::fs::read_to_string(&path).expect("the page is there");
    assert!(
        kept == made,
        "docs/limits.md differs from the table: write it anew with FIFTHPEG_WRITE_PAGES=1"
    );
}

#[test]
fn every_counter_stands_in_the_table_or_for_the_system() {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    let config = HostConfig::new(LessonSetup::new("Hall", &neck));
    let in_table: HashSet<_> = bounds(&config)
        .into_iter()
        .filter_map(|b| b.counter)
        .collect();
    for counter in Counter::ALL {
        // What the other side's program or this machine's system brings about.
        let no_limit = matches!(
            counter,
            Counter::OtherVersion
                | Counter::WrongPassphrase
                | Counter::CannotAccept
                | Counter::Unsendable
        );
        assert!(in_table.contains(&counter) || no_limit, "{counter:?}");
        assert!(counter.title().len() > 10);
    }
    for (at, counter) in Counter::ALL.into_iter().enumerate() {
        assert_eq!(counter.index(), at);
    }
}
