//! A report for a terminal, or any reader of plain text.

use fifthpeg_core::text::one_line;
use fifthpeg_front::wrap::{columns, hanging};

use super::figures::Share;
use super::notes;
use super::overview::{Overview, Period};
use super::words::{self, ReportStyle};

/// The width that sentences are broken at.
const WIDTH: usize = 78;

/// The lines of a summary.
pub fn text(report: &Overview, manner: &ReportStyle) -> Vec<String> {
    let mut out = Vec::new();
    say(
        &mut out,
        &format!("{}: finding notes by ear", words::title(report)),
    );
    say(&mut out, &words::subtitle(report));
    out.push(String::new());
    words::unread(report).iter().for_each(|l| say(&mut out, l));
    words::summary(report).iter().for_each(|l| say(&mut out, l));
    if report.all.calls > 0 {
        words::practice(report, manner)
            .iter()
            .for_each(|l| say(&mut out, l));
        body(&mut out, report, manner);
    }
    out.push(String::new());
    let privacy = notes::privacy(report);
    privacy.iter().take(2).for_each(|l| say(&mut out, l));
    // Names may come from a book that somebody made up.
    out.iter_mut().for_each(|line| *line = one_line(line));
    if manner.ascii {
        out.iter_mut().for_each(|line| *line = plain(line));
    }
    out
}

fn body(out: &mut Vec<String>, report: &Overview, manner: &ReportStyle) {
    if let Some(outlook) = &report.outlook {
        heading(out, "What next");
        if let Some(suggestion) = &outlook.suggestion {
            say(out, &suggestion.to_string());
        }
        for (id, glance) in outlook.glances.iter().filter(|(_, g)| g.needs_help()) {
            say(out, &format!("{}: {glance}", report.name_of(*id)));
        }
    }
    if report.periods.len() > 1 {
        heading(out, "From lesson to lesson (with 95% ranges)");
        words::progress(report).iter().for_each(|l| say(out, l));
        table(out, "lesson", report.periods.iter().map(period));
    }
    if !report.practice.is_empty() {
        heading(out, "Practice alone (with 95% ranges)");
        table(out, "practice", report.practice.iter().map(period));
    }
    if !report.people.is_empty() {
        heading(out, "Students, by name (with 95% ranges)");
        let rows = report.people.iter().map(|p| {
            let f = &p.figures;
            row(
                p.name.clone(),
                f.calls,
                f.first(),
                f.any(),
                words::median(&f.times),
            )
        });
        table(out, "name", rows);
    }
    for part in &report.necks {
        heading(out, &format!("Notes on the neck: {}", part.neck.name()));
        let rows = part.notes.iter().map(|(pitch, f)| {
            row(
                manner.name(*pitch),
                f.calls,
                f.first(),
                f.any(),
                words::places(part.places.get(pitch).map_or(&[], Vec::as_slice)),
            )
        });
        let heads = ["note", "calls", "found at first", "found", "string/fret"];
        out.extend(columns(heads, &rows.collect::<Vec<_>>()));
    }
    heading(out, "Wrong answers");
    say(out, &words::misses(&report.all.misses));
    for (away, number) in &report.all.misses.by_semitones {
        let side = if *away < 0 { "low" } else { "high" };
        say(
            out,
            &format!(
                "  {number:>4}  {} too {side}",
                words::interval(away.unsigned_abs())
            ),
        );
    }
    heading(out, "Times");
    let times = &report.all.times;
    if let Some(middle) = times.median() {
        say(
            out,
            &format!(
                "Half of the found calls took less than {}.",
                words::measured(middle, times.off_by())
            ),
        );
    }
    say(out, &words::exactness(times));
}

fn period(period: &Period) -> [String; 5] {
    let f = &period.figures;
    let last = words::median(&f.times);
    row(words::when(period), f.calls, f.first(), f.any(), last)
}

fn row(name: String, calls: u32, first: Share, any: Share, last: String) -> [String; 5] {
    [
        name,
        calls.to_string(),
        words::share(first),
        words::share(any),
        last,
    ]
}

fn table(out: &mut Vec<String>, first: &str, rows: impl Iterator<Item = [String; 5]>) {
    let heads = [first, "calls", "found at first", "found", "middle time"];
    out.extend(columns(heads, &rows.collect::<Vec<_>>()));
}

fn heading(out: &mut Vec<String>, words: &str) {
    out.push(String::new());
    out.push(words.to_owned());
}

/// A sentence, broken into lines.
fn say(out: &mut Vec<String>, words: &str) {
    if words.starts_with(' ') {
        out.push(words.to_owned());
        return;
    }
    out.extend(hanging(words, WIDTH));
}

/// Without the few signs that old terminals lack.
fn plain(line: &str) -> String {
    line.replace(['–', '−'], "-")
}
