//! Looking after people: another name, two who are one, and removal.

use std::path::PathBuf;

use rusqlite::{Connection, OptionalExtension, params};

use crate::columns::TABLES;
use crate::error::OrBookError;
use crate::location::kept_copies;
use crate::names::{folded, kept};
use crate::tables::Kind;
use crate::{Book, BookError, PersonId, seal};

/// What stands in a note for the name of somebody removed.
const NO_NAME: &str = "(removed)";

/// What removing somebody has left to look after.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Removed {
    /// Notes on others in which the name stood; it was taken out of them.
    pub notes_changed: u32,
    /// Names of classes, lessons and other people in which the name still
    /// stands.
    pub still_named: Vec<String>,
    /// Copies of the book from before it was brought up to date, which hold
    /// what it held then. See [`Book::delete_copies`].
    pub copies: Vec<PathBuf>,
}

impl Book {
    /// Gives a person another name. Every lesson shows the new one.
    ///
    /// # Errors
    /// [`BookError::NoPerson`], [`BookError::BadName`],
    /// [`BookError::NameTaken`], or when the book cannot be written.
    pub fn rename_person(&mut self, person: PersonId, name: &str) -> Result<(), BookError> {
        let name = kept(name)?;
        let path = self.path.clone();
        let step = self.connection.transaction().at(&path)?;
        let (key, class, _) = find(&step, person).at(&path)?.ok_or(BookError::NoPerson)?;
        let taken: bool = step
            .query_row(
                "SELECT EXISTS (SELECT 1 FROM person WHERE class = ?1 AND folded = ?2 AND key <> ?3)",
                params![class, folded(&name), key],
                |row| row.get(0),
            )
            .at(&path)?;
        if taken {
            return Err(BookError::NameTaken);
        }
        step.execute(
            "UPDATE person SET name = ?2, folded = ?3 WHERE key = ?1",
            params![key, name, folded(&name)],
        )
        .at(&path)?;
        step.commit().at(&path)
    }

    /// Makes two people of one class one: `one` stays, and has done all that
    /// `other` did.
    ///
    /// # Errors
    /// [`BookError::NoPerson`], [`BookError::NotTwo`], or what writing meets
    /// with.
    pub fn merge_people(&mut self, one: PersonId, other: PersonId) -> Result<(), BookError> {
        let path = self.path.clone();
        let step = self.connection.transaction().at(&path)?;
        let (stays, class, _) = find(&step, one).at(&path)?.ok_or(BookError::NoPerson)?;
        let (goes, its_class, _) = find(&step, other).at(&path)?.ok_or(BookError::NoPerson)?;
        if stays == goes || class != its_class {
            return Err(BookError::NotTwo);
        }
        let lessons = seal::of_person(&step, goes).at(&path)?;
        take_over(&step, stays, goes).at(&path)?;
        seal::renew(&step, &lessons).at(&path)?;
        step.commit().at(&path)
    }

    /// Removes a person wholly: the name, every answer, try, hearing and sung
    /// note, the notes on the person, and what is left of them in freed parts
    /// of the file. The calls that others answered stay, also those the person
    /// made. Only a random number stays, so that taking in an old copy of the
    /// book does not bring the person back.
    ///
    /// The file is written anew, which takes as much room again while it
    /// lasts. What the disk itself keeps of overwritten files, and copies that
    /// were made elsewhere, are beyond the book.
    ///
    /// # Errors
    /// [`BookError::NoPerson`]; [`BookError::InOpenLesson`] while the person
    /// is in a lesson that has not ended; when the book cannot be written:
    /// then either nothing was done, or the removal stands and
    /// [`Book::scrub`] is to be called again.
    pub fn remove_person(&mut self, person: PersonId) -> Result<Removed, BookError> {
        let path = self.path.clone();
        let step = self.connection.transaction().at(&path)?;
        let (key, class, name) = find(&step, person).at(&path)?.ok_or(BookError::NoPerson)?;
        let open: bool = step
            .query_row(
                "SELECT EXISTS (SELECT 1 FROM seat JOIN log ON log.lesson = seat.lesson
                 WHERE seat.person = ?1)",
                [key],
                |row| row.get(0),
            )
            .at(&path)?;
        if open {
            return Err(BookError::InOpenLesson { name });
        }
        let removed = remove(&step, key, class, &name).at(&path)?;
        step.commit().at(&path)?;
        self.scrub()?;
        Ok(Removed {
            copies: kept_copies(&path),
            ..removed
        })
    }

    /// Writes the file anew without its freed parts, and empties the file
    /// beside it.
    ///
    /// # Errors
    /// When the book cannot be written; [`BookError::Locked`] while another program
    /// reads the book.
    pub fn scrub(&mut self) -> Result<(), BookError> {
        self.connection.execute_batch("VACUUM").at(&self.path)?;
        let busy: bool = self
            .connection
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))
            .at(&self.path)?;
        if busy {
            return Err(BookError::Locked {
                path: self.path.clone(),
                why: None,
            });
        }
        Ok(())
    }

    /// Deletes the copies kept from before the book was brought up to date.
    ///
    /// # Errors
    /// [`BookError::File`] for the first that cannot be deleted.
    pub fn delete_copies(&self) -> Result<(), BookError> {
        for path in kept_copies(&self.path) {
            std::fs::remove_file(&path).map_err(|e| BookError::file(&path, e))?;
        }
        Ok(())
    }
}

/// All that hangs on the one goes to the other, who is known by its numbers as
/// well from now on.
pub(crate) fn take_over(connection: &Connection, stays: i64, goes: i64) -> rusqlite::Result<()> {
    for table in TABLES {
        for column in table.columns.iter().filter(|c| c.kind == Kind::Person) {
            let (table, column) = (table.name, column.name);
            let sql = format!("UPDATE {table} SET {column} = ?1 WHERE {column} = ?2");
            connection.execute(&sql, [stays, goes])?;
        }
    }
    connection.execute(
        "INSERT INTO alias (id, person) SELECT id, ?1 FROM person WHERE key = ?2",
        [stays, goes],
    )?;
    connection
        .execute("DELETE FROM person WHERE key = ?1", [goes])
        .map(drop)
}

/// Key, class and name of a person, by a number they have or had.
fn find(connection: &Connection, person: PersonId) -> rusqlite::Result<Option<(i64, i64, String)>> {
    connection
        .query_row(
            "SELECT key, class, name FROM person WHERE id = ?1
             OR key = (SELECT person FROM alias WHERE id = ?1)",
            [person],
            |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
        )
        .optional()
}

fn remove(connection: &Connection, key: i64, class: i64, name: &str) -> rusqlite::Result<Removed> {
    connection.execute(
        "INSERT INTO removed (id) SELECT id FROM person WHERE key = ?1
         UNION SELECT id FROM alias WHERE person = ?1",
        [key],
    )?;
    let lessons = seal::of_person(connection, key)?;
    // Seats go with the person, and with a seat all that was done from it.
    connection.execute("DELETE FROM person WHERE key = ?1", [key])?;
    seal::renew(connection, &lessons)?;
    let mut removed = Removed::default();
    let notes: Vec<(Vec<u8>, String)> = connection
        .prepare("SELECT id, text FROM note WHERE class = ?1")?
        .query_map([class], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<rusqlite::Result<_>>()?;
    for (id, text) in notes {
        if let Some(text) = without_name(&text, name) {
            connection.execute("UPDATE note SET text = ?2 WHERE id = ?1", params![id, text])?;
            removed.notes_changed += 1;
        }
    }
    let names = connection
        .prepare(
            "SELECT name FROM class UNION SELECT name FROM lesson
             UNION SELECT name FROM person WHERE class = ?1",
        )?
        .query_map([class], |row| row.get(0))?
        .collect::<rusqlite::Result<Vec<String>>>()?;
    let named = |other: &String| without_name(other, name).is_some();
    removed.still_named = names.into_iter().filter(named).collect();
    Ok(removed)
}

/// The text with the name taken out wherever it stands as a word of its own,
/// in capitals or not; `None` if it does not.
fn without_name(text: &str, name: &str) -> Option<String> {
    let mut out = String::new();
    let mut found = false;
    let mut rest = text;
    let mut before = None;
    while let Some(first) = rest.chars().next() {
        let inside = before.is_some_and(char::is_alphanumeric);
        match prefix_like(rest, name).filter(|_| !inside) {
            Some(length) => {
                out.push_str(NO_NAME);
                found = true;
                before = rest[..length].chars().next_back();
                rest = &rest[length..];
            }
            None => {
                out.push(first);
                before = Some(first);
                rest = &rest[first.len_utf8()..];
            }
        }
    }
    found.then_some(out)
}

/// How many bytes of the text's beginning are the name and end with a word's
/// end.
fn prefix_like(text: &str, name: &str) -> Option<usize> {
    if text.starts_with(char::is_whitespace) {
        return None;
    }
    let name = folded(name);
    let ends = text.char_indices().map(|(at, c)| at + c.len_utf8());
    // Folding changes a name's length by little.
    let longest = name.chars().count() + 8;
    let length = ends
        .take(longest)
        .find(|end| folded(&text[..*end]) == name)?;
    let behind = text[length..].chars().next();
    (!behind.is_some_and(char::is_alphanumeric)).then_some(length)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_taken_out_of_a_note_as_a_word_only() {
        let without = |text| without_name(text, "Mia");
        assert_eq!(
            without("MIA hears fourths; Miami, mia's ear.").as_deref(),
            Some("(removed) hears fourths; Miami, (removed)'s ear.")
        );
        assert_eq!(without("Jemmia, Miami and Ruth"), None);
        assert_eq!(
            without_name("İvo and İVO", "İvo").as_deref(),
            Some("(removed) and (removed)")
        );
        assert_eq!(without_name("", "Mia"), None);
    }
}
