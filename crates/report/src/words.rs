//! What the figures say, in sentences.

use fifthpeg_core::text::{self, list_and};
use fifthpeg_core::{Pitch, Position, Spelling, interval_name};

use super::figures::{Figures, Misses, ResponseTimes, Share};
use super::overview::{NeckPart, Overview, Period};
use super::stats;

/// How a report writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ReportStyle {
    /// Sharps or flats.
    pub spelling: Spelling,
    /// F#4 and not F♯4.
    pub ascii: bool,
    /// Necks with the nut at the right.
    pub left_handed: bool,
}

impl ReportStyle {
    /// A note's name.
    pub fn name(&self, pitch: Pitch) -> String {
        if self.ascii {
            pitch.ascii_name(self.spelling)
        } else {
            pitch.name(self.spelling)
        }
    }
}

/// Calls of a note, or of a student, from which something is said of it. Our
/// choice.
pub const FEW: u32 = 3;
/// Calls from which a report says what to practise. Our choice.
const ENOUGH: u32 = 10;
/// Share found at first from which a note counts as settled. Our choice.
const SETTLED: f64 = 0.85;
/// The share that is surely behind it, by the lower bound of its score interval
/// (Wilson 1927): 9 of 9 are enough, 8 of 8 are not. Our choice.
const SETTLED_SURELY: f64 = 0.7;
/// Most notes named in one sentence.
const MOST_NAMED: usize = 5;

/// `1 call`, `2 calls`.
pub fn count(number: u32, one: &str) -> String {
    text::count(number as usize, one)
}

/// `62%`, or a dash for nothing.
pub fn percent(share: Option<f64>) -> String {
    share.map_or_else(|| "–".to_owned(), |s| format!("{:.0}%", s * 100.0))
}

/// `48 to 74%`.
pub fn percents(within: Option<(f64, f64)>) -> String {
    within.map_or_else(
        || "–".to_owned(),
        |(low, high)| format!("{:.0} to {:.0}%", low * 100.0, high * 100.0),
    )
}

/// `62% (48 to 74%)`.
pub fn share(share: Share) -> String {
    match share.within() {
        None => "–".to_owned(),
        within => format!("{} ({})", percent(share.value()), percents(within)),
    }
}

/// `6.2`: seconds, as exact as is worth saying.
pub fn number(seconds: f64) -> String {
    if seconds >= 99.5 {
        format!("{seconds:.0}")
    } else {
        format!("{seconds:.1}")
    }
}

/// `6.2 s (5.1 to 7.7 s)`.
pub fn median(times: &ResponseTimes) -> String {
    match (times.median(), times.within()) {
        (None, _) => "–".to_owned(),
        (Some(middle), None) => measured(middle, times.off_by()),
        (Some(middle), Some((low, high))) => format!(
            "{} s ({} to {} s)",
            number(middle),
            number(low),
            number(high)
        ),
    }
}

/// `6.2 s ± 0.1 s`: never less than it may be off.
pub fn measured(time: f64, off: f64) -> String {
    let tenths = (off * 10.0).ceil().max(1.0);
    format!("{} s ± {:.1} s", number(time), tenths / 10.0)
}

/// How exact the times are.
pub fn exactness(times: &ResponseTimes) -> String {
    if times.each.is_empty() {
        return "No times are known.".to_owned();
    }
    let off = times.off_by();
    let off = match off * 1000.0 {
        ms if ms < 1.0 => "less than 1 ms".to_owned(),
        ms if ms < 1000.0 => format!("{ms:.0} ms"),
        _ => format!("{} s", number(off)),
    };
    format!("Each time may be off by up to {off} either way, wireless headphones not counted.")
}

/// Places, `2/1 and 3/5`.
pub fn places(places: &[Position]) -> String {
    let words: Vec<String> = places.iter().map(Position::to_string).collect();
    words.join(", ")
}

/// `semitone`, `whole tone`, `minor third`: how far an answer lay.
pub fn interval(semitones: u32) -> String {
    match semitones {
        1 => "semitone (next fret)".to_owned(),
        2 => "whole tone (two frets)".to_owned(),
        more => interval_name(more),
    }
}

/// Who or what the report is about.
pub fn title(report: &Overview) -> String {
    match (&report.subject.student, report.lessons.first()) {
        (Some((_, name)), _) => name.clone(),
        (None, Some(lesson)) if report.subject.lesson.is_some() => lesson.name.clone(),
        _ => report.subject.class.clone(),
    }
}

/// `Class of …, 13 October to 27 October 2026`.
pub fn subtitle(report: &Overview) -> String {
    let class = &report.subject.class;
    let kind = match (&report.subject.student, report.subject.lesson) {
        (Some(_), _) => format!("in the class {class}"),
        (None, Some(_)) => format!("a lesson of the class {class}"),
        (None, None) => "the whole class".to_owned(),
    };
    format!("{kind}, {}", span(report))
}

/// When it was.
pub fn span(report: &Overview) -> String {
    match report.lessons.as_slice() {
        [] => "no lesson yet".to_owned(),
        [one] => one.date.long(),
        [first, .., last] if first.date.long() == last.date.long() => first.date.long(),
        [first, .., last] => format!("{} to {}", first.date.long(), last.date.long()),
    }
}

/// What could not be read, where anything could not.
pub fn unread(report: &Overview) -> Vec<String> {
    if report.unread.is_empty() {
        return Vec::new();
    }
    let mut lines = vec![
        "What is named here is damaged or impossible, and is in no figure of this report: \
         \"fifthpeg book check\" says more, and a copy of the lesson book may have it whole."
            .to_owned(),
    ];
    let sentence = |why: &String| {
        let mut letters = why.chars();
        let first = letters.next().map(|c| c.to_uppercase().to_string());
        format!("{}{}.", first.unwrap_or_default(), letters.as_str())
    };
    lines.extend(report.unread.iter().map(sentence));
    lines
}

fn was(number: usize) -> &'static str {
    if number == 1 { "was" } else { "were" }
}

/// The first sentences: how much there was, and how much was found.
pub fn summary(report: &Overview) -> Vec<String> {
    let all = &report.all;
    if all.calls == 0 {
        return vec!["There is no finished call to report on yet.".to_owned()];
    }
    let lessons = sittings(report);
    let mut lines = vec![match &report.subject.student {
        Some((_, name)) => format!(
            "In {lessons} {name} was asked to find a note by ear {}.",
            times(all.calls)
        ),
        None => format!(
            "In {lessons} {} {} asked to find notes by ear, {} in all.",
            count(report.people.len() as u32, "student"),
            was(report.people.len()),
            times(all.calls)
        ),
    }];
    let later = all.found - all.found_first;
    let mut line = format!(
        "{} of these {} found: {} with the first answer",
        all.found,
        was(all.found as usize),
        all.found_first
    );
    if later > 0 {
        line.push_str(&format!(", {later} with a later one"));
    }
    line.push('.');
    let missed = all.calls.saturating_sub(all.found + all.unanswered);
    if missed > 0 {
        line.push_str(&format!(" {missed} had wrong answers only."));
    }
    if all.unanswered > 0 {
        line.push_str(&format!(" {} had no answer.", all.unanswered));
    }
    lines.push(line);
    if let (alone @ 1.., calls) = report.left_out {
        lines.push(format!(
            "The lesson book also has {} of practice alone ({}), not counted here.",
            count(alone, "session"),
            count(calls, "call"),
        ));
    }
    lines
}

/// `3 lessons and 2 sessions of practice alone`.
fn sittings(report: &Overview) -> String {
    let (alone, held): (Vec<_>, Vec<_>) = report.lessons.iter().partition(|l| l.alone);
    let held = (!held.is_empty()).then(|| count(held.len() as u32, "lesson"));
    let alone = (!alone.is_empty())
        .then(|| format!("{} of practice alone", count(alone.len() as u32, "session")));
    list_and(&held.into_iter().chain(alone).collect::<Vec<_>>())
}

/// When a period was, and whether it was practice alone.
pub fn when(period: &Period) -> String {
    let alone = if period.alone { ", alone" } else { "" };
    format!("{}{alone}", period.day())
}

fn times(number: u32) -> String {
    match number {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

/// What is settled and what to practise.
pub fn practice(report: &Overview, manner: &ReportStyle) -> Vec<String> {
    if report.all.calls < ENOUGH {
        return vec!["There are too few calls yet to say what to practise.".to_owned()];
    }
    let mut lines = Vec::new();
    for part in &report.necks {
        let on = if report.necks.len() > 1 {
            format!(" ({})", part.neck.name())
        } else {
            String::new()
        };
        let settled: Vec<String> = settled(part).map(|p| manner.name(p)).collect();
        if !settled.is_empty() {
            let more = if settled.len() > MOST_NAMED {
                format!("{} notes, among them ", settled.len())
            } else {
                String::new()
            };
            let some = &settled[..settled.len().min(MOST_NAMED)];
            lines.push(format!(
                "Found with the first answer nearly always{on}: {more}{}.",
                list_and(some)
            ));
        }
        let weak: Vec<String> = weak(part)
            .into_iter()
            .take(MOST_NAMED)
            .map(|(pitch, share)| {
                format!("{} ({} of {})", manner.name(pitch), share.count, share.of)
            })
            .collect();
        if !weak.is_empty() {
            lines.push(format!(
                "Worth practising next{on}: {}. The figures say how often each was found with \
                 the first answer.",
                list_and(&weak)
            ));
        }
    }
    lines.extend(commonest(&report.all.misses));
    if lines.is_empty() {
        lines.push("No note stands out yet, neither as settled nor as hard.".to_owned());
    }
    lines
}

/// How the picture of the neck is read.
pub fn marks(manner: &ReportStyle) -> String {
    let (nut, one) = match manner.left_handed {
        true => ("right", "left"),
        false => ("left", "right"),
    };
    format!(
        "The number in a mark is how often, out of ten calls, the note was found with the first \
         answer: 10 is always, 0 never. The darker, the less often. A question mark: called fewer \
         than three times. Where several places in the reach sound the note, each has the same \
         mark. The nut is at the {nut} and string 1 on top; on a telephone the nut is on top and \
         string 1 at the {one}."
    )
}

/// Notes that are found with the first answer nearly always.
fn settled(part: &NeckPart) -> impl Iterator<Item = Pitch> {
    let settled = |f: &Figures| {
        let low = f.first().within().map(|(low, _)| low);
        f.first().value() > Some(SETTLED) && low > Some(SETTLED_SURELY)
    };
    let notes = part.notes.iter();
    notes
        .filter(move |(_, f)| settled(f))
        .map(|(pitch, _)| *pitch)
}

/// Notes that are not, those found least on top.
pub fn weak(part: &NeckPart) -> Vec<(Pitch, Share)> {
    let notes = part.notes.iter();
    let mut weak: Vec<(Pitch, Share)> = notes
        .map(|(pitch, f)| (*pitch, f.first()))
        .filter(|(_, s)| s.of >= FEW && s.value() < Some(SETTLED) && s.of - s.count >= 2)
        .collect();
    weak.sort_by(|(_, a), (_, b)| {
        a.value()
            .partial_cmp(&b.value())
            .unwrap_or(core::cmp::Ordering::Equal)
    });
    weak
}

/// The commonest miss, if a quarter of them are of it.
pub fn commonest(misses: &Misses) -> Option<String> {
    let total = misses.total();
    let (away, number) = misses.by_semitones.iter().max_by_key(|(_, n)| **n)?;
    if *number < FEW || number * 4 < total {
        return None;
    }
    let side = if *away < 0 { "low" } else { "high" };
    Some(format!(
        "The commonest slip was a {} too {side}: {number} of {total} wrong answers.",
        interval(away.unsigned_abs())
    ))
}

/// The misses in one sentence, for who does not see the picture.
pub fn misses(misses: &Misses) -> String {
    let total = misses.total();
    if total == 0 {
        return "There was no wrong answer.".to_owned();
    }
    let sum = |low: bool| -> u32 {
        let side = misses
            .by_semitones
            .iter()
            .filter(|(away, _)| (**away < 0) == low);
        side.map(|(_, n)| n).sum()
    };
    let mut line = format!(
        "{}: {} too low, {} too high",
        count(total, "wrong answer"),
        sum(true),
        sum(false)
    );
    if misses.other_place > 0 {
        line.push_str(&format!(
            ", {} of the right note at another place than the one asked for",
            misses.other_place
        ));
    }
    if misses.no_side > 0 {
        line.push_str(&format!(", {} as near above as below", misses.no_side));
    }
    line.push('.');
    line
}

/// How the last period compares with the first that had the same notes; nothing
/// of one alone. Of few calls, or of unlike reaches, no rise or fall is told.
pub fn progress(report: &Overview) -> Vec<String> {
    let [earlier @ .., last] = report.periods.as_slice() else {
        return Vec::new();
    };
    let Some(begun) = earlier.first() else {
        return Vec::new();
    };
    let mut lines = Vec::new();
    let enough = |p: &Period| p.figures.calls >= ENOUGH;
    let like = |p: &&Period| p.reaches == last.reaches && enough(p);
    if let Some(first) = earlier.iter().find(like).filter(|_| enough(last)) {
        lines.extend(compared(first, last));
    } else if !enough(last) || !earlier.iter().any(enough) {
        lines.push(format!(
            "There are too few calls to tell a rise or a fall: {ENOUGH} on each side are needed."
        ));
    }
    if begun.reaches != last.reaches {
        lines.push(format!(
            "The notes were not the same: at first {}, at the end {}. Only lessons with the same \
             notes are compared; finding as many in a wider reach is progress too.",
            list_and(&begun.reaches),
            list_and(&last.reaches)
        ));
    }
    lines
}

fn compared(first: &Period, last: &Period) -> Vec<String> {
    let when = |p: &Period| match p.week {
        true => format!("in the week of {}", p.date.short()),
        false => format!("on {}", p.day()),
    };
    let (early, late) = (first.figures.first(), last.figures.first());
    let mut lines = vec![format!(
        "With the first answer, {} of the calls were found {} and {} {}.",
        percent(early.value()),
        when(first),
        percent(late.value()),
        when(last)
    )];
    if let Some((low, high)) = stats::difference((early.count, early.of), (late.count, late.of)) {
        let range = format!(
            "{:+.0} to {:+.0} points of a hundred",
            low * 100.0,
            high * 100.0
        )
        .replace('-', "−");
        lines.push(if low > 0.0 {
            format!("That is more of a rise than chance alone would bring ({range}).")
        } else if high < 0.0 {
            format!("That is more of a fall than chance alone would bring ({range}).")
        } else {
            format!("A difference like this may still be chance ({range}): more lessons will tell.")
        });
    }
    lines
}
