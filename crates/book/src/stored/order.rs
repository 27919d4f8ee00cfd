//! What the host ordered.

use fifthpeg_lesson::Picking;
use fifthpeg_lesson::learning::StudentKey;
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{Sounding, StudentId, Voice};
use fifthpeg_lesson::setup::HostOrder;
use serde::{Deserialize, Serialize};

use super::Unread;
use super::input::{hex, unhex};
use super::values::{Answer, Reach, pitch};
use crate::words::as_word;

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Order {
    CallAt(Answer),
    CallPlayed(u8),
    CallRandom,
    HearAgain,
    Reveal,
    Close,
    PassTurn,
    SetReach(Reach),
    SetMarking(#[serde(with = "as_word")] Marking),
    SetSounding(#[serde(with = "as_word")] Sounding),
    SetTelling(#[serde(with = "as_word")] Telling),
    SetVoice(#[serde(with = "as_word")] Voice),
    SetSingFirst(bool),
    SetPicking(#[serde(with = "as_word")] Picking),
    Remove(u32),
    KnownAs {
        student: u32,
        name: String,
        /// In 32 hexadecimal digits.
        person: Option<String>,
    },
    End,
}

impl From<HostOrder> for Order {
    fn from(order: HostOrder) -> Self {
        match order {
            HostOrder::CallAt(at) => Order::CallAt(at.into()),
            HostOrder::CallPlayed(pitch) => Order::CallPlayed(pitch.midi()),
            HostOrder::CallRandom => Order::CallRandom,
            HostOrder::HearAgain => Order::HearAgain,
            HostOrder::Reveal => Order::Reveal,
            HostOrder::Close => Order::Close,
            HostOrder::PassTurn => Order::PassTurn,
            HostOrder::SetReach(spec) => Order::SetReach((&spec).into()),
            HostOrder::SetMarking(marking) => Order::SetMarking(marking),
            HostOrder::SetSounding(sounding) => Order::SetSounding(sounding),
            HostOrder::SetTelling(telling) => Order::SetTelling(telling),
            HostOrder::SetVoice(voice) => Order::SetVoice(voice),
            HostOrder::SetSingFirst(on) => Order::SetSingFirst(on),
            HostOrder::SetPicking(picking) => Order::SetPicking(picking),
            HostOrder::Remove(student) => Order::Remove(student.0),
            HostOrder::KnownAs {
                student,
                name,
                person,
            } => Order::KnownAs {
                student: student.0,
                name,
                person: person.map(|key| hex(key.0)),
            },
            HostOrder::End => Order::End,
        }
    }
}

impl TryFrom<Order> for HostOrder {
    type Error = Unread;
    fn try_from(order: Order) -> Result<Self, Unread> {
        Ok(match order {
            Order::CallAt(at) => HostOrder::CallAt(at.try_into()?),
            Order::CallPlayed(midi) => HostOrder::CallPlayed(pitch(midi)?),
            Order::CallRandom => HostOrder::CallRandom,
            Order::HearAgain => HostOrder::HearAgain,
            Order::Reveal => HostOrder::Reveal,
            Order::Close => HostOrder::Close,
            Order::PassTurn => HostOrder::PassTurn,
            Order::SetReach(reach) => HostOrder::SetReach(reach.try_into()?),
            Order::SetMarking(marking) => HostOrder::SetMarking(marking),
            Order::SetSounding(sounding) => HostOrder::SetSounding(sounding),
            Order::SetTelling(telling) => HostOrder::SetTelling(telling),
            Order::SetVoice(voice) => HostOrder::SetVoice(voice),
            Order::SetSingFirst(on) => HostOrder::SetSingFirst(on),
            Order::SetPicking(picking) => HostOrder::SetPicking(picking),
            Order::Remove(student) => HostOrder::Remove(StudentId(student)),
            Order::KnownAs {
                student,
                name,
                person,
            } => HostOrder::KnownAs {
                student: StudentId(student),
                name,
                person: person.as_deref().map(unhex).transpose()?.map(StudentKey),
            },
            Order::End => HostOrder::End,
        })
    }
}
