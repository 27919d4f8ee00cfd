//! A report as CSV and as JSON, for spreadsheets and programs. Shares run from
//! 0 to 1 and have four places; seconds have three. Nothing is an empty cell,
//! or null.

use fifthpeg_book::BookError;
use fifthpeg_book::exchange::guarded;
use fifthpeg_core::Cause;
use fifthpeg_core::text::one_line;
use serde_json::{Value, json};

use super::figures::{Figures, Misses};
use super::overview::Overview;
use super::words::{self, ReportStyle};

/// The columns of the CSV, in order.
pub const COLUMNS: [&str; 22] = [
    "part",
    "of",
    "about",
    "calls",
    "found_first",
    "found_first_share",
    "found_first_low",
    "found_first_high",
    "found",
    "found_share",
    "found_low",
    "found_high",
    "unanswered",
    "hearings",
    "tries",
    "sung",
    "timed",
    "median_s",
    "median_low_s",
    "median_high_s",
    "off_by_s",
    "wrong_answers",
];

fn share(x: f64) -> f64 {
    (x * 1e4).round() / 1e4
}

fn seconds(x: f64) -> f64 {
    (x * 1e3).round() / 1e3
}

/// The figures of one row, without `part`, `of` and `about`.
fn cells(figures: &Figures) -> [Option<f64>; 19] {
    let (first, any) = (figures.first(), figures.any());
    let times = &figures.times;
    let low = |w: Option<(f64, f64)>| w.map(|w| w.0);
    let high = |w: Option<(f64, f64)>| w.map(|w| w.1);
    let whole = |n: u32| Some(f64::from(n));
    let timed = u32::try_from(times.each.len()).unwrap_or(u32::MAX);
    [
        whole(figures.calls),
        whole(figures.found_first),
        first.value().map(share),
        low(first.within()).map(share),
        high(first.within()).map(share),
        whole(figures.found),
        any.value().map(share),
        low(any.within()).map(share),
        high(any.within()).map(share),
        whole(figures.unanswered),
        whole(figures.hearings),
        whole(figures.tries),
        whole(figures.sung),
        whole(timed),
        times.median().map(seconds),
        low(times.within()).map(seconds),
        high(times.within()).map(seconds),
        (timed > 0).then(|| seconds(times.off_by())),
        whole(figures.misses.total()),
    ]
}

/// A row's kind, its name, what is said of it, and its figures.
type Row<'a> = (&'static str, String, String, &'a Figures);

fn rows<'a>(report: &'a Overview, manner: &ReportStyle) -> Vec<Row<'a>> {
    let mut rows: Vec<Row<'_>> = vec![(
        "all",
        words::title(report),
        words::span(report),
        &report.all,
    )];
    for lesson in &report.lessons {
        let when = format!("{} {}", lesson.date.iso(), lesson.date.time());
        let kind = if lesson.alone { "practice" } else { "lesson" };
        rows.push((kind, when, lesson.reaches.join("; "), &lesson.figures));
    }
    let weeks = report.periods.iter().filter(|p| p.week && !p.alone);
    for period in weeks {
        rows.push(("week", period.date.iso(), String::new(), &period.figures));
    }
    for person in &report.people {
        rows.push((
            "student",
            person.name.clone(),
            String::new(),
            &person.figures,
        ));
    }
    for part in &report.necks {
        for (pitch, figures) in &part.notes {
            rows.push((
                "note",
                manner.name(*pitch),
                part.neck.name().to_owned(),
                figures,
            ));
        }
    }
    rows
}

/// How far wrong answers lay, and how many lay there.
fn misses(misses: &Misses) -> Vec<(String, u32)> {
    let mut list: Vec<(String, u32)> = misses
        .by_semitones
        .iter()
        .map(|(away, number)| {
            let side = if *away < 0 { "low" } else { "high" };
            (
                format!("{} {side}", words::count(away.unsigned_abs(), "semitone")),
                *number,
            )
        })
        .collect();
    if misses.other_place > 0 {
        list.push(("another place".to_owned(), misses.other_place));
    }
    if misses.no_side > 0 {
        list.push(("neither low nor high".to_owned(), misses.no_side));
    }
    list
}

/// As CSV (RFC 4180), a row for all, for each lesson, practice alone, week, student and note, and
/// for each distance of wrong answers.
///
/// # Errors
/// None that a text in memory meets with; named all the same.
pub fn csv(report: &Overview, manner: &ReportStyle) -> Result<String, BookError> {
    let strange = |why: Cause| BookError::Strange {
        path: std::path::PathBuf::new(),
        why,
    };
    let mut out = csv::Writer::from_writer(Vec::new());
    let mut write = |row: Vec<String>| out.write_record(row).map_err(|e| strange(e.into()));
    write(COLUMNS.map(str::to_owned).to_vec())?;
    for (part, of, about, figures) in rows(report, manner) {
        let mut row = vec![
            part.to_owned(),
            guarded(one_line(&of)),
            guarded(one_line(&about)),
        ];
        let cell = |c: Option<f64>| c.map(|c| c.to_string()).unwrap_or_default();
        row.extend(cells(figures).map(cell));
        write(row)?;
    }
    for (away, number) in misses(&report.all.misses) {
        let mut row = vec![String::new(); COLUMNS.len()];
        row[0] = "miss".to_owned();
        row[1] = away;
        row[COLUMNS.len() - 1] = number.to_string();
        write(row)?;
    }
    for sentence in &report.unread {
        let mut row = vec![String::new(); COLUMNS.len()];
        row[0] = "unread".to_owned();
        row[2] = guarded(one_line(sentence));
        out.write_record(row).map_err(|e| strange(e.into()))?;
    }
    let bytes = out.into_inner().map_err(|e| strange(e.into()))?;
    String::from_utf8(bytes).map_err(|e| strange(e.into()))
}

fn object(figures: &Figures) -> Value {
    let names = COLUMNS[3..].iter().map(|name| (*name).to_owned());
    let mut object: serde_json::Map<String, Value> = names
        .zip(cells(figures))
        .map(|(name, cell)| {
            // Counts are whole.
            let value = match cell {
                Some(c) if c.fract() == 0.0 && !name.ends_with("_s") => json!(c as u64),
                other => json!(other),
            };
            (name, value)
        })
        .collect();
    let times = figures.times.each.iter();
    let times: Vec<Value> = times
        .map(|(time, off)| json!({ "s": seconds(*time), "off_by_s": seconds(*off) }))
        .collect();
    object.insert("times".to_owned(), Value::Array(times));
    let misses: Vec<Value> = figures
        .misses
        .by_semitones
        .iter()
        .map(|(away, number)| json!({ "semitones": away, "answers": number }))
        .collect();
    object.insert("misses".to_owned(), Value::Array(misses));
    object.insert(
        "misses_at_another_place".to_owned(),
        json!(figures.misses.other_place),
    );
    object.insert(
        "misses_without_side".to_owned(),
        json!(figures.misses.no_side),
    );
    Value::Object(object)
}

/// As JSON.
pub fn json(report: &Overview, manner: &ReportStyle) -> Value {
    let lessons: Vec<Value> = report
        .lessons
        .iter()
        .map(|l| {
            json!({
                "lesson": l.id.to_string(), "name": l.name, "alone": l.alone, "day": l.date.iso(),
                "time": l.date.time(), "reaches": l.reaches, "figures": object(&l.figures),
            })
        })
        .collect();
    let periods: Vec<Value> = report
        .periods
        .iter()
        .map(|p| json!({ "from": p.date.iso(), "week": p.week, "figures": object(&p.figures) }))
        .collect();
    let people: Vec<Value> = report
        .people
        .iter()
        .map(|p| json!({ "name": p.name, "lessons": p.lessons, "figures": object(&p.figures) }))
        .collect();
    let mut necks = Vec::new();
    for part in &report.necks {
        let notes: Vec<Value> = part
            .notes
            .iter()
            .map(|(pitch, figures)| {
                let places = part.places.get(pitch).into_iter().flatten();
                let places: Vec<String> = places.map(ToString::to_string).collect();
                json!({
                    "note": manner.name(*pitch), "midi": pitch.midi(), "places": places,
                    "figures": object(figures),
                })
            })
            .collect();
        necks.push(json!({ "neck": part.neck.name(), "notes": notes }));
    }
    json!({
        "report": "fifthpeg",
        "format": 1,
        "class": report.subject.class,
        "student": report.subject.student.as_ref().map(|(_, name)| name),
        "lesson": report.subject.lesson.map(|id| id.to_string()),
        "all": object(&report.all),
        "lessons": lessons,
        "periods": periods,
        "students": people,
        "necks": necks,
        "unread": report.unread,
    })
}
