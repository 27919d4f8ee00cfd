//! The lesson's words to the wire's types and back. What comes from the wire is
//! validated here: nothing impossible reaches the lesson or a terminal.

mod answers;
mod client;
mod host;
mod rules;

use core::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_core::text::may_be_shown;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{FromStudent, PlaceKey, ToStudent};
use fifthpeg_lock::PublicKey;
use fifthpeg_wire::{ClientFrame, HostFrame};

use crate::LinkError;
pub use client::{client_from_wire, client_to_wire};
pub use host::{host_from_wire, host_to_wire};

/// The lowest and highest tone a terminal sounds, in hertz: below and above
/// every note of MIDI's range.
pub const TONE_RANGE_HZ: core::ops::RangeInclusive<f64> = 5.0..=16_000.0;

/// How far a sung note may move about its middle, in cents either way.
pub const SUNG_SPREAD_CENTS: core::ops::RangeInclusive<f32> = 0.0..=1200.0;

/// What a student says, the machinery's own words included.
#[derive(Debug, Clone, PartialEq)]
pub enum FromClient {
    /// Wants to be let in, perhaps back into an old place.
    Join {
        /// The name as typed.
        name: String,
        /// The key from an earlier welcome.
        key: Option<PlaceKey>,
        /// The key for a new place.
        new_key: PlaceKey,
    },
    /// Asks for the host's clock; `t1` is on the student's.
    ClockAsk {
        /// When it was sent.
        t1: Moment,
    },
    /// Takes the class key that was offered, with its public half, or not.
    KeyAnswer(Option<PublicKey>),
    /// For the lesson.
    Lesson(FromStudent),
}

/// What the host says, the machinery's own words included.
#[derive(Debug, Clone, PartialEq)]
pub enum FromHost {
    /// Its clock: `t1` as asked, `t2` and `t3` on the host's clock.
    ClockAnswer {
        /// When the asking was sent, student clock.
        t1: Moment,
        /// When it arrived, host clock.
        t2: Moment,
        /// When this was sent, host clock.
        t3: Moment,
    },
    /// Offers a class key.
    KeyOffered(KeyOffer),
    /// The class key is in the lesson book.
    KeyKept,
    /// For the terminal.
    Lesson(ToStudent),
}

/// What a class key is offered for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyOffer {
    /// The class.
    pub class: String,
    /// The student's name in it.
    pub name: String,
    /// What the host proves itself by to whoever comes with such a key.
    pub host: PublicKey,
}

/// The offer of a class key.
pub fn key_offer_to_wire(offer: &KeyOffer) -> HostFrame {
    HostFrame::KeyOffered {
        class: offer.class.clone(),
        name: offer.name.clone(),
        host: offer.host.0,
    }
}

/// The student's answer to it.
pub fn key_answer_to_wire(public: Option<PublicKey>) -> ClientFrame {
    ClientFrame::KeyAnswer {
        public: public.map(|key| key.0),
    }
}

/// A join: with the `key` of an old place, or for a new one, whose key is then
/// `new_key`.
pub fn join_to_wire(name: &str, key: Option<PlaceKey>, new_key: PlaceKey) -> ClientFrame {
    ClientFrame::Join {
        name: name.to_owned(),
        key: key.map(|k| k.0),
        new_key: new_key.0,
    }
}

/// A question for the host's clock, sent at `t1` of the student's.
pub fn clock_ask_to_wire(t1: Moment) -> ClientFrame {
    ClientFrame::ClockAsk { t1_us: t1.micros() }
}

/// The answer to it: arrived at `t2`, sent at `t3` of the host's clock.
pub fn clock_answer_to_wire(t1: Moment, t2: Moment, t3: Moment) -> HostFrame {
    HostFrame::ClockAnswer {
        t1_us: t1.micros(),
        t2_us: t2.micros(),
        t3_us: t3.micros(),
    }
}

/// A text for a screen: what it holds may not steer a terminal.
fn plain(text: String) -> Result<String, LinkError> {
    if !may_be_shown(&text) {
        return Err(LinkError::Impossible(
            "a text with control or invisible signs in it",
        ));
    }
    Ok(text)
}

fn pitch_from_wire(midi: u8) -> Result<Pitch, LinkError> {
    Pitch::new(midi).ok_or(LinkError::Impossible("a pitch beyond 127"))
}

fn micros(d: Duration) -> u64 {
    u64::try_from(d.as_micros()).unwrap_or(u64::MAX)
}

/// Two enums with the same unit variants, both ways.
macro_rules! same_variants {
    ($to:ident, $from:ident, $domain:ty, $wire:ty, $($variant:ident)+) => {
        pub(super) fn $to(value: $domain) -> $wire {
            match value {
                $(<$domain>::$variant => <$wire>::$variant,)+
            }
        }

        pub(super) fn $from(value: $wire) -> $domain {
            match value {
                $(<$wire>::$variant => <$domain>::$variant,)+
            }
        }
    };
}
use same_variants;

#[cfg(test)]
mod tests;
