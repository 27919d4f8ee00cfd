//! Lists and texts that are checked against their limit before anything is
//! allocated for them, and before anything is sent.

use core::fmt;
use core::marker::PhantomData;

use serde::de::{Error as _, SeqAccess, Visitor};
use serde::ser::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::limits::Limit;

/// Reads a text without copying it before its length is known to be allowed.
struct Text(Limit);

impl Visitor<'_> for Text {
    type Value = String;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a text of at most {} bytes", self.0.most())
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<String, E> {
        if text.len() > self.0.most() {
            return Err(E::custom(self.0));
        }
        Ok(text.to_owned())
    }
}

/// Reads a list without allocating for more than is allowed.
struct List<T>(Limit, PhantomData<T>);

impl<'de, T: Deserialize<'de>> Visitor<'de> for List<T> {
    type Value = Vec<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a list of at most {}", self.0.most())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Vec<T>, A::Error> {
        if seq.size_hint().is_some_and(|n| n > self.0.most()) {
            return Err(A::Error::custom(self.0));
        }
        // Grown as elements really come, never ahead of them.
        let mut list = Vec::new();
        while let Some(element) = seq.next_element()? {
            if list.len() == self.0.most() {
                return Err(A::Error::custom(self.0));
            }
            list.push(element);
        }
        Ok(list)
    }
}

/// An optional text, each present one checked.
struct MaybeText(Limit);

impl<'de> Visitor<'de> for MaybeText {
    type Value = Option<String>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "nothing, or a text of at most {} bytes", self.0.most())
    }

    fn visit_none<E: serde::de::Error>(self) -> Result<Option<String>, E> {
        Ok(None)
    }

    fn visit_some<D: Deserializer<'de>>(self, d: D) -> Result<Option<String>, D::Error> {
        d.deserialize_str(Text(self.0)).map(Some)
    }
}

macro_rules! texts {
    ($($name:ident = $limit:expr;)+) => {$(
        pub mod $name {
            use super::*;

            pub fn serialize<S: Serializer>(text: &str, s: S) -> Result<S::Ok, S::Error> {
                if text.len() > $limit.most() {
                    return Err(S::Error::custom($limit));
                }
                text.serialize(s)
            }

            pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<String, D::Error> {
                d.deserialize_str(Text($limit))
            }
        }
    )+};
}

macro_rules! lists {
    ($($name:ident = $limit:expr;)+) => {$(
        pub mod $name {
            use super::*;

            pub fn serialize<T: Serialize, S: Serializer>(list: &[T], s: S) -> Result<S::Ok, S::Error> {
                if list.len() > $limit.most() {
                    return Err(S::Error::custom($limit));
                }
                list.serialize(s)
            }

            pub fn deserialize<'de, T: Deserialize<'de>, D: Deserializer<'de>>(
                d: D,
            ) -> Result<Vec<T>, D::Error> {
                d.deserialize_seq(List($limit, PhantomData))
            }
        }
    )+};
}

texts! {
    program = Limit::ProgramBytes;
    name = Limit::NameBytes;
    text = Limit::TextBytes;
    reach = Limit::ReachBytes;
}

lists! {
    strings = Limit::Strings;
    course = Limit::Course;
    places = Limit::Places;
    marks = Limit::Marks;
    held = Limit::Held;
    progress = Limit::Progress;
    shares = Limit::Shares;
}

pub mod maybe_name {
    use super::*;

    pub fn serialize<S: Serializer>(name: &Option<String>, s: S) -> Result<S::Ok, S::Error> {
        if name
            .as_ref()
            .is_some_and(|n| n.len() > Limit::NameBytes.most())
        {
            return Err(S::Error::custom(Limit::NameBytes));
        }
        name.serialize(s)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<Option<String>, D::Error> {
        d.deserialize_option(MaybeText(Limit::NameBytes))
    }
}
