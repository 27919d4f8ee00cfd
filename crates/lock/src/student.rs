//! The student's side of the lock.

use fifthpeg_wire::{LockAsk, LockReply};
use rand_core_06::{CryptoRng, RngCore};

use crate::class_key::{MOST_KEYS, Signed};
use crate::proof::{About, End, Exchange, Proofs, seat_proofs};
use crate::{ChannelBinding, ClassKey, LockError, Passphrase, PublicKey, Puzzle, SeatSecret};

/// What a student can prove, tried in this order.
#[derive(Debug, Clone, Default)]
pub struct Knows {
    /// A seat in the lesson.
    pub seat: Option<SeatSecret>,
    /// Class keys of this host's, the likeliest last; the last [`MOST_KEYS`] are
    /// tried.
    pub keys: Vec<ClassKey>,
    /// The passphrase.
    pub passphrase: Option<Passphrase>,
}

impl Knows {
    /// Whether there is nothing to prove at all.
    pub fn is_nothing(&self) -> bool {
        self.seat.is_none() && self.keys.is_empty() && self.passphrase.is_none()
    }
}

impl From<Passphrase> for Knows {
    fn from(passphrase: Passphrase) -> Self {
        Self {
            passphrase: Some(passphrase),
            ..Self::default()
        }
    }
}

/// One passing of the lock: what to say, and whether the host may be believed.
pub struct StudentLock {
    about: About,
    knows: Knows,
    keys_tried: usize,
    by_key: Option<PublicKey>,
    no_seat: bool,
    state: State,
}

enum State {
    /// Waits for the host's element.
    Exchanging(Box<Exchange>),
    /// Waits for the host's proof.
    Proving(Proofs),
    /// Waits for the host's proof that it knows this seat.
    Returning(Proofs),
    /// Waits for the host's signature.
    WithKey(Box<(Signed, ClassKey)>),
    Over,
}

/// What to do next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StudentStep {
    /// Say this and wait for the reply.
    Say(LockAsk),
    /// The proof waits in line: work at this, tell what is found, and wait for
    /// the reply.
    Work {
        /// What is to be worked at.
        puzzle: Puzzle,
        /// How long the host says it takes at most.
        seconds: u32,
    },
    /// Both have proved what they know: go on to the join.
    Through,
}

impl StudentLock {
    /// Begins in the lesson that the host has named. Gives the first thing to
    /// say; `None` if nothing is known.
    pub fn begin(
        knows: Knows,
        (binding, lesson): (ChannelBinding, &str),
        random: impl CryptoRng + RngCore,
    ) -> Option<(Self, LockAsk)> {
        let mut lock = Self {
            about: About {
                binding,
                lesson: lesson.to_owned(),
            },
            knows,
            keys_tried: 0,
            by_key: None,
            no_seat: false,
            state: State::Over,
        };
        let ask = lock.next(random)?;
        Some((lock, ask))
    }

    /// The class key that opened, if one did.
    pub fn by_key(&self) -> Option<PublicKey> {
        self.by_key
    }

    /// Whether the host knows no such seat as this student said to have.
    pub fn had_no_seat(&self) -> bool {
        self.no_seat
    }

    /// The next thing that can be proved.
    fn next(&mut self, random: impl CryptoRng + RngCore) -> Option<LockAsk> {
        if let Some(seat) = self.knows.seat.take() {
            let proofs = seat_proofs(&seat, &self.about);
            let proof = proofs.of(End::Student);
            self.state = State::Returning(proofs);
            return Some(LockAsk::Seat {
                student: seat.student,
                proof,
            });
        }
        if self.keys_tried < MOST_KEYS
            && let Some(key) = self.knows.keys.pop()
        {
            self.keys_tried += 1;
            let public = key.private.public();
            let signed = Signed::new(&self.about, &key.class, public, key.host);
            let (r, s) = signed.sign(End::Student, &key.private);
            self.state = State::WithKey(Box::new((signed, key)));
            let public = public.0;
            return Some(LockAsk::ClassKey { public, r, s });
        }
        let passphrase = self.knows.passphrase.take()?;
        let exchange = Exchange::begin(End::Student, &passphrase, &self.about, random);
        let element = exchange.element;
        self.state = State::Exchanging(Box::new(exchange));
        Some(LockAsk::Passphrase { element })
    }

    /// Takes the host's reply.
    ///
    /// # Errors
    /// When it is over: the connection is to be closed, and nothing that the
    /// host said is to be believed.
    pub fn handle(
        &mut self,
        reply: LockReply,
        random: impl CryptoRng + RngCore,
    ) -> Result<StudentStep, LockError> {
        let state = core::mem::replace(&mut self.state, State::Over);
        match (state, reply) {
            (State::Exchanging(exchange), LockReply::Element { element }) => {
                let proofs = exchange
                    .finish(&element)
                    .ok_or(LockError::OutOfOrder("an element that is none"))?;
                let proof = proofs.of(End::Student);
                self.state = State::Proving(proofs);
                Ok(StudentStep::Say(LockAsk::Proof { proof }))
            }
            (State::Proving(proofs) | State::Returning(proofs), LockReply::Open { proof }) => {
                let believed = proofs.is_of(End::Host, &proof);
                believed
                    .then_some(StudentStep::Through)
                    .ok_or(LockError::NotTheHost)
            }
            (State::Returning(_), LockReply::NoSeat) => {
                self.no_seat = true;
                let ask = self.next(random).ok_or(LockError::NoSeat)?;
                Ok(StudentStep::Say(ask))
            }
            (State::WithKey(with), LockReply::KeyOpen { r, s }) => {
                let (signed, key) = *with;
                let believed = signed.is_of(End::Host, key.host, (r, s));
                self.by_key = believed.then(|| key.private.public());
                believed
                    .then_some(StudentStep::Through)
                    .ok_or(LockError::NotTheHost)
            }
            (State::WithKey(_), LockReply::NoKey) => {
                let ask = self.next(random).ok_or(LockError::NoKey)?;
                Ok(StudentStep::Say(ask))
            }
            (State::Proving(proofs), LockReply::Line { zero_bits, seconds }) => {
                self.state = State::Proving(proofs);
                Ok(StudentStep::Work {
                    puzzle: Puzzle::new(&self.about.binding, zero_bits),
                    seconds,
                })
            }
            (State::Proving(_), LockReply::Wrong) => Err(LockError::Wrong),
            (State::Exchanging(_) | State::Proving(_), LockReply::Wait { seconds }) => {
                Err(LockError::Wait { seconds })
            }
            _ => Err(LockError::OutOfOrder("a reply that does not come now")),
        }
    }
}
