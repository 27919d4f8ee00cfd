//! Lists and texts from a peer: each is held against its limit before anything
//! is allocated for it, and before anything is sent.
//!
//! A field says its limit where it stands: `#[serde(with = "Within::<Strings>")]`.
//! Limits hold in the binary form that travels. The lesson book's texts are our
//! own, and as long as they are.

use core::fmt;
use core::marker::PhantomData;

use serde::de::{Error as _, SeqAccess, Visitor};
use serde::ser::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::text::may_be_shown;

/// How much is allowed of what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Limit {
    /// The most that is allowed.
    pub most: usize,
    /// What is limited, and in what it is counted: "bytes of a name".
    pub of: &'static str,
}

impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "more than {} {}", self.most, self.of)
    }
}

/// Something with a limit: a name for it, for use in [`Within`].
pub trait Bound {
    /// How much.
    const LIMIT: Limit;
}

/// Names limits: `/// doc  Name = (most, "of what");`.
#[macro_export]
macro_rules! bound {
    ($($(#[$doc:meta])+ $name:ident = ($most:expr, $of:expr);)+) => {$(
        $(#[$doc])+
        #[derive(Debug)]
        pub struct $name;

        impl $crate::bounded::Bound for $name {
            const LIMIT: $crate::bounded::Limit = $crate::bounded::Limit { most: $most, of: $of };
        }
    )+};
}
pub use bound;

/// Writes and reads a list or text of at most so many.
#[derive(Debug)]
pub struct Within<B>(PhantomData<B>);

impl<B: Bound> Within<B> {
    /// Refuses to write what goes beyond the limit.
    ///
    /// # Errors
    /// The limit, as the serializer's error.
    pub fn serialize<T: Lengthy, S: Serializer>(value: &T, s: S) -> Result<S::Ok, S::Error> {
        if !s.is_human_readable() && value.length() > B::LIMIT.most {
            return Err(S::Error::custom(B::LIMIT));
        }
        value.serialize(s)
    }

    /// Reads no more than the limit.
    ///
    /// # Errors
    /// The limit, as the deserializer's error.
    pub fn deserialize<'de, T: Bounded<'de>, D: Deserializer<'de>>(d: D) -> Result<T, D::Error> {
        match d.is_human_readable() {
            true => T::deserialize(d),
            false => T::read(d, B::LIMIT),
        }
    }
}

/// As [`Within`], for texts that are shown on screens: what steers a terminal
/// or hides is refused.
#[derive(Debug)]
pub struct Shown<B>(PhantomData<B>);

impl<B: Bound> Shown<B> {
    /// As [`Within::serialize`].
    ///
    /// # Errors
    /// The limit, as the serializer's error.
    pub fn serialize<T: Lengthy, S: Serializer>(value: &T, s: S) -> Result<S::Ok, S::Error> {
        Within::<B>::serialize(value, s)
    }

    /// As [`Within::deserialize`].
    ///
    /// # Errors
    /// The limit, or what the text holds.
    pub fn deserialize<'de, T, D: Deserializer<'de>>(d: D) -> Result<T, D::Error>
    where
        T: Bounded<'de> + AsText,
    {
        let trusted = d.is_human_readable();
        let value: T = Within::<B>::deserialize(d)?;
        match value.text() {
            Some(text) if !trusted && !may_be_shown(text) => Err(D::Error::custom(
                "a text with control or invisible signs in it",
            )),
            _ => Ok(value),
        }
    }
}

/// As [`Within`], but of more than may be sent the first are: a list's, or the
/// letters of a text that is shown.
#[derive(Debug)]
pub struct First<B>(PhantomData<B>);

impl<B: Bound> First<B> {
    /// Writes as many as the limit allows.
    ///
    /// # Errors
    /// None of its own.
    pub fn serialize<T: Lengthy, S: Serializer>(value: &T, s: S) -> Result<S::Ok, S::Error> {
        match s.is_human_readable() || value.length() <= B::LIMIT.most {
            true => value.serialize(s),
            false => value.first(B::LIMIT.most).serialize(s),
        }
    }

    /// As [`Within::deserialize`].
    ///
    /// # Errors
    /// The limit, as the deserializer's error.
    pub fn deserialize<'de, T: Bounded<'de>, D: Deserializer<'de>>(d: D) -> Result<T, D::Error> {
        Within::<B>::deserialize(d)
    }
}

/// What has a length that can be too much.
pub trait Lengthy: Serialize + Sized {
    /// Elements of a list, bytes of a text.
    fn length(&self) -> usize;
    /// The first so many.
    fn first(&self, most: usize) -> Self;
}

/// What can be read within a limit.
pub trait Bounded<'de>: Deserialize<'de> {
    /// Reads it.
    ///
    /// # Errors
    /// The limit, as the deserializer's error.
    fn read<D: Deserializer<'de>>(d: D, limit: Limit) -> Result<Self, D::Error>;
}

/// What holds a text, or none.
pub trait AsText {
    /// The text.
    fn text(&self) -> Option<&str>;
}

impl AsText for String {
    fn text(&self) -> Option<&str> {
        Some(self)
    }
}

impl AsText for Option<String> {
    fn text(&self) -> Option<&str> {
        self.as_deref()
    }
}

impl Lengthy for String {
    fn length(&self) -> usize {
        self.len()
    }

    fn first(&self, most: usize) -> Self {
        let mut end = self.len().min(most);
        while !self.is_char_boundary(end) {
            end -= 1;
        }
        self[..end].to_owned()
    }
}

impl Lengthy for Option<String> {
    fn length(&self) -> usize {
        self.as_ref().map_or(0, String::len)
    }

    fn first(&self, most: usize) -> Self {
        self.as_ref().map(|text| text.first(most))
    }
}

impl<T: Serialize + Clone> Lengthy for Vec<T> {
    fn length(&self) -> usize {
        self.len()
    }

    fn first(&self, most: usize) -> Self {
        self.iter().take(most).cloned().collect()
    }
}

impl<'de> Bounded<'de> for String {
    fn read<D: Deserializer<'de>>(d: D, limit: Limit) -> Result<Self, D::Error> {
        d.deserialize_str(Text(limit))
    }
}

impl<'de> Bounded<'de> for Option<String> {
    fn read<D: Deserializer<'de>>(d: D, limit: Limit) -> Result<Self, D::Error> {
        d.deserialize_option(MaybeText(limit))
    }
}

impl<'de, T: Deserialize<'de>> Bounded<'de> for Vec<T> {
    fn read<D: Deserializer<'de>>(d: D, limit: Limit) -> Result<Self, D::Error> {
        d.deserialize_seq(List(limit, PhantomData))
    }
}

/// Reads a text without copying it before its length is known to be allowed.
struct Text(Limit);

impl Visitor<'_> for Text {
    type Value = String;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a text of at most {} bytes", self.0.most)
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<String, E> {
        match text.len() > self.0.most {
            true => Err(E::custom(self.0)),
            false => Ok(text.to_owned()),
        }
    }
}

/// Reads a list without allocating for more than is allowed.
struct List<T>(Limit, PhantomData<T>);

impl<'de, T: Deserialize<'de>> Visitor<'de> for List<T> {
    type Value = Vec<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a list of at most {}", self.0.most)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Vec<T>, A::Error> {
        if seq.size_hint().is_some_and(|n| n > self.0.most) {
            return Err(A::Error::custom(self.0));
        }
        // Grown as elements really come, never ahead of them.
        let mut list = Vec::new();
        while let Some(element) = seq.next_element()? {
            if list.len() == self.0.most {
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
        write!(f, "nothing, or a text of at most {} bytes", self.0.most)
    }

    fn visit_none<E: serde::de::Error>(self) -> Result<Option<String>, E> {
        Ok(None)
    }

    fn visit_some<D: Deserializer<'de>>(self, d: D) -> Result<Option<String>, D::Error> {
        d.deserialize_str(Text(self.0)).map(Some)
    }
}
