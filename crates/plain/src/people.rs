//! Who is who, and class keys, as a host says them in plain mode.

use fifthpeg_core::text;
use fifthpeg_front::{NOBODY_HERE, NOBODY_KNOWN};
use fifthpeg_host::{Host, KnownPerson, could_be};
use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::names::are_alike;
use fifthpeg_lesson::view::LessonView;

use super::desk::find;
use super::say::{Say, Word};

/// Lists who is known and not here, or has somebody here be one of them.
///
/// # Errors
/// One sentence, when nobody is meant or the lesson refuses it.
pub async fn known(
    host: &Host,
    view: &LessonView,
    line: Option<&str>,
    say: &mut Say,
) -> Result<(), String> {
    let Some(line) = line else {
        let known = everyone(host).await?;
        // A number that nobody has.
        let names = could_be(view, &known, StudentId(0));
        if names.is_empty() {
            say.say(Word::Hint, NOBODY_KNOWN);
        }
        for name in names {
            say.say(Word::Known, name);
        }
        return Ok(());
    };
    // A name may hold the word itself.
    let parts = line.match_indices(" is ").map(|(at, is)| {
        let (student, known) = (&line[..at], &line[at + is.len()..]);
        (student.trim(), known.trim())
    });
    let mut error = String::new();
    for (student, name) in parts {
        match find(view, student) {
            Ok(student) => {
                let done = host.known_as(student.id, name).await;
                return done.map_err(|why| why.to_string());
            }
            Err(why) => error = why,
        }
    }
    Err(error)
}

/// Lists who has a class key, or offers one.
///
/// # Errors
/// One sentence, when nobody is meant or there are no class keys here.
pub async fn class_key(
    host: &Host,
    view: &LessonView,
    name: Option<&str>,
    say: &mut Say,
) -> Result<(), String> {
    if let Some(name) = name {
        let student = find(view, name)?;
        host.offer_key(student.id)
            .await
            .map_err(|why| why.to_string())?;
        say.say(
            Word::ClassKey,
            format!(
                "{} is asked whether the machine is theirs alone",
                text::one_line(&student.name)
            ),
        );
        return Ok(());
    }
    let known = everyone(host).await?;
    let here: Vec<_> = view.students.iter().filter(|s| s.connected).collect();
    if here.is_empty() {
        say.say(Word::Hint, NOBODY_HERE);
    }
    for student in here {
        let has = known
            .iter()
            .any(|person| person.has_key && are_alike(&person.name, &student.name));
        let has = if has { "has one" } else { "has none" };
        say.say(Word::ClassKey, format!("{} {has}", student.name));
    }
    Ok(())
}

async fn everyone(host: &Host) -> Result<Vec<KnownPerson>, String> {
    host.everyone_known().await.map_err(|why| why.to_string())
}
