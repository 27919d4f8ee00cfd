//! Taking rows in, each once.

use std::collections::BTreeMap;

use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, params};

use super::{TakenIn, Trouble};
use crate::ids::{LessonId, PersonId};
use crate::keys::{class_key, lesson_key};
use crate::names::{folded, kept};
use crate::reader::whole::{self, Unreadable};
use crate::tables::{Column, Kind, Sheet};
use crate::taken_as::TakenAs;
use crate::{rules, seal, stored};

/// Takes rows in, within one transaction.
pub(super) struct Import<'c> {
    connection: &'c Connection,
    names: TakenAs,
    taken: TakenIn,
    /// Keys of the lessons met so far; none for those left out.
    lessons: BTreeMap<LessonId, Option<i64>>,
    /// Their keys, and whether nothing is wrong with what was here of them.
    touched: Vec<(i64, bool)>,
    /// Keys of the people met so far; none for those removed here.
    people: BTreeMap<PersonId, Option<i64>>,
}

impl<'c> Import<'c> {
    pub fn new(connection: &'c Connection, names: TakenAs) -> Self {
        Self {
            connection,
            names,
            taken: TakenIn::default(),
            lessons: BTreeMap::new(),
            touched: Vec::new(),
            people: BTreeMap::new(),
        }
    }

    /// Everything has been given: what came of it.
    pub fn done(self) -> Result<TakenIn, Trouble> {
        self.connection.execute(crate::schema::HELD_BEFORE, [])?;
        for (lesson, was_whole) in &self.touched {
            // What was wrong here before is not the file's fault.
            if *was_whole {
                fits(self.connection, *lesson)?;
            }
        }
        seal::renew(self.connection, &self.touched)?;
        Ok(self.taken)
    }

    /// Takes in one row, whose values stand in the order of the sheet's
    /// columns.
    pub fn take(&mut self, sheet: &Sheet, row: Vec<Value>) -> Result<(), Trouble> {
        for (column, value) in sheet.columns.iter().zip(&row) {
            // A name that is not tidy is tidied.
            if column.kind != Kind::Name {
                rules::value(column.kind, value).map_err(Trouble::bad)?;
            }
        }
        let given = Given(sheet, row);
        let new = match sheet.table.name {
            "class" => self.class(&given)?,
            "removed" => self.removed(&given)?,
            "person" => self.person(&given)?,
            "alias" => self.alias(&given)?,
            "lesson" => self.lesson(given)?,
            _ => self.put(given, "ON CONFLICT DO NOTHING")?,
        };
        self.taken.rows += u64::from(new);
        Ok(())
    }

    fn changed(&self, sql: &str, params: impl rusqlite::Params) -> Result<bool, Trouble> {
        Ok(self.connection.prepare_cached(sql)?.execute(params)? > 0)
    }

    /// What a class of the file is called here.
    fn class_name(&self, there: Option<&Value>) -> Result<String, Trouble> {
        match &self.names.class {
            Some(class) => kept(class).map_err(Trouble::bad),
            None => name(there),
        }
    }

    fn class(&mut self, row: &Given<'_>) -> Result<bool, Trouble> {
        let name = self.class_name(row.at("name"))?;
        self.changed(
            "INSERT INTO class (name, folded) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
            params![name, folded(&name)],
        )
    }

    /// Somebody removed there. Those who are here stay: whoever reads the
    /// outcome decides.
    fn removed(&mut self, row: &Given<'_>) -> Result<bool, Trouble> {
        let id = PersonId(id(row.at("id"))?);
        if let Some(key) = self.known(id)? {
            let here = self.connection.query_row(
                "SELECT class.name, person.name FROM person JOIN class ON class.key = person.class
                 WHERE person.key = ?1",
                [key],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )?;
            self.taken.removed_there.push(here);
            return Ok(false);
        }
        self.changed(
            "INSERT INTO removed (id) VALUES (?1) ON CONFLICT DO NOTHING",
            [id],
        )
    }

    fn person(&mut self, row: &Given<'_>) -> Result<bool, Trouble> {
        let person = PersonId(id(row.at("id"))?);
        let class_name = self.class_name(row.at("class"))?;
        let name = match &self.names.person {
            None => name(row.at("name"))?,
            Some(_) if self.people.keys().any(|other| *other != person) => {
                return Err(Trouble::bad(
                    "it holds several people, so they cannot all be one: leave --as out",
                ));
            }
            Some(name) => kept(name).map_err(Trouble::bad)?,
        };
        if self.is_removed(person)? {
            self.people.insert(person, None);
            return Ok(false);
        }
        let class = class_key(self.connection, &class_name)?;
        if let Some(key) = self.known(person)? {
            self.stays_in(key, class)?;
            self.stays_one(key)?;
            self.people.insert(person, Some(key));
            return Ok(false);
        }
        let same_name: Option<i64> = self
            .connection
            .query_row(
                "SELECT key FROM person WHERE class = ?1 AND folded = ?2",
                params![class, folded(&name)],
                |row| row.get(0),
            )
            .optional()?;
        let key = match same_name {
            Some(key) => {
                self.connection.execute(
                    "INSERT INTO alias (id, person) VALUES (?1, ?2)",
                    params![person, key],
                )?;
                self.taken.joined.push((class_name, name));
                key
            }
            None => {
                self.connection.execute(
                    "INSERT INTO person (id, class, name, folded) VALUES (?1, ?2, ?3, ?4)",
                    params![person, class, name, folded(&name)],
                )?;
                self.taken.people += 1;
                self.connection.last_insert_rowid()
            }
        };
        self.people.insert(person, Some(key));
        Ok(true)
    }

    /// Nobody goes from class to class by being taken in again under another.
    fn stays_in(&self, person: i64, class: i64) -> Result<(), Trouble> {
        let sql = "SELECT person.name, class.name FROM person
             JOIN class ON class.key = person.class WHERE person.key = ?1 AND class.key <> ?2";
        let elsewhere: Option<(String, String)> = self
            .connection
            .query_row(sql, [person, class], |row| Ok((row.get(0)?, row.get(1)?)))
            .optional()?;
        match elsewhere.filter(|_| self.names.class.is_some()) {
            None => Ok(()),
            Some((name, class)) => Err(Trouble::bad(format!(
                "{name} was taken in before, into the class {class}: name it with --class"
            ))),
        }
    }

    /// Who came in under one name before comes in under no other.
    fn stays_one(&self, person: i64) -> Result<(), Trouble> {
        let Some(asked) = &self.names.person else {
            return Ok(());
        };
        let sql = "SELECT name FROM person WHERE key = ?1";
        let before: String = self.connection.query_row(sql, [person], |row| row.get(0))?;
        if folded(&before) == folded(asked) {
            return Ok(());
        }
        Err(Trouble::bad(format!(
            "it was taken in before as {before}'s: say --as \"{before}\", or rename {before} afterwards"
        )))
    }

    fn alias(&mut self, row: &Given<'_>) -> Result<bool, Trouble> {
        let alias = PersonId(id(row.at("id"))?);
        let person = PersonId(id(row.at("person"))?);
        let Some(key) = self.person_key(person)? else {
            return Ok(false);
        };
        // Two who are one there may still be two here.
        if self.is_removed(alias)? || self.known(alias)?.is_some() {
            return Ok(false);
        }
        self.changed(
            "INSERT INTO alias (id, person) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
            params![alias, key],
        )
    }

    fn lesson(&mut self, row: Given<'_>) -> Result<bool, Trouble> {
        let lesson = LessonId(id(row.at("id"))?);
        let known = lesson_key(self.connection, lesson)?;
        if let Some(key) = known {
            let open: bool = self.connection.query_row(
                "SELECT EXISTS (SELECT 1 FROM log WHERE lesson = ?1)",
                [key],
                |row| row.get(0),
            )?;
            if open {
                // It may be being written this very moment.
                self.taken.open_here.push(lesson);
                self.lessons.insert(lesson, None);
                return Ok(false);
            }
        }
        let was_whole = match known {
            Some(key) => seal::is_whole(self.connection, key)?,
            None => true,
        };
        self.put(
            row,
            "ON CONFLICT (id) DO UPDATE SET ended_ms = coalesce(ended_ms, excluded.ended_ms)",
        )?;
        let key = lesson_key(self.connection, lesson)?;
        self.lessons.insert(lesson, key);
        self.touched.extend(key.map(|key| (key, was_whole)));
        self.taken.lessons += u32::from(known.is_none());
        Ok(known.is_none())
    }

    /// Puts a row in with the keys that this file has for what it points at, if
    /// that is here. One of a student needs a seat, which those removed have no
    /// more.
    fn put(&self, given: Given<'_>, on_conflict: &str) -> Result<bool, Trouble> {
        let Given(Sheet { table, columns, .. }, mut row) = given;
        let (mut places, mut seated) = (Vec::new(), "true".to_owned());
        for (number, (column, value)) in (1..).zip(columns.iter().zip(&mut row)) {
            match self.key(column, value)? {
                None => return Ok(false),
                Some(key) => *value = key,
            }
            places.push(format!("?{number}"));
            if column.kind == Kind::Student {
                seated = format!(
                    "?{number} IS NULL OR EXISTS
                     (SELECT 1 FROM seat WHERE lesson = ?1 AND student = ?{number})"
                );
            }
        }
        let names: Vec<&str> = columns.iter().map(|c| c.name).collect();
        let sql = format!(
            "INSERT INTO {} ({}) SELECT {} WHERE {seated} {on_conflict}",
            table.name,
            names.join(", "),
            places.join(", ")
        );
        self.changed(&sql, rusqlite::params_from_iter(row))
    }

    /// What stands in this file for a value of a sheet; `None` where that is left
    /// out here.
    fn key(&self, column: &Column, value: &Value) -> Result<Option<Value>, Trouble> {
        if !column.needed && *value == Value::Null {
            return Ok(Some(Value::Null));
        }
        let key = match column.kind {
            Kind::Class => Some(class_key(self.connection, &self.class_name(Some(value))?)?),
            Kind::Neck => Some(self.neck(&text(Some(value))?)?),
            Kind::Lesson => self.lesson_of(value)?,
            Kind::Person => self.person_key(PersonId(id(Some(value))?))?,
            _ => return Ok(Some(value.clone())),
        };
        Ok(key.map(Value::Integer))
    }

    fn neck(&self, neck: &str) -> Result<i64, Trouble> {
        stored::read_neck(neck).map_err(Trouble::bad)?;
        self.changed(
            "INSERT INTO neck (neck) VALUES (?1) ON CONFLICT DO NOTHING",
            [neck],
        )?;
        let mut key = self
            .connection
            .prepare_cached("SELECT key FROM neck WHERE neck = ?1")?;
        Ok(key.query_row([neck], |row| row.get(0))?)
    }

    fn lesson_of(&self, value: &Value) -> Result<Option<i64>, Trouble> {
        let lesson = LessonId(id(Some(value))?);
        self.lessons.get(&lesson).copied().ok_or_else(|| {
            Trouble::bad(format!("it names a lesson {lesson} that it does not hold"))
        })
    }

    fn person_key(&self, person: PersonId) -> Result<Option<i64>, Trouble> {
        self.people.get(&person).copied().ok_or_else(|| {
            Trouble::bad(format!("it names a person {person} whom it does not hold"))
        })
    }

    /// The person of this number, now or formerly.
    fn known(&self, person: PersonId) -> rusqlite::Result<Option<i64>> {
        self.connection
            .prepare_cached(
                "SELECT key FROM person WHERE id = ?1
                 UNION ALL SELECT person FROM alias WHERE id = ?1",
            )?
            .query_row([person], |row| row.get(0))
            .optional()
    }

    fn is_removed(&self, person: PersonId) -> rusqlite::Result<bool> {
        self.connection
            .prepare_cached("SELECT EXISTS (SELECT 1 FROM removed WHERE id = ?1)")?
            .query_row([person], |row| row.get(0))
    }
}

/// A row with its sheet.
struct Given<'s>(&'s Sheet, Vec<Value>);

impl Given<'_> {
    fn at(&self, column: &str) -> Option<&Value> {
        self.0.index(column).and_then(|index| self.1.get(index))
    }
}

/// Whether a lesson can be read as it was taken in, and is as a lesson can be.
fn fits(connection: &Connection, lesson: i64) -> Result<(), Trouble> {
    match whole::read(connection, lesson) {
        Ok(_) => Ok(()),
        Err(Unreadable::Spoilt(why)) => {
            let name: String = connection.query_row(
                "SELECT name FROM lesson WHERE key = ?1",
                [lesson],
                |row| row.get(0),
            )?;
            Err(Trouble::bad(format!("the lesson \"{name}\": {why}")))
        }
        Err(Unreadable::Trouble(error)) => Err(error.into()),
    }
}

fn id(value: Option<&Value>) -> Result<u128, Trouble> {
    match value {
        Some(Value::Blob(bytes)) => <[u8; 16]>::try_from(bytes.as_slice())
            .map(u128::from_be_bytes)
            .map_err(|_| Trouble::bad("a number is not of 32 digits")),
        _ => Err(Trouble::bad("a row does not say whose it is")),
    }
}

fn text(value: Option<&Value>) -> Result<String, Trouble> {
    match value {
        Some(Value::Text(text)) => Ok(text.clone()),
        _ => Err(Trouble::bad("a text is wanting")),
    }
}

/// A name fit for a screen, wherever the file comes from.
fn name(value: Option<&Value>) -> Result<String, Trouble> {
    kept(&text(value)?).map_err(Trouble::bad)
}
