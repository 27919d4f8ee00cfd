//! What a host tells beside the lesson's own events.

use std::net::{IpAddr, SocketAddr};

use crate::Counter;

/// Something about the network that whoever holds the lesson may want to know.
/// Each displays as one sentence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Notice {
    /// Somebody new came in by a page in a browser.
    #[error("{name} came in by a page in a browser")]
    CameByPage {
        /// The name given.
        name: String,
    },
    /// Many browsers ask for the page at once.
    #[error(
        "more than {limit} browsers ask for the page at once: whoever is later waits, and nobody who is in waits for them"
    )]
    PagesWait {
        /// The limit.
        limit: usize,
    },
    /// Another page for a projector than there is room for.
    #[error(
        "{limit} pages for a projector are open, and another one was turned away: close one that nobody is watching"
    )]
    HallsFull {
        /// The limit.
        limit: usize,
    },
    /// A student's queue was full.
    #[error(
        "{name} was not reading fast enough and was disconnected; the terminal comes back by itself"
    )]
    Slow {
        /// The student.
        name: String,
    },
    /// A student was silent too long.
    #[error(
        "nothing was heard from {name} for {seconds} s, so the connection was closed; the terminal comes back by itself"
    )]
    Silent {
        /// The student.
        name: String,
        /// How long, in seconds.
        seconds: u64,
    },
    /// A student sent more than the limit on frames.
    #[error(
        "the terminal of {name} sends more than this lesson takes and is being read more slowly"
    )]
    TooFast {
        /// The student.
        name: String,
    },
    /// What was to be sent to a student goes beyond a frame's limits.
    #[error("{name} could not be told something ({what}) and was disconnected")]
    Unsendable {
        /// The student.
        name: String,
        /// Which limit.
        what: String,
    },
    /// A student's terminal sent what no terminal sends.
    #[error(
        "the terminal of {name} sent something that is not of a lesson ({what}) and was disconnected"
    )]
    Confused {
        /// The student.
        name: String,
        /// What was wrong.
        what: String,
    },
    /// A peer never came as far as joining.
    #[error("{address} connected but did not join: {what}")]
    NotJoined {
        /// Where it connected from.
        address: SocketAddr,
        /// What was wrong.
        what: String,
    },
    /// A peer runs a program that does not fit this one.
    #[error("{address} runs a program that does not fit this one: {what}")]
    WrongVersion {
        /// Where it connected from.
        address: SocketAddr,
        /// Which side to update.
        what: String,
    },
    /// Somebody tried a passphrase that is not this lesson's.
    #[error("a wrong passphrase came from {ip}: {from_there} from there so far, {in_all} in all")]
    WrongPassphrase {
        /// Where it came from.
        ip: IpAddr,
        /// Wrong ones from there.
        from_there: u64,
        /// Wrong ones from everywhere.
        in_all: u64,
    },
    /// One address has tried too many passphrases.
    #[error(
        "{ip} has tried too many wrong passphrases and has to wait {seconds} s before the next is looked at; those who are in stay in"
    )]
    GuessesWait {
        /// Where they came from.
        ip: IpAddr,
        /// How long, in seconds.
        seconds: u32,
    },
    /// All addresses together have tried too many.
    #[error(
        "many wrong passphrases come in: whoever is new waits in line, and whoever has the right one comes in by itself; those who are in stay in"
    )]
    NewcomersWait,
    /// Someone was not let in.
    #[error("{name} was not let in: {why}")]
    TurnedAway {
        /// The name given.
        name: String,
        /// The reason.
        why: String,
    },
    /// Too many connections.
    #[error("{address} was turned away: {limit} connections are open, the most this host takes")]
    TooManyConnections {
        /// Where it connected from.
        address: SocketAddr,
        /// The limit.
        limit: usize,
    },
    /// Too many connections from one address that have not joined.
    #[error(
        "connections from {ip} are turned away: {limit} of its connections are open without having joined; a terminal there tries again by itself"
    )]
    TooManyJoining {
        /// Where they come from.
        ip: IpAddr,
        /// The limit.
        limit: usize,
    },
    /// Too many connections in all that have not joined.
    #[error(
        "whoever wants to join has to wait: {limit} connections are open without having joined"
    )]
    JoinersWait {
        /// The limit.
        limit: usize,
    },
    /// Many connections are to be encrypted at once.
    #[error(
        "more than {limit} who connect wait for their encryption: it is worked out for one after the other, so that nobody who is in waits for them"
    )]
    KeysWait {
        /// The limit.
        limit: usize,
    },
    /// New connections from an address, or from everywhere, came too fast.
    #[error(
        "connections from {ip} come too soon after others and are turned away; a terminal there tries again by itself"
    )]
    TooSoon {
        /// Where they come from.
        ip: IpAddr,
    },
    /// A student said more in one call than a lesson writes down.
    #[error(
        "the terminal of {name} has sent more in this call than the lesson keeps: nothing more of it is taken until the next call"
    )]
    TooMuch {
        /// The student.
        name: String,
    },
    /// What was left out of the notices, being the same again.
    #[error("{times} more times: {}", .counter.title())]
    More {
        /// Of what.
        counter: Counter,
        /// How many.
        times: u64,
    },
    /// No new connection can be taken.
    #[error("no connection can be taken just now ({0}); trying again")]
    CannotAccept(String),
    /// The host's speakers cannot play.
    #[error("the host's speakers did not sound this: {0}")]
    Speakers(String),
    /// The host was killed before its speakers sounded the call that is open, or
    /// so soon after that nothing shows that they did.
    #[error(
        "the host stopped as its speakers were to sound this call, so perhaps nobody heard it: close it and call again, or sound it again, for which answers are not timed right"
    )]
    PerhapsUnsounded,
    /// The lesson book cannot be written just now.
    #[error("answers wait to be written down, and go on waiting until they are: {sentence}")]
    BookWaits {
        /// What happened and what to do.
        sentence: String,
    },
    /// The lesson goes on in a new lesson book.
    #[error(
        "the lesson goes on in the new lesson book {path}, and stands in it from its beginning"
    )]
    NewBook {
        /// Its file.
        path: String,
    },
    /// What a student did in earlier lessons cannot be read.
    #[error(
        "what was heard in earlier lessons cannot be read, so picks that teach and the signs for who needs help go by this lesson alone: {sentence}"
    )]
    NotRecalled {
        /// What happened and what to do.
        sentence: String,
    },
    /// Somebody came in by a class key while another of the name is here.
    #[error(
        "the machine of {name} came in by its class key while somebody is here as {name}: find out which of the two it is, and take the other out"
    )]
    HereTwice {
        /// The name.
        name: String,
    },
    /// A student has a class key now.
    #[error("{name} has a class key now: from the next lesson on that machine needs no passphrase")]
    KeyKept {
        /// The student.
        name: String,
    },
    /// A student does not take a class key.
    #[error("{name} does not want a class key on that machine")]
    KeyNotTaken {
        /// The student.
        name: String,
    },
    /// A class key could not be kept.
    #[error("{name} has no class key, since it could not be written down: {sentence}")]
    KeyNotKept {
        /// The student.
        name: String,
        /// What happened and what to do.
        sentence: String,
    },
    /// The lesson book is written again.
    #[error("everything that waited is written down now")]
    BookBack,
    /// The host went on without the lesson book.
    #[error(
        "the lesson goes on without the lesson book: from here on nothing is written down, and nothing waits for it"
    )]
    BookLeft,
}

impl Notice {
    /// Whether it is about the lesson book.
    pub fn is_about_book(&self) -> bool {
        matches!(
            self,
            Notice::BookWaits { .. }
                | Notice::BookBack
                | Notice::BookLeft
                | Notice::NewBook { .. }
                | Notice::NotRecalled { .. }
        )
    }

    /// Whether it is about class keys.
    pub fn is_about_keys(&self) -> bool {
        matches!(
            self,
            Notice::KeyKept { .. } | Notice::KeyNotTaken { .. } | Notice::KeyNotKept { .. }
        )
    }
}
