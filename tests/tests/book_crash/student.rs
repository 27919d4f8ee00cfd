//! A student over a bare connection, who answers as fast as the host marks,
//! remembers every mark that came, and keeps every answer until the host has spoken
//! of it, whichever call is open by then.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_link::channel::StudentChannel;
use fifthpeg_link::connect::{Reached, Way, connect_any};
use fifthpeg_link::secure::Stream;
use fifthpeg_tests::net::passphrase;
use fifthpeg_tests::peers::new_key;
use fifthpeg_vocab::SeatKey;
use fifthpeg_vocab::{
    Answer, AnswerNotice, CallId, FromStudent, LastCall, Mark, Moment, Refusal, Source, ToStudent,
};
use fifthpeg_wire::{ClientFrame, HostFrame};
use tokio::time::timeout;

/// Call, student and serial of an answer.
pub type Key = (u32, u32, u32);
/// What a student was told of each answer: whether it was right.
pub type Told = BTreeMap<Key, bool>;

/// What came of all answers of a student.
#[derive(Debug, Default)]
pub struct Attended {
    /// Marked.
    pub told: Told,
    /// Refused by call and serial.
    pub refused: usize,
    /// To calls that the host has lost, as its welcome told.
    pub lost: usize,
    /// Nothing was told of these.
    pub untold: Vec<(u32, u32)>,
}

/// The octave that answers are tried from.
const LOWEST: u8 = 48;

struct Attending {
    /// How many students have been told of their seat.
    placed: Arc<AtomicUsize>,
    student: u32,
    key: Option<SeatKey>,
    new_key: SeatKey,
    attended: Attended,
    /// Answers that the host has not spoken of: by call and serial, with where the
    /// call starts, and the pitch.
    owed: BTreeMap<(u32, u32), (u64, u8)>,
    /// To be sent again.
    again: Vec<ClientFrame>,
    call: u32,
    start_us: u64,
    serial: u32,
    /// The answer on its way, with its serial: sent again until it is marked
    /// or refused.
    open: Option<(u32, u8)>,
    found: bool,
}

/// Attends the lesson until it is done, coming back after each loss.
pub async fn attend(
    name: &'static str,
    address: SocketAddr,
    placed: Arc<AtomicUsize>,
    done: Arc<AtomicBool>,
) -> Attended {
    let mut me = Attending {
        placed,
        student: 0,
        key: None,
        new_key: new_key(),
        attended: Attended::default(),
        owed: BTreeMap::new(),
        again: Vec::new(),
        call: 0,
        start_us: 0,
        serial: 0,
        open: None,
        found: true,
    };
    while !done.load(Ordering::SeqCst) {
        let Some(channel) = through(address).await else {
            tokio::time::sleep(Duration::from_millis(10)).await;
            continue;
        };
        me.talk(name, channel, &done).await;
    }
    me.attended.untold = me.owed.into_keys().collect();
    me.attended
}

/// Through the lock of the lesson at this address, if it answers.
async fn through(address: SocketAddr) -> Option<StudentChannel<Stream>> {
    let within = Duration::from_millis(500);
    let connected = connect_any(&[address], Way::Locked, within).await.ok()?;
    let Reached::Lock(lock) = connected.reached else {
        panic!("the lesson is open");
    };
    let through = timeout(within, lock.pass(passphrase().into()));
    through.await.ok()?.ok().map(|passed| passed.channel)
}

impl Attending {
    /// Until the connection or the lesson ends.
    async fn talk(&mut self, name: &str, mut channel: StudentChannel<Stream>, done: &AtomicBool) {
        let join = ClientFrame::Join {
            name: name.to_owned(),
            key: self.key,
            new_key: self.new_key,
        };
        if channel.send(&join).await.is_err() {
            return;
        }
        while !done.load(Ordering::SeqCst) {
            let frame = match timeout(Duration::from_millis(200), channel.recv()).await {
                Ok(Ok(Some(frame))) => frame,
                Ok(Ok(None) | Err(_)) => return,
                Err(_) => {
                    // Says that somebody is still there.
                    let ask = ClientFrame::ClockAsk { t1: Moment(1) };
                    if channel.send(&ask).await.is_err() {
                        return;
                    }
                    continue;
                }
            };
            self.hear(name, frame);
            let answers = std::mem::take(&mut self.again);
            for answer in answers.into_iter().chain(self.next_answer()) {
                if channel.send(&answer).await.is_err() {
                    return;
                }
            }
        }
    }

    fn hear(&mut self, name: &str, frame: HostFrame) {
        match frame {
            HostFrame::Lesson(ToStudent::Welcome(welcome)) => {
                assert_eq!(welcome.name, name, "another place");
                self.student = welcome.student.0;
                if self.key.replace(welcome.key).is_none() {
                    self.placed.fetch_add(1, Ordering::SeqCst);
                }
                self.send_again(welcome.last_call);
            }
            HostFrame::Lesson(ToStudent::Call(notice)) => {
                let of = (notice.call.0, notice.start.micros());
                if of != (self.call, self.start_us) {
                    (self.call, self.start_us) = of;
                    self.open = None;
                    self.serial = 0;
                }
                self.found = notice.found;
                let told = &self.attended.told;
                let told = told.keys().filter(|k| k.0 == self.call).count();
                assert!(
                    notice.answers_held as usize >= told,
                    "{name} was told of {told} answers, and the host holds {}",
                    notice.answers_held
                );
                self.serial = self.serial.max(notice.answers_held);
            }
            HostFrame::Lesson(ToStudent::Marked {
                call, serial, mark, ..
            }) => self.told(call.0, serial, mark),
            HostFrame::Lesson(ToStudent::Reveal { call, marks, .. }) => {
                for (serial, mark) in marks {
                    self.told(call.0, serial, mark);
                }
                self.over(call.0);
            }
            HostFrame::Lesson(ToStudent::Closed { call, .. }) => self.over(call.0),
            HostFrame::Lesson(ToStudent::AnswerRefused { call, serial, .. }) => {
                if self.owed.remove(&(call.0, serial)).is_some() {
                    self.attended.refused += 1;
                }
                if call.0 == self.call {
                    self.over(call.0);
                }
            }
            HostFrame::Lesson(ToStudent::Refused(refusal)) => {
                assert_ne!(refusal, Refusal::UnknownSeat, "{name} lost the place");
            }
            _ => {}
        }
    }

    /// Everything that is owed, once more: the host holds it or not, and says which.
    /// What was for a call that it has lost nobody can hold.
    fn send_again(&mut self, last: Option<LastCall>) {
        let before = self.owed.len();
        self.owed.retain(|(call, _), (start_us, _)| {
            last.is_some_and(|last| {
                *call < last.call.0 || *call == last.call.0 && *start_us == last.start.micros()
            })
        });
        self.attended.lost += before - self.owed.len();
        let owed = self.owed.iter();
        self.again = owed
            .map(|((call, serial), (_, midi))| answer(*call, *serial, *midi))
            .collect();
    }

    fn told(&mut self, call: u32, serial: u32, mark: Mark) {
        self.owed.remove(&(call, serial));
        let right = mark == Mark::Right;
        let before = self
            .attended
            .told
            .insert((call, self.student, serial), right);
        assert!(
            before.is_none_or(|before| before == right),
            "told twice, and not the same"
        );
        if call == self.call {
            self.found |= right;
            if self.open.is_some_and(|(open, _)| open == serial) {
                self.open = None;
            }
        }
    }

    fn over(&mut self, call: u32) {
        if call == self.call {
            self.open = None;
            self.found = true;
        }
    }

    /// The answer on its way once more, which must count once; else the next.
    fn next_answer(&mut self) -> Option<ClientFrame> {
        if self.found {
            return None;
        }
        let (serial, midi) = *self.open.get_or_insert_with(|| {
            self.serial += 1;
            (
                self.serial,
                LOWEST + ((self.serial * 5 + self.call) % 24) as u8,
            )
        });
        self.owed.insert((self.call, serial), (self.start_us, midi));
        Some(answer(self.call, serial, midi))
    }
}

fn answer(call: u32, serial: u32, midi: u8) -> ClientFrame {
    ClientFrame::Lesson(FromStudent::Answer(AnswerNotice {
        call: CallId(call),
        serial,
        answer: Answer::Pitch(Pitch::new(midi).expect("a pitch")),
        source: Source::Screen,
        response: Some(Duration::from_micros(1_000_000)),
        uncertainty: Duration::from_micros(1_000),
    }))
}
