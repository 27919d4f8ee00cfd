//! Outputs and inputs as tables of kinds, and which of them is chosen.

use crate::SoundError;
use std::fmt;
use std::marker::PhantomData;
use std::str::FromStr;

/// Whether a kind takes an argument.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Argument {
    Never,
    Optional,
    Needed,
}

/// One kind of output or input.
#[derive(Debug)]
pub struct Kind<T: ?Sized> {
    /// What people type before the colon.
    pub name: &'static str,
    /// How it is written in full.
    pub example: &'static str,
    /// What it does, in one line of help.
    pub summary: &'static str,
    pub(crate) argument: Argument,
    pub(crate) open: fn(&str) -> Result<Box<T>, SoundError>,
}

/// What is chosen from: outputs, or inputs.
pub trait Kinds: Sized + 'static {
    /// What is opened.
    type Opened: ?Sized + 'static;
    /// What one is called.
    const CALLED: &'static str;
    /// All of them: the usual one first, none at all last.
    const ALL: &'static [Kind<Self::Opened>];
}

/// One that was chosen, as people write it: `NAME` or `NAME:ARGUMENT`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice<K> {
    kind: usize,
    argument: String,
    of: PhantomData<K>,
}

impl<K: Kinds> Choice<K> {
    fn of(kind: usize, argument: &str) -> Self {
        Self {
            kind,
            argument: argument.to_owned(),
            of: PhantomData,
        }
    }

    /// None at all.
    pub fn none() -> Self {
        Self::of(K::ALL.len() - 1, "")
    }

    /// Its kind.
    pub fn kind(&self) -> &'static Kind<K::Opened> {
        &K::ALL[self.kind]
    }

    /// Whether it is of the usual kind: a sound device.
    pub fn is_usual(&self) -> bool {
        self.kind == 0
    }

    /// Whether it is none at all.
    pub fn is_none(&self) -> bool {
        self.kind == K::ALL.len() - 1
    }

    pub(crate) fn open(&self) -> Result<Box<K::Opened>, SoundError> {
        (self.kind().open)(&self.argument)
    }
}

/// The usual one.
impl<K: Kinds> Default for Choice<K> {
    fn default() -> Self {
        Self::of(0, "")
    }
}

impl<K: Kinds> fmt::Display for Choice<K> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.kind().name)?;
        if !self.argument.is_empty() {
            write!(f, ":{}", self.argument)?;
        }
        Ok(())
    }
}

impl<K: Kinds> FromStr for Choice<K> {
    type Err = SoundError;

    fn from_str(text: &str) -> Result<Self, SoundError> {
        let (name, argument) = match text.split_once(':') {
            Some((name, argument)) => (name, Some(argument)),
            None => (text, None),
        };
        let mut kinds = K::ALL.iter();
        let Some(kind) = kinds.position(|kind| kind.name.eq_ignore_ascii_case(name.trim())) else {
            let known: Vec<&str> = K::ALL.iter().map(|kind| kind.example).collect();
            return Err(SoundError::UnknownChoice {
                what: K::CALLED,
                choice: text.to_owned(),
                known: known.join(", "),
            });
        };
        let found = &K::ALL[kind];
        let fits = match (found.argument, argument) {
            (Argument::Never, argument) => argument.is_none(),
            (Argument::Optional, argument) => argument != Some(""),
            (Argument::Needed, argument) => argument.is_some_and(|text| !text.is_empty()),
        };
        if !fits {
            return Err(SoundError::ChoiceArgument {
                what: K::CALLED,
                name: found.name,
                example: found.example,
            });
        }
        Ok(Self::of(kind, argument.unwrap_or_default()))
    }
}
