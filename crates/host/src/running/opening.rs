//! From a host's settings to a running host.

use std::sync::{Arc, Mutex};

use fifthpeg_book::Outlives;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::message::{Rules, SeatKey, StudentId, ToStudent, Welcome};
use fifthpeg_lesson::setup::MAX_NAME_CHARS;
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::{Lesson, LessonSetup};
use fifthpeg_link::LinkError;
use fifthpeg_link::channel::Frame;
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::discovery::Announcement;
use fifthpeg_link::inside::inside_door;
use fifthpeg_log::{Chain, Kind};
use fifthpeg_sound::{SoundError, Speaker, Started};
use fifthpeg_wire::HostFrame;
use tokio::net::TcpListener;
use tokio::sync::{broadcast, mpsc, watch};
use tracing::{info, warn};

use super::{EVENTS, Host, INBOUND, ORDERS};
use crate::accept::Door;
use crate::bind::listen_all;
use crate::bounds::Teller;
use crate::class_keys::ClassKeys;
use crate::invite::OfPages;
use crate::lesson_task::{LessonTask, Outlets};
use crate::lock::DoorLock;
use crate::recalling::AskBook;
use crate::written::{HostBook, Planned, Written};
use crate::{BookState, HostConfig, HostError, Lock, Notice};

/// Tones that may wait to be made.
const TONES_WAITING: usize = 8;

/// A host that has its addresses but takes nobody in yet: whoever listens now
/// misses nothing of the lesson.
pub struct Prepared {
    config: HostConfig,
    listeners: Vec<TcpListener>,
    opening: Opening,
    events: broadcast::Sender<LessonEvent>,
    notices: (broadcast::Sender<Notice>, broadcast::Receiver<Notice>),
    pages: OfPages,
}

/// Prepares a host, in the runtime that it is to run in.
///
/// # Errors
/// As [`start`](super::start).
pub fn prepare(mut config: HostConfig) -> Result<Prepared, HostError> {
    let listeners = if config.network {
        listen(&mut config)?
    } else {
        Vec::new()
    };
    // Better to know now than when the first student joins.
    let pages = OfPages::make(&config, &listeners)?;
    let port = listeners.first().and_then(|l| l.local_addr().ok());
    let opening = open_lesson(&config.setup, config.book.take(), port.map(|at| at.port()))?;
    can_be_told(opening.lesson.view().rules)?;
    Ok(Prepared {
        config,
        listeners,
        opening,
        events: broadcast::channel(EVENTS).0,
        notices: broadcast::channel(EVENTS),
        pages,
    })
}

fn listen(config: &mut HostConfig) -> Result<Vec<TcpListener>, HostError> {
    listen_all(&config.bind).or_else(|e| match e {
        HostError::Listen { ref source, .. }
            if config.any_port_instead && source.kind() == std::io::ErrorKind::AddrInUse =>
        {
            config.bind.iter_mut().for_each(|at| at.set_port(0));
            listen_all(&config.bind)
        }
        e => Err(e),
    })
}

struct Opening {
    lesson: Lesson,
    clock: LocalClock,
    written: Option<Written>,
    book: BookState,
}

/// A new lesson, or one taken up again. A book that cannot be written keeps
/// nobody from holding a lesson.
fn open_lesson(
    setup: &LessonSetup,
    book: Option<HostBook>,
    port: Option<u16>,
) -> Result<Opening, HostError> {
    let clock = LocalClock::new();
    let (book, how, class) = match book {
        Some(HostBook {
            book,
            lesson: Planned::GoOn(resumed),
            outlives,
            on_report,
        }) => {
            let how = (outlives, on_report);
            let ask = AskBook {
                path: book.path().to_owned(),
                class: resumed.class,
                lesson: resumed.running.id(),
                began: None,
            };
            return Ok(Opening {
                lesson: resumed.lesson,
                clock: LocalClock::going_on_from(resumed.goes_on),
                written: Some(Written::start(book, resumed.running, how, port, ask)),
                book: BookState::Writing,
            });
        }
        Some(HostBook {
            book,
            lesson: Planned::Begin { class },
            outlives,
            on_report,
        }) => (Some(book), (outlives, on_report), class),
        None => (None, (Outlives::default(), None), String::new()),
    };
    let began = clock.now();
    let lesson = Lesson::new(setup.clone(), began).map_err(HostError::Lesson)?;
    let begun = book.map(|book| Written::begin(book, &class, setup, began, how, port));
    let (written, book) = match begun {
        None => (None, BookState::None),
        Some(Ok(written)) => (Some(written), BookState::Writing),
        Some(Err(e)) => {
            warn!(name: "book-unusable", error = %Chain(&e));
            let sentence = e.to_string();
            (None, BookState::Unusable { sentence })
        }
    };
    Ok(Opening {
        lesson,
        clock,
        written,
        book,
    })
}

impl Prepared {
    /// What will happen in the lesson, from its beginning.
    pub fn events(&self) -> broadcast::Receiver<LessonEvent> {
        self.events.subscribe()
    }

    /// Takes students in, and announces the lesson. Students who know the
    /// address may be in before the announcing has ended.
    pub async fn open(self) -> Host {
        let Self {
            config,
            listeners,
            opening,
            events,
            notices: (notices, first_notices),
            pages,
        } = self;
        let Opening {
            lesson,
            clock,
            written,
            book,
        } = opening;
        let local_addrs: Vec<_> = listeners
            .iter()
            .filter_map(|l| l.local_addr().ok())
            .collect();
        // As the lesson keeps it: terminals compare it with what they are told.
        let wanted_name = lesson.view().rules.lesson;
        let speakers = match config.output {
            Some(output) => {
                let troubles = notices.clone();
                let played = move |(), _, started: Result<Started, SoundError>| {
                    if let Err(e) = started {
                        // Nobody may be listening for notices; then there is nobody to tell.
                        let _ = troubles.send(Notice::Speakers(e.to_string()));
                    }
                };
                Speaker::start((output, config.level), TONES_WAITING, played)
                    .map_err(|e| notices.send(Notice::Speakers(e.to_string())))
                    .ok()
            }
            None => None,
        };

        let teller = Teller::new(notices.clone());
        let (inside, arrivals) = inside_door();
        let (orders, orders_in) = mpsc::channel(ORDERS);
        let (inbound, inbound_in) = mpsc::channel(INBOUND);
        let (view_out, view) = watch::channel(Arc::new(lesson.view()));
        let (untold_out, untold) = watch::channel(Vec::new());
        let (book_out, book) = watch::channel(book);
        let outlets = Outlets {
            view: view_out,
            untold: untold_out,
            events: events.clone(),
            notices: teller.clone(),
            book: book_out,
        };
        let keys = ClassKeys::new(&config.lock);
        let task = LessonTask::new(lesson, clock, speakers, outlets, written, keys);
        let lesson = tokio::spawn(task.run(orders_in, inbound_in));
        let limits = config.limits;
        let words = pages.words.clone();
        let lock = DoorLock::new(config.lock.clone(), words, wanted_name.clone(), &limits);
        let door = Door::open(
            (listeners, arrivals),
            (limits, lock),
            pages.for_door(),
            (view.clone(), untold),
            clock,
            inbound,
            teller.clone(),
        );

        let open = matches!(config.lock, Lock::Open);
        let announced = if config.announce && config.network {
            Announcement::start_at(&wanted_name, &local_addrs, open)
                .await
                .map(Some)
        } else {
            Ok(None)
        };
        let (announcement, announce_trouble) = match announced {
            Ok(announcement) => (announcement, None),
            Err(e) => {
                warn!(name: "not-announced", error = %Chain(&e));
                (None, Some(not_announced(&e)))
            }
        };
        info!(
            name: "host-open",
            network = config.network,
            port = local_addrs.first().map(|at| at.port()),
            count = local_addrs.len(),
            locked = !open,
            announced = announcement.is_some(),
            kind = %Kind(&*book.borrow()),
        );
        let name = announcement
            .as_ref()
            .map_or(wanted_name, |a| a.name().to_owned());
        Host {
            orders,
            view,
            events,
            notices,
            first_notices: Mutex::new(Some(first_notices)),
            teller,
            local_addrs,
            announcement,
            announce_trouble,
            name,
            clock,
            door,
            lock: config.lock,
            pages,
            inside,
            book,
            lesson,
        }
    }
}

fn not_announced(e: &LinkError) -> String {
    let why = match e {
        LinkError::Discovery(why) => why.to_string(),
        other => other.to_string(),
    };
    format!("the lesson is not announced on the network ({why}): tell students the address")
}

/// Whether a terminal can be welcomed with these rules: better to know before
/// the first one joins.
fn can_be_told(rules: Rules) -> Result<(), HostError> {
    let welcome = ToStudent::Welcome(Box::new(Welcome {
        student: StudentId(u32::MAX),
        key: SeatKey(u128::MAX),
        name: "x".repeat(MAX_NAME_CHARS as usize),
        rules,
        tally: Tally::default(),
        last_call: None,
    }));
    let frame = HostFrame::Lesson(welcome);
    // And whether a terminal takes it as it comes.
    let told = frame.encode().and_then(|bytes| HostFrame::decode(&bytes));
    let told = told.map_err(LinkError::from);
    told.map(drop).map_err(HostError::Unsendable)
}

#[cfg(test)]
mod tests;
