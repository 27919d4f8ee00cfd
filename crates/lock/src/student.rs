//! The student's side of the lock.

use fifthpeg_wire::{LockAsk, LockReply};
use rand_core_06::{CryptoRng, RngCore};

use crate::proof::{About, Exchange, Proofs, Side, place_proofs};
use crate::{Binding, LockError, Passphrase, PlaceSecret};

/// One passing of the lock: what to say, and whether the host may be believed.
pub struct StudentLock {
    about: About,
    passphrase: Option<Passphrase>,
    state: State,
}

enum State {
    /// Waits for the host's element.
    Exchanging(Box<Exchange>),
    /// Waits for the host's proof.
    Proving(Proofs),
    /// Waits for the host's proof that it knows this place.
    Returning(Proofs),
    Over,
}

/// What to do next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StudentStep {
    /// Say this and wait for the reply.
    Say(LockAsk),
    /// Both have proved what they know: go on to the join.
    Through,
}

impl StudentLock {
    /// Begins in the lesson that the host has named: with the place where there
    /// is one, and the passphrase in case it is not known any more. Gives the first thing to say; `None` if neither
    /// is there.
    pub fn begin(
        place: Option<PlaceSecret>,
        passphrase: Option<Passphrase>,
        (binding, lesson): (Binding, &str),
        random: impl CryptoRng + RngCore,
    ) -> Option<(Self, LockAsk)> {
        let mut lock = Self {
            about: About {
                binding,
                lesson: lesson.to_owned(),
            },
            passphrase,
            state: State::Over,
        };
        let ask = match place {
            Some(place) => {
                let proofs = place_proofs(&place, &lock.about);
                let proof = proofs.of(Side::Student);
                lock.state = State::Returning(proofs);
                LockAsk::Place {
                    student: place.student,
                    proof,
                }
            }
            None => lock.exchange(random)?,
        };
        Some((lock, ask))
    }

    fn exchange(&mut self, random: impl CryptoRng + RngCore) -> Option<LockAsk> {
        let passphrase = self.passphrase.as_ref()?;
        let exchange = Exchange::begin(Side::Student, passphrase, &self.about, random);
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
                let proof = proofs.of(Side::Student);
                self.state = State::Proving(proofs);
                Ok(StudentStep::Say(LockAsk::Proof { proof }))
            }
            (State::Proving(proofs) | State::Returning(proofs), LockReply::Open { proof }) => {
                let believed = proofs.is_of(Side::Host, &proof);
                believed
                    .then_some(StudentStep::Through)
                    .ok_or(LockError::NotTheHost)
            }
            (State::Returning(_), LockReply::NoPlace) => {
                let ask = self.exchange(random).ok_or(LockError::NoPlace)?;
                Ok(StudentStep::Say(ask))
            }
            (State::Proving(_), LockReply::Wrong) => Err(LockError::Wrong),
            (State::Exchanging(_) | State::Proving(_), LockReply::Wait { seconds }) => {
                Err(LockError::Wait { seconds })
            }
            _ => Err(LockError::OutOfOrder("a reply that does not come now")),
        }
    }
}
