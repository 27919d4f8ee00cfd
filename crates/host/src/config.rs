//! What a host is started with.

use core::time::Duration;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::path::PathBuf;

use fifthpeg_lesson::setup::LessonSetup;
use fifthpeg_link::origin::HostName;
use fifthpeg_link::rate::Rate;
use fifthpeg_link::secure::{HostKey, WebKey};
use fifthpeg_lock::{GuessLimits, LineLimits, Passphrase};
use fifthpeg_sound::{Level, Output};
use tokio::time::Instant;

use crate::HostBook;
use crate::engine::{BURST, MOST_HELD};

/// What a host is started with.
pub struct HostConfig {
    /// Addresses to listen on. Port 0 lets the system choose one; several
    /// addresses with port 0 all get the same one, so that a single port is
    /// announced. At least one must be usable; an address of a family that this
    /// machine lacks is left out.
    pub bind: Vec<SocketAddr>,
    /// Whether anybody is let in over the network. Without it no socket is
    /// opened and nothing is announced; terminals of this same program come in
    /// by [`crate::Host::inside`].
    pub network: bool,
    /// Whether any free port will do where the one asked for is taken.
    pub any_port_instead: bool,
    /// The lesson to hold.
    pub setup: LessonSetup,
    /// Who is let in.
    pub lock: Lock,
    /// Whether to announce the lesson on the local network.
    pub announce: bool,
    /// Where the host's speakers play; `None` leaves them silent.
    pub output: Option<Box<dyn Output>>,
    /// How loud the host's speakers play.
    pub level: Level,
    /// Bounds on what peers may ask of this host.
    pub limits: Limits,
    /// Names under which web pages of this host may be reached, besides the
    /// machine's own.
    pub host_names: Vec<HostName>,
    /// What browsers are shown that come over https.
    pub certificate: Certificate,
    /// Where the lesson is written down. With a lesson taken up again, `setup`
    /// is not used.
    pub book: Option<HostBook>,
}

impl HostConfig {
    /// Listens on every address of this machine, announces the lesson, plays
    /// nothing itself. The lesson is open: [`HostConfig::lock`] locks it.
    pub fn new(setup: LessonSetup) -> Self {
        let limits = Limits::default();
        // A class that comes back together has its old connections still open.
        let students = usize::try_from(setup.max_students).unwrap_or(usize::MAX);
        let connections = students.saturating_mul(2).saturating_add(
            limits.joining + limits.joining_known + limits.line.places + limits.pages,
        );
        Self {
            bind: any_address(0),
            network: true,
            any_port_instead: false,
            setup,
            lock: Lock::Open,
            announce: true,
            output: None,
            level: Level::default(),
            limits: Limits {
                connections,
                ..limits
            },
            host_names: Vec::new(),
            certificate: Certificate::default(),
            book: None,
        }
    }
}

/// Who is let into a lesson.
#[derive(Debug, Clone)]
pub enum Lock {
    /// Anyone, and nothing is encrypted.
    Open,
    /// Who knows the passphrase; everything is encrypted.
    Passphrase {
        /// What the host is known by.
        key: HostKey,
        /// The passphrase.
        passphrase: Passphrase,
    },
}

/// What browsers are shown that come over https.
#[derive(Debug, Clone)]
pub enum Certificate {
    /// One that the host makes for itself, kept in that file if there is one.
    Own(Option<PathBuf>),
    /// One that was given.
    Given(WebKey),
}

impl Default for Certificate {
    fn default() -> Self {
        Self::Own(None)
    }
}

/// Every IPv4 and every IPv6 address of this machine, at one port.
pub fn any_address(port: u16) -> Vec<SocketAddr> {
    [
        IpAddr::V4(Ipv4Addr::UNSPECIFIED),
        IpAddr::V6(Ipv6Addr::UNSPECIFIED),
    ]
    .map(|ip| SocketAddr::new(ip, port))
    .to_vec()
}

/// Bounds on what peers may ask of a host. Each has a [`crate::Notice`] that
/// says when it was met.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Connections in all, those not yet in the lesson included.
    pub connections: usize,
    /// Connections that are not in the lesson yet.
    pub joining: usize,
    /// Connections that wait for room there; more are turned away.
    pub waiting: usize,
    /// Room beside it for machines that a student came in from before, so that
    /// strangers who fill the door keep nobody from coming back.
    pub joining_known: usize,
    /// Of those, how many from one address, so that one machine cannot keep
    /// all the others out. More are turned away; a terminal tries again by
    /// itself.
    pub joining_from_one: usize,
    /// The same for terminals on the host's own machine, where many may run.
    pub joining_from_here: usize,
    /// New connections from one address; more are turned away at once.
    pub arrivals_from_one: RateLimit,
    /// The same for terminals on the host's own machine.
    pub arrivals_from_here: RateLimit,
    /// New connections from all other machines together, but for those that a
    /// student has come in from.
    pub arrivals: RateLimit,
    /// Connections that wait for their keys to be worked out, one after the
    /// other, before it is told.
    pub waiting_for_keys: usize,
    /// Browsers that are given the page at once. They take no joiner's room.
    pub pages: usize,
    /// How long one may take to load it.
    pub page_within: Duration,
    /// Pages for a projector at once; more are hung up on.
    pub halls: usize,
    /// How long a connection may take to join.
    pub join_within: Duration,
    /// How long a student may be silent before the connection counts as dead.
    /// Terminals ask for the clock every second or two.
    pub silence: Duration,
    /// How long one frame may wait to be written.
    pub write_within: Duration,
    /// Frames that wait for one student before that student is dropped.
    pub queue: usize,
    /// Frames one student may send each second, on average. A student over it
    /// is read no faster than this.
    pub frames_per_second: u32,
    /// Frames one student may send at once after a pause.
    pub burst: u32,
    /// Wrong passphrases that are looked at.
    pub guesses: GuessLimits,
    /// How guesses wait for that.
    pub line: LineLimits,
}

/// So many a second, and so many at once after a pause; at least one each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RateLimit {
    /// A second, on average.
    pub per_second: u32,
    /// At once after a pause.
    pub burst: u32,
}

impl RateLimit {
    /// Kept to from now on.
    pub(crate) fn from(self, now: Instant) -> Rate {
        Rate::new(self.per_second, self.burst, now)
    }
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            connections: 1200,
            joining: 64,
            waiting: 256,
            joining_known: 32,
            joining_from_one: 4,
            joining_from_here: 32,
            arrivals_from_one: RateLimit {
                per_second: 20,
                burst: 200,
            },
            arrivals_from_here: RateLimit {
                per_second: 500,
                burst: 4000,
            },
            arrivals: RateLimit {
                per_second: 300,
                burst: 1200,
            },
            waiting_for_keys: 16,
            pages: 32,
            halls: 8,
            page_within: Duration::from_secs(30),
            join_within: Duration::from_secs(5),
            silence: Duration::from_secs(10),
            write_within: Duration::from_secs(5),
            // All that waited for the book may come at once.
            queue: MOST_HELD + 64,
            frames_per_second: 50,
            burst: BURST,
            guesses: GuessLimits::default(),
            line: LineLimits::default(),
        }
    }
}
