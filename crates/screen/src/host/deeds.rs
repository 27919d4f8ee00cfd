//! What those who host can have done, from whichever screen, and what came of it.

use fifthpeg_host::{Host, Invite, KnownPerson};
use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::setup::HostOrder;

use crate::parts::Message;
use crate::words;

/// What a host can have done.
#[derive(Debug, Clone, PartialEq)]
pub enum HostDeed {
    /// Give this order to the lesson.
    Order(HostOrder),
    /// Go on without the lesson book.
    WithoutBook,
    /// Go on in a new lesson book.
    NewBook,
    /// Something about who is who, or class keys.
    People(People),
    /// Show how a phone gets in.
    Joining,
    /// Make new words for pages, and show them.
    NewPageWords,
}

/// What is asked for or ordered about who is who, and class keys.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum People {
    /// The list of those who are known, to say who somebody is.
    AskWho,
    /// The list of those who are here, to offer a class key.
    AskKeys,
    /// This student is who has that name.
    KnownAs(StudentId, String),
    /// Offer this student a class key.
    OfferKey(StudentId),
}

/// What came of it.
pub enum Came {
    /// It is done, with this to tell, if anything.
    Done(Option<Message>),
    /// It could not be done, and why.
    Failed(Message),
    /// This list.
    Known(People, Vec<KnownPerson>),
    /// How a phone gets in, where there is a page for it.
    Invite(Option<Invite>),
}

const ASKED: &str = "The student is asked whether the machine is theirs alone.";

/// Does it; `no_call` is said where it takes a call and none is open.
pub async fn carry_out(host: &Host, deed: HostDeed, no_call: &str) -> Came {
    let done = match deed {
        HostDeed::Order(order) => host.order(order).await,
        HostDeed::WithoutBook => host.go_on_without_book().await,
        HostDeed::NewBook => host.go_on_in_new_book().await,
        HostDeed::People(asked @ (People::AskWho | People::AskKeys)) => {
            match host.everyone_known().await {
                Ok(known) => return Came::Known(asked, known),
                Err(why) => Err(why),
            }
        }
        HostDeed::People(People::KnownAs(student, name)) => host.known_as(student, &name).await,
        HostDeed::People(People::OfferKey(student)) => match host.offer_key(student).await {
            Ok(()) => return Came::Done(Some(Message::news(ASKED))),
            Err(why) => Err(why),
        },
        HostDeed::Joining => return Came::Invite(host.invite()),
        HostDeed::NewPageWords => match host.renew_page_words() {
            Ok(()) => return Came::Invite(host.invite()),
            Err(why) => return Came::Failed(Message::trouble(why)),
        },
    };
    match done {
        Ok(()) => Came::Done(None),
        Err(why) => Came::Failed(Message::trouble(words::order_refused(&why, no_call))),
    }
}
