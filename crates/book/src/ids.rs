//! Random numbers by which lessons, people and notes are known in every copy
//! of the book.

use core::fmt;
use core::str::FromStr;

use rusqlite::ToSql;
use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSqlOutput, ValueRef};

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub u128);

        impl $name {
            /// A new one, from the system's random numbers.
            ///
            /// # Errors
            /// What the system says, if it gives none.
            pub fn random() -> Result<Self, getrandom::Error> {
                let mut bytes = [0; 16];
                getrandom::fill(&mut bytes)?;
                Ok(Self(u128::from_be_bytes(bytes)))
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{:032x}", self.0)
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, concat!(stringify!($name), "({:032x})"), self.0)
            }
        }

        impl FromStr for $name {
            type Err = core::num::ParseIntError;
            fn from_str(hex: &str) -> Result<Self, Self::Err> {
                u128::from_str_radix(hex, 16).map(Self)
            }
        }

        impl ToSql for $name {
            fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
                Ok(self.0.to_be_bytes().to_vec().into())
            }
        }

        impl FromSql for $name {
            fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
                let bytes = <[u8; 16]>::try_from(value.as_blob()?);
                bytes
                    .map(|b| Self(u128::from_be_bytes(b)))
                    .map_err(|_| FromSqlError::InvalidType)
            }
        }
    };
}

id! {
    /// A lesson, as a random number of 128 bits. Written in 32 hexadecimal
    /// digits.
    LessonId
}
id! {
    /// A person, as a random number of 128 bits. Written in 32 hexadecimal
    /// digits.
    PersonId
}
id! {
    /// A note, as a random number of 128 bits. Written in 32 hexadecimal
    /// digits.
    NoteId
}
