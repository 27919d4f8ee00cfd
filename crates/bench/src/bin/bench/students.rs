//! A crowd of students: each speaks the real protocol over a connection of its
//! own, and has no screen, no sound and no clock to keep.

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, FromStudent, SeatKey, Source, ToStudent,
};
use fifthpeg_link::channel::{Receiver, Sender};
use fifthpeg_link::connect::{Reached, Way as Reach, connect_any};
use fifthpeg_link::secure::Stream;
use fifthpeg_lock::Passphrase;
use fifthpeg_wire::{ClientFrame, HostFrame};
use futures_util::StreamExt;
use tokio::io::{AsyncBufReadExt, BufReader};
use tokio::task::AbortHandle;

use crate::counting::{Counting, tell};
use crate::hosting::{PASSPHRASE, Way};
use crate::{Failure, clock};

/// The word that makes this program a crowd of students.
pub const STUDENTS: &str = "students";

/// So many join at once: the host has room for 32 of one machine in its door, and
/// gives it up a moment after the welcome.
const JOINING: usize = 12;

/// What each of a crowd is told that the crowd counts.
const COUNTED: [&str; 5] = ["call", "closed", "marked", "clock", "refused"];

struct Student {
    key: SeatKey,
    sender: Sender<Stream, ClientFrame>,
    reading: AbortHandle,
    serial: u32,
}

/// Is a number of students until the input ends.
pub async fn students(address: SocketAddr, number: usize, way: Way) -> Result<(), Failure> {
    let counting = Arc::new(Counting::new(number, &COUNTED));
    let joining = (0..number).map(|i| {
        let counting = counting.clone();
        async move { join(address, i, None, way, counting).await }
    });
    let mut joining = futures_util::stream::iter(joining).buffered(JOINING);
    let mut all = Vec::new();
    let mut told = clock::now();
    while let Some(student) = joining.next().await {
        all.push(student?);
        if clock::now() - told > Duration::from_secs(5) {
            told = clock::now();
            eprintln!("  {} of {number} have joined", all.len());
        }
    }
    tell("in", clock::now());
    let mut orders = BufReader::new(tokio::io::stdin()).lines();
    while let Some(order) = orders.next_line().await? {
        let mut words = order.split_whitespace();
        match (words.next(), words.next(), words.next()) {
            (Some("say"), Some(what), call) => {
                let call = CallId(call.map_or(Ok(0), str::parse)?);
                tell("said-from", clock::now());
                for student in &mut all {
                    let frame = student.says(what, call).ok_or("no such word")?;
                    student.sender.send(&frame).await?;
                }
            }
            (Some("return"), Some(which), None) => {
                let which: usize = which.parse()?;
                let student = all.get_mut(which).ok_or("no such student")?;
                student.reading.abort();
                let key = Some(student.key);
                *student = join(address, which, key, way, counting.clone()).await?;
                tell("returned", clock::now());
            }
            _ => return Err(format!("no such order: {order}").into()),
        }
    }
    Ok(())
}

impl Student {
    fn says(&mut self, what: &str, call: CallId) -> Option<ClientFrame> {
        let at = Answer::Pitch(Pitch::new(62)?);
        let source = Source::Screen;
        Some(ClientFrame::Lesson(match what {
            "sounded" => FromStudent::Sounded { call },
            "hearing" => FromStudent::Hearing { call },
            "try" => FromStudent::Try { call, at, source },
            "answer" => {
                self.serial += 1;
                answer(call, self.serial, at)
            }
            "clock" => {
                let at = u64::try_from(clock::now().as_micros()).unwrap_or_default();
                return Some(ClientFrame::ClockAsk {
                    t1: Moment::from_micros(at),
                });
            }
            _ => return None,
        }))
    }
}

/// An answer as a terminal sends it.
pub fn answer(call: CallId, serial: u32, answer: Answer) -> FromStudent {
    FromStudent::Answer(AnswerNotice {
        call,
        serial,
        answer,
        source: Source::Screen,
        response: Some(Duration::from_millis(2_345)),
        uncertainty: Duration::from_millis(3),
    })
}

async fn join(
    address: SocketAddr,
    which: usize,
    key: Option<SeatKey>,
    way: Way,
    counting: Arc<Counting>,
) -> Result<Student, Failure> {
    let reach = match way {
        Way::Plain => Reach::Open,
        Way::Tls => Reach::Locked,
    };
    let connected = connect_any(&[address], reach, Duration::from_secs(60)).await?;
    let channel = match connected.reached {
        Reached::Open(channel) => channel,
        Reached::Lock(lock) => {
            lock.pass(Passphrase::typed(PASSPHRASE)?.into())
                .await?
                .channel
        }
    };
    let (mut sender, mut receiver) = channel.split();
    let name = format!("Student {which}");
    let join = ClientFrame::join(&name, key, SeatKey(which as u128));
    sender.send(&join).await?;
    let key_before = key;
    let key = loop {
        let frame = receiver.recv().await?.ok_or("the host hung up")?;
        match frame {
            HostFrame::Lesson(ToStudent::Welcome(welcome)) => break welcome.key,
            HostFrame::Lesson(ToStudent::Refused(why)) => return Err(why.to_string().into()),
            _ => {}
        }
    };
    let back = key_before.is_some();
    let reading = tokio::spawn(read(receiver, counting, back)).abort_handle();
    Ok(Student {
        key,
        sender,
        reading,
        serial: 0,
    })
}

/// Counts what comes. Who is `back` while a call is open is told of it again,
/// which does not count.
async fn read(mut receiver: Receiver<Stream, HostFrame>, counting: Arc<Counting>, mut back: bool) {
    while let Ok(Some(frame)) = receiver.recv().await {
        match frame {
            HostFrame::Lesson(ToStudent::Call(_)) if back => back = false,
            HostFrame::Lesson(ToStudent::Call(_)) => counting.count(0),
            HostFrame::Lesson(ToStudent::Closed { .. }) => counting.count(1),
            HostFrame::Lesson(ToStudent::Marked { .. }) => counting.count(2),
            HostFrame::ClockAnswer { .. } => counting.count(3),
            HostFrame::Lesson(ToStudent::Refused(_) | ToStudent::AnswerRefused { .. }) => {
                counting.count(4);
            }
            _ => {}
        }
    }
}
