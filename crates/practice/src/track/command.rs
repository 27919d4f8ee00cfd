//! The command that makes a track again.

use std::path::Path;

use fifthpeg_core::text;
use fifthpeg_lesson::track::TrackSettings;
use fifthpeg_vocab::Choice;

use super::shape::TrackShape;
use super::source::TrackSource;

/// The command that makes the same track again, every choice written out. It
/// needs no lesson book: what was read from one stands in it as weights.
pub fn again(
    name: &Path,
    source: &TrackSource,
    shape: &TrackShape,
    settings: &TrackSettings,
    a4_hz: f64,
    seed: u64,
) -> String {
    let mut words = vec!["fifthpeg".to_owned(), "track".to_owned()];
    // The folder is nobody's business but the writer's.
    let name = name.file_name().unwrap_or_default().to_string_lossy();
    words.push(quoted(&name));
    let mut option = |name: &str, value: String| words.extend([name.to_owned(), quoted(&value)]);
    for (name, value) in source.neck_choice.options(name.as_ref()) {
        option(name, value);
    }
    option("--reach", source.spec.to_string());
    if !source.notes.is_empty() {
        option("--notes", source.notes.join(","));
    }
    match shape.minutes {
        Some(minutes) => option("--minutes", minutes.to_string()),
        None => option("--calls", shape.calls.to_string()),
    }
    option("--gap", shape.gap.as_secs_f64().to_string());
    option("--answer", shape.answer.word().to_owned());
    option("--voice", settings.voice.word().to_owned());
    option("--answer-voice", settings.answer_voice.word().to_owned());
    option("--a4", a4_hz.to_string());
    option("--level", shape.level.to_string());
    option("--seed", seed.to_string());
    for (given, flag) in [
        (shape.again, "--again"),
        (shape.strings_first, "--strings-first"),
        (shape.flats, "--flats"),
        (shape.left_handed, "--left-handed"),
    ] {
        if given {
            words.push(flag.to_owned());
        }
    }
    words.join(" ")
}

/// The command that shows a report: of a class's last lesson, or of one student.
pub fn report(book: Option<&Path>, class: &str, student: Option<&str>) -> String {
    let book = book.map_or_else(String::new, |file| {
        format!(" --book {}", quoted(&file.display().to_string()))
    });
    let class = quoted(&text::shown(class));
    let of = match student {
        Some(name) => format!("--student {}", quoted(&text::shown(name))),
        None => "--lesson last".to_owned(),
    };
    format!("fifthpeg report{book} --class {class} {of}")
}

/// A word as a shell of this system takes it: a POSIX one, or Windows' own.
pub fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_.,/:+@%".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else if cfg!(windows) {
        format!("\"{}\"", word.replace('"', "\\\""))
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_quoted_where_a_shell_needs_it() {
        assert_eq!(quoted("banjo-open-g"), "banjo-open-g");
        assert_eq!(
            quoted("frets=0-5 notes=G:major"),
            "'frets=0-5 notes=G:major'"
        );
        assert_eq!(quoted("F#4,A4"), "'F#4,A4'");
        assert_eq!(quoted("Mia's"), "'Mia'\\''s'");
        assert_eq!(quoted(""), "''");
    }

    #[test]
    fn a_report_is_asked_for_of_a_lesson_or_a_student() {
        let book = Some(Path::new("my books/a.book"));
        assert_eq!(
            report(book, "Thursday class", None),
            "fifthpeg report --book 'my books/a.book' --class 'Thursday class' --lesson last"
        );
        let said = report(None, "alone", Some("$Mia"));
        assert_eq!(said, "fifthpeg report --class alone --student '$Mia'");
    }
}
