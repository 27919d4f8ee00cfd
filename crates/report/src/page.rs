//! A report as one HTML page: no network, no script, no other file. It is
//! well-formed XML as well, so that any reader can check it.

use std::fmt::Write;

use fifthpeg_core::svg::escaped;

use super::dates::Date;
use super::figures::Figures;
use super::overview::{NeckPart, Overview, Period};
use super::words::{self, ReportStyle};
use super::{notes, pictures};
use blocks::{figure, list, paragraph, section, sentence, table};

mod blocks;

/// Writing to a string cannot fail.
macro_rules! add {
    ($page:expr, $($what:tt)*) => {{ let _ = write!($page, $($what)*); }};
}

const STYLE: &str = include_str!("page.css");

/// The page. `made` is its day.
pub fn page(report: &Overview, manner: &ReportStyle, made: Date) -> String {
    let title = escaped(&words::title(report));
    let mut page = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <meta name=\"robots\" content=\"noindex\"/>\n\
         <title>{title}: finding notes by ear</title>\n<style>{STYLE}</style>\n</head>\n\
         <body>\n<main>\n<header>\n<h1>{title}: finding notes by ear</h1>\n"
    );
    paragraph(&mut page, &sentence(&words::subtitle(report)));
    page.push_str("</header>\n");
    let unread = words::unread(report);
    if !unread.is_empty() {
        section(&mut page, "Could not be read", |page| {
            unread.iter().for_each(|l| paragraph(page, l));
        });
    }
    section(&mut page, "In short", |page| {
        words::summary(report)
            .iter()
            .for_each(|l| paragraph(page, l));
        list(page, &words::practice(report, manner));
    });
    if report.all.calls > 0 {
        if let Some(outlook) = &report.outlook {
            next(&mut page, report, outlook);
        }
        progress(&mut page, report);
        alone(&mut page, report);
        for part in &report.necks {
            neck(&mut page, report, part, manner);
        }
        misses(&mut page, report);
        times(&mut page, report);
        doing(&mut page, report);
        if !report.people.is_empty() {
            people(&mut page, report);
        }
    }
    section(&mut page, "How sure these figures are", |page| {
        list(page, &notes::certainty(report));
    });
    section(&mut page, "Who may see this page", |page| {
        notes::privacy(report)
            .iter()
            .for_each(|l| paragraph(page, l));
    });
    add!(
        page,
        "</main>\n<footer><p>Made on {} by fifthpeg from the lesson book.</p></footer>\n</body>\n</html>\n",
        escaped(&made.long())
    );
    page
}

fn next(page: &mut String, report: &Overview, outlook: &super::outlook::Outlook) {
    if report.subject.student.is_some() {
        if let Some(suggestion) = &outlook.suggestion {
            section(page, "What may come next", |page| {
                paragraph(page, &suggestion.to_string());
            });
        }
        return;
    }
    section(page, "For the teacher: what next", |page| {
        if let Some(suggestion) = &outlook.suggestion {
            paragraph(
                page,
                &format!("The reach: {}", lower(&suggestion.to_string())),
            );
        }
        let mut lines = Vec::new();
        for (id, glance) in outlook.glances.iter().filter(|(_, g)| g.needs_help()) {
            lines.push(format!("{}: {glance}", report.name_of(*id)));
        }
        if lines.is_empty() {
            paragraph(page, "Nobody seems to need help just now.");
        } else {
            paragraph(page, "Some time with them may help:");
            list(page, &lines);
        }
    });
}

fn lower(words: &str) -> String {
    let mut signs = words.chars();
    let first = signs.next().map(|c| c.to_lowercase().to_string());
    format!("{}{}", first.unwrap_or_default(), signs.as_str())
}

fn progress(page: &mut String, report: &Overview) {
    if report.periods.len() < 2 {
        return;
    }
    section(page, "From lesson to lesson", |page| {
        let lines = words::progress(report);
        lines.iter().for_each(|l| paragraph(page, l));
        let equivalent = format!("{} The table below has the figures.", lines.join(" "));
        figure(
            page,
            |room| pictures::progress(&report.periods, room, &equivalent),
            "Upright lines show between which shares the truth lies with 95% certainty: the \
             fewer the calls, the longer they are.",
        );
        periods(
            page,
            "Found from lesson to lesson",
            "Lesson",
            &report.periods,
        );
    });
}

fn alone(page: &mut String, report: &Overview) {
    if report.practice.is_empty() {
        return;
    }
    section(page, "Practice alone", |page| {
        paragraph(
            page,
            "Practice alone counts in the figures for notes and times, but not in the progress \
             from lesson to lesson.",
        );
        periods(
            page,
            "Found in practice alone",
            "Practice",
            &report.practice,
        );
    });
}

fn periods(page: &mut String, caption: &str, each: &str, periods: &[Period]) {
    let week = periods.iter().any(|p| p.week);
    let rows: Vec<Vec<String>> = periods
        .iter()
        .map(|p| {
            vec![
                words::when(p),
                p.figures.calls.to_string(),
                words::share(p.figures.first()),
                words::share(p.figures.any()),
                p.reaches.join(", then "),
            ]
        })
        .collect();
    let heads = [
        if week { "Week of" } else { each },
        "Calls",
        "Found with the first answer",
        "Found",
        "Notes from",
    ];
    table(page, caption, &heads, &rows);
}

fn neck(page: &mut String, report: &Overview, part: &NeckPart, manner: &ReportStyle) {
    let title = match report.necks.len() {
        1 => "On the neck".to_owned(),
        _ => format!("On the neck: {}", part.neck.name()),
    };
    section(page, &title, |page| {
        let weak = words::weak(part);
        let words: Vec<String> = weak.iter().map(|(p, _)| manner.name(*p)).collect();
        let hard = match words.as_slice() {
            [] => "No note stands out as hard.".to_owned(),
            _ => format!(
                "Found least often at first: {}.",
                fifthpeg_core::text::list_and(&words)
            ),
        };
        let equivalent = format!(
            "The neck ({}) with how often each note was found at first. {hard} The table below \
             has every note.",
            part.neck.name()
        );
        figure(
            page,
            |room| pictures::neck(part, manner, room, &equivalent),
            &words::marks(manner),
        );
        let rows: Vec<Vec<String>> = part
            .notes
            .iter()
            .map(|(pitch, figures)| {
                let places = part.places.get(pitch).map(Vec::as_slice);
                vec![
                    manner.name(*pitch),
                    words::places(places.unwrap_or_default()),
                    figures.calls.to_string(),
                    format!("{} of {}", figures.found_first, figures.calls),
                    words::percents(figures.first().within()),
                    format!("{} of {}", figures.found, figures.calls),
                    words::median(&figures.times),
                ]
            })
            .collect();
        let heads = [
            "Note",
            "String/fret",
            "Calls",
            "Found at first",
            "95% range",
            "Found",
            "Middle time (95% range)",
        ];
        table(
            page,
            &format!("Every note called: {}", part.neck.name()),
            &heads,
            &rows,
        );
    });
}

fn misses(page: &mut String, report: &Overview) {
    let misses = &report.all.misses;
    section(page, "Where wrong answers lay", |page| {
        paragraph(page, &words::misses(misses));
        if misses.by_semitones.is_empty() {
            return;
        }
        if let Some(line) = words::commonest(misses) {
            paragraph(page, &line);
        }
        figure(
            page,
            |room| pictures::misses(misses, room),
            "How many wrong answers lay how far from the note: hatched bars too low, grey bars \
             too high. A wrong answer is part of searching by ear, not a fault.",
        );
        let mut sizes: Vec<u32> = misses
            .by_semitones
            .keys()
            .map(|a| a.unsigned_abs())
            .collect();
        sizes.sort_unstable();
        sizes.dedup();
        let of = |away: i32| misses.by_semitones.get(&away).copied().unwrap_or(0);
        let rows: Vec<Vec<String>> = sizes
            .iter()
            .map(|size| {
                let away = i32::try_from(*size).unwrap_or(i32::MAX);
                vec![
                    words::interval(*size),
                    size.to_string(),
                    of(-away).to_string(),
                    of(away).to_string(),
                ]
            })
            .collect();
        let heads = ["Interval", "Semitones", "Too low", "Too high"];
        table(page, "Wrong answers by interval", &heads, &rows);
    });
}

fn times(page: &mut String, report: &Overview) {
    let mut parts: Vec<(String, &Figures)> = Vec::new();
    let by_person = report.subject.lesson.is_some() && !report.people.is_empty();
    if by_person {
        parts.extend(report.people.iter().map(|p| (p.name.clone(), &p.figures)));
    } else {
        let all = report.periods.iter().chain(&report.practice);
        parts.extend(all.map(|p| (words::when(p), &p.figures)));
    }
    section(page, "How long finding took", |page| {
        let all = &report.all.times;
        if all.each.is_empty() {
            paragraph(
                page,
                "No times are known: a terminal that sounds nothing itself times no answers.",
            );
            return;
        }
        paragraph(
            page,
            &format!(
                "Half of the found calls took less than {}. Searching takes the time it takes: \
                 a long search that finds the note is good practice.",
                words::measured(all.median().unwrap_or_default(), all.off_by())
            ),
        );
        let rows: Vec<pictures::StripRow<'_>> = parts
            .iter()
            .map(|(name, figures)| (name.clone(), &figures.times))
            .collect();
        let equivalent = format!(
            "Times of found calls, most often about {} seconds; the table below has the figures.",
            words::number(all.median().unwrap_or_default())
        );
        figure(
            page,
            |room| pictures::strip(&rows, room, &equivalent),
            &format!(
                "Each dot is a found call. The thick stroke below is the middle one (the median, \
                 also at the right); the thin line with ends shows between which times it lies \
                 with 95% certainty. {}",
                words::exactness(all)
            ),
        );
        let rows: Vec<Vec<String>> = parts
            .iter()
            .map(|(name, figures)| {
                let times = &figures.times.each;
                let at = |t: Option<&(f64, f64)>| {
                    t.map_or_else(
                        || "–".to_owned(),
                        |(time, off)| words::measured(*time, *off),
                    )
                };
                vec![
                    name.clone(),
                    times.len().to_string(),
                    words::median(&figures.times),
                    at(times.first()),
                    at(times.last()),
                ]
            })
            .collect();
        let first = if by_person { "Student" } else { "Lesson" };
        let heads = [first, "Timed", "Middle (95% range)", "Shortest", "Longest"];
        table(page, "Response times of found calls", &heads, &rows);
    });
}

fn doing(page: &mut String, report: &Overview) {
    let all = &report.all;
    section(page, "How it was searched", |page| {
        let rate = |n: u32| format!("{:.1}", f64::from(n) / f64::from(all.calls.max(1)));
        let mut lines = vec![
            format!(
                "Notes tried on the neck: {} for each call.",
                rate(all.tries)
            ),
            format!(
                "Hearings asked for beyond the first: {} for each call.",
                rate(all.hearings)
            ),
        ];
        if all.played > 0 {
            lines.push(format!(
                "Answered on the instrument itself: {} of {} found calls.",
                all.played, all.found
            ));
        }
        if all.sung > 0 {
            lines.push(format!(
                "Sung before or while searching: {} of {} calls.",
                all.sung, all.calls
            ));
        }
        lines
            .push("Trying and hearing again are the method: more of them is not worse.".to_owned());
        list(page, &lines);
    });
}

fn people(page: &mut String, report: &Overview) {
    section(page, "Each student", |page| {
        let rows: Vec<Vec<String>> = report
            .people
            .iter()
            .map(|p| {
                vec![
                    p.name.clone(),
                    p.lessons.to_string(),
                    p.figures.calls.to_string(),
                    words::share(p.figures.first()),
                    words::share(p.figures.any()),
                    words::median(&p.figures.times),
                ]
            })
            .collect();
        let heads = [
            "Name",
            "Lessons",
            "Calls",
            "Found with the first answer",
            "Found",
            "Middle time (95% range)",
        ];
        table(page, "Each student, by name", &heads, &rows);
        paragraph(
            page,
            "The list is in the order of names, not of figures: students begin at different \
             places, and the ranges show how little a difference may mean.",
        );
    });
}
