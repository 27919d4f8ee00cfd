//! How values are written, in two forms: in binary, as they travel between host
//! and student, and as JSON, as the lesson book keeps them. What comes in
//! binary comes from a peer, and is held against what there can be while it is
//! read; the lesson book's texts are our own.

use core::marker::PhantomData;
use core::ops::RangeInclusive;
use core::time::Duration;

use fifthpeg_core::bounded::{First, Shown, bound};
use serde::de::{Error as _, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

bound! {
    /// The name of a student or a lesson.
    Name = (128, "bytes of a name");
    /// The text of a refusal.
    Text = (512, "bytes of a refusal's text");
    /// A reach in its text form.
    ReachText = (256, "bytes of a reach");
    /// The places of a note in a reveal.
    Places = (256, "places of a note");
    /// The marks in a reveal.
    Marks = (1024, "marks in a reveal");
    /// The answers that a call says are held.
    Held = (1024, "held answers that a call names");
    /// The students in a progress message.
    Friends = (512, "students in a progress message");
}

/// Durations: whole microseconds in binary, seconds and nanoseconds in JSON.
pub mod micros {
    use super::*;

    /// Writes it.
    ///
    /// # Errors
    /// As the serializer.
    pub fn serialize<T: Time + Serialize, S: Serializer>(t: &T, s: S) -> Result<S::Ok, S::Error> {
        match s.is_human_readable() {
            true => t.serialize(s),
            false => t.micros().serialize(s),
        }
    }

    /// Reads it.
    ///
    /// # Errors
    /// As the deserializer.
    pub fn deserialize<'de, T, D: Deserializer<'de>>(d: D) -> Result<T, D::Error>
    where
        T: Time + Deserialize<'de>,
        T::Micros: Deserialize<'de>,
    {
        match d.is_human_readable() {
            true => T::deserialize(d),
            false => T::Micros::deserialize(d).map(T::of),
        }
    }

    /// A duration, or one that may be missing.
    pub trait Time {
        /// As it travels.
        type Micros: Serialize;
        /// In whole microseconds.
        fn micros(&self) -> Self::Micros;
        /// From whole microseconds.
        fn of(micros: Self::Micros) -> Self;
    }

    impl Time for Duration {
        type Micros = u64;

        fn micros(&self) -> u64 {
            u64::try_from(self.as_micros()).unwrap_or(u64::MAX)
        }

        fn of(micros: u64) -> Self {
            Duration::from_micros(micros)
        }
    }

    impl Time for Option<Duration> {
        type Micros = Option<u64>;

        fn micros(&self) -> Option<u64> {
            self.as_ref().map(Time::micros)
        }

        fn of(micros: Option<u64>) -> Self {
            micros.map(Duration::from_micros)
        }
    }
}

/// Keys: sixteen bytes in binary, 32 hexadecimal digits in JSON.
pub mod hex {
    use super::*;

    /// Writes it.
    ///
    /// # Errors
    /// As the serializer.
    pub fn serialize<S: Serializer>(key: &u128, s: S) -> Result<S::Ok, S::Error> {
        match s.is_human_readable() {
            true => s.collect_str(&format_args!("{key:032x}")),
            false => key.serialize(s),
        }
    }

    /// Reads it.
    ///
    /// # Errors
    /// As the deserializer.
    pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<u128, D::Error> {
        if !d.is_human_readable() {
            return u128::deserialize(d);
        }
        let digits = String::deserialize(d)?;
        u128::from_str_radix(&digits, 16).map_err(|_| D::Error::custom("no hexadecimal number"))
    }
}

/// Reaches: in binary the text form, as the program itself writes it.
pub mod reach {
    use fifthpeg_core::ReachSpec;
    use fifthpeg_core::bounded::Within;

    use super::*;

    /// Writes it.
    ///
    /// # Errors
    /// As the serializer.
    pub fn serialize<S: Serializer>(reach: &ReachSpec, s: S) -> Result<S::Ok, S::Error> {
        match s.is_human_readable() {
            true => reach.serialize(s),
            false => Within::<ReachText>::serialize(&reach.to_string(), s),
        }
    }

    /// Reads it.
    ///
    /// # Errors
    /// As the deserializer, or where it cannot be read.
    pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<ReachSpec, D::Error> {
        if d.is_human_readable() {
            return ReachSpec::deserialize(d);
        }
        let text: String = Within::<ReachText>::deserialize(d)?;
        let reach = text.parse::<ReachSpec>().ok();
        let reach = reach.filter(|reach| reach.to_string() == text);
        reach.ok_or_else(|| D::Error::custom("a reach that cannot be read"))
    }
}

/// Necks: what travels is sure to build.
pub mod neck {
    use fifthpeg_core::{Neck, NeckDescription};

    use super::*;

    /// Writes it.
    ///
    /// # Errors
    /// As the serializer.
    pub fn serialize<S: Serializer>(neck: &NeckDescription, s: S) -> Result<S::Ok, S::Error> {
        neck.serialize(s)
    }

    /// Reads it.
    ///
    /// # Errors
    /// As the deserializer, or where it is no neck.
    pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<NeckDescription, D::Error> {
        let trusted = d.is_human_readable();
        let neck = NeckDescription::deserialize(d)?;
        match trusted || Neck::build(neck.clone()).is_ok() {
            true => Ok(neck),
            false => Err(D::Error::custom("a neck that cannot be built")),
        }
    }
}

/// How friends do: of more than may be told of, the first are.
pub mod friends {
    use super::*;
    use crate::choices::Progress;

    #[derive(Clone, Serialize, Deserialize)]
    struct Friend(#[serde(with = "Shown::<Name>")] String, Progress);

    /// Writes them.
    ///
    /// # Errors
    /// As the serializer, or where a name is too long.
    pub fn serialize<S: Serializer>(all: &[(String, Progress)], s: S) -> Result<S::Ok, S::Error> {
        let friend = |(name, progress): &(String, Progress)| Friend(name.clone(), *progress);
        let all: Vec<Friend> = all.iter().map(friend).collect();
        First::<Friends>::serialize(&all, s)
    }

    /// Reads them.
    ///
    /// # Errors
    /// As the deserializer.
    pub fn deserialize<'de, D: Deserializer<'de>>(
        d: D,
    ) -> Result<Vec<(String, Progress)>, D::Error> {
        let all: Vec<Friend> = First::<Friends>::deserialize(d)?;
        Ok(all
            .into_iter()
            .map(|Friend(name, how)| (name, how))
            .collect())
    }
}

/// A sentence within a refusal: shown on a screen, and cut where it is too long.
#[derive(Debug)]
pub struct Sentence;

impl Sentence {
    /// Writes it.
    ///
    /// # Errors
    /// As the serializer.
    pub fn serialize<S: Serializer>(text: &String, s: S) -> Result<S::Ok, S::Error> {
        First::<Text>::serialize(text, s)
    }

    /// Reads it.
    ///
    /// # Errors
    /// As the deserializer.
    pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<String, D::Error> {
        Shown::<Text>::deserialize(d)
    }
}

/// A range that a figure lies in: a name for it, for use in [`Ranged`].
pub trait Span {
    /// From where to where. No figure that is not a number is in a range.
    const RANGE: RangeInclusive<f64>;
    /// What is said of one outside: "a tone that nobody can hear".
    const OUTSIDE: &'static str;
}

/// The lowest and highest tone a terminal sounds, in hertz: below and above
/// every note of MIDI's range.
#[derive(Debug)]
pub struct ToneHz;

impl Span for ToneHz {
    const RANGE: RangeInclusive<f64> = 5.0..=16_000.0;
    const OUTSIDE: &'static str = "a tone that nobody can hear";
}

/// The frequency of A4, in hertz.
#[derive(Debug)]
pub struct A4Hz;

impl Span for A4Hz {
    const RANGE: RangeInclusive<f64> =
        fifthpeg_core::Reference::LOWEST_HZ..=fifthpeg_core::Reference::HIGHEST_HZ;
    const OUTSIDE: &'static str = "a tuning reference far from any A4";
}

/// Frequencies that are taken for sung, in hertz: a whistle at the upper end,
/// and below the lowest voice at the other.
pub const SUNG_RANGE_HZ: RangeInclusive<f64> = 20.0..=8000.0;

/// A sung note, in hertz.
#[derive(Debug)]
pub struct SungHz;

impl Span for SungHz {
    const RANGE: RangeInclusive<f64> = SUNG_RANGE_HZ;
    const OUTSIDE: &'static str = "a sung note that no voice reaches";
}

/// How far a sung note may move about its middle, in cents either way.
#[derive(Debug)]
pub struct SungSpread;

impl Span for SungSpread {
    const RANGE: RangeInclusive<f64> = 0.0..=1200.0;
    const OUTSIDE: &'static str = "a sung note that moved by more than an octave";
}

/// How far a sung note lies from an octave of the target, in cents.
#[derive(Debug)]
pub struct SungCents;

impl Span for SungCents {
    const RANGE: RangeInclusive<f64> = -600.0..=600.0;
    const OUTSIDE: &'static str = "a sung note further from its octave than half of one";
}

/// Writes and reads a figure that lies in a range. In JSON those that are not
/// finite are texts, since JSON has no word for them, and a peer of an earlier
/// version may have sent one.
#[derive(Debug)]
pub struct Ranged<R>(PhantomData<R>);

impl<R: Span> Ranged<R> {
    /// Writes it.
    ///
    /// # Errors
    /// As the serializer.
    pub fn serialize<F: Figure, S: Serializer>(figure: &F, s: S) -> Result<S::Ok, S::Error> {
        let exact: f64 = (*figure).into();
        match s.is_human_readable() {
            true if exact.is_finite() => s.serialize_f64(exact),
            true => s.collect_str(&exact),
            false => figure.serialize(s),
        }
    }

    /// Reads it.
    ///
    /// # Errors
    /// As the deserializer, or what is said of one outside the range.
    pub fn deserialize<'de, F: Figure + Deserialize<'de>, D: Deserializer<'de>>(
        d: D,
    ) -> Result<F, D::Error> {
        if d.is_human_readable() {
            return d.deserialize_any(FigureOrText).map(F::nearest);
        }
        let figure = F::deserialize(d)?;
        match R::RANGE.contains(&figure.into()) {
            true => Ok(figure),
            false => Err(D::Error::custom(R::OUTSIDE)),
        }
    }
}

/// A figure of either width.
pub trait Figure: Copy + Into<f64> + Serialize {
    /// The nearest one.
    fn nearest(exact: f64) -> Self;
}

impl Figure for f64 {
    fn nearest(exact: f64) -> Self {
        exact
    }
}

impl Figure for f32 {
    fn nearest(exact: f64) -> Self {
        exact as f32
    }
}

struct FigureOrText;

impl Visitor<'_> for FigureOrText {
    type Value = f64;

    fn expecting(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("a figure")
    }

    fn visit_f64<E>(self, v: f64) -> Result<f64, E> {
        Ok(v)
    }

    fn visit_i64<E>(self, v: i64) -> Result<f64, E> {
        Ok(v as f64)
    }

    fn visit_u64<E>(self, v: u64) -> Result<f64, E> {
        Ok(v as f64)
    }

    fn visit_str<E: serde::de::Error>(self, v: &str) -> Result<f64, E> {
        v.parse().map_err(|_| E::custom("no figure"))
    }
}
