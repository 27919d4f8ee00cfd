//! The host's side of the lock.

use fifthpeg_wire::{LockAsk, LockReply};
use rand_core_06::{CryptoRng, RngCore};

use crate::class_key::{Halves, MOST_KEYS, Signed};
use crate::proof::{About, End, Exchange, Proofs, seat_proofs};
use crate::{ChannelBinding, LockError, Passphrase, PrivateKey, PublicKey, SeatSecret};

/// One student's passing of the lock.
pub struct HostLock<'p> {
    passphrase: &'p Passphrase,
    /// What the host proves itself by to whoever comes with a class key.
    own: &'p PrivateKey,
    about: About,
    state: State,
    /// A seat was asked for already; it is looked up once.
    asked_for_seat: bool,
    /// Class keys that were asked for.
    keys_tried: usize,
}

enum State {
    /// Nothing was said, or no seat was found.
    Beginning,
    /// Whoever looks the seat up has the word.
    LookingUp {
        student: u32,
        proof: [u8; 32],
    },
    /// Whoever looks the class key up has the word.
    LookingUpKey {
        public: PublicKey,
        signature: Halves,
    },
    /// Waits for the student's proof.
    Exchanged(Proofs),
    /// Whoever counts guesses has the word.
    Guessed {
        proofs: Proofs,
        proof: [u8; 32],
    },
    Over,
}

/// What to do next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HostStep {
    /// Say this and wait for what comes.
    Say(LockReply),
    /// Look up the key of this student's seat, and hand it to
    /// [`HostLock::seat`].
    LookUp {
        /// The student's number.
        student: u32,
    },
    /// Look up the class that this key was granted for, if it still holds, and
    /// hand it to [`HostLock::class_key`].
    LookUpKey {
        /// The public half of the key.
        public: PublicKey,
    },
    /// Ask whether another guess may be looked at. Then [`HostLock::judge`], or
    /// [`HostLock::shut`] with the time to wait.
    Guess,
    /// Say this: the student may come in.
    Open(LockReply),
    /// Say this and close. `wrong` if it was a wrong guess.
    Shut {
        /// What to say last.
        reply: LockReply,
        /// It was a wrong passphrase.
        wrong: bool,
    },
}

impl<'p> HostLock<'p> {
    /// What to say first, and the lock that then waits for a student's word.
    pub fn new(
        (passphrase, own): (&'p Passphrase, &'p PrivateKey),
        binding: ChannelBinding,
        lesson: &str,
    ) -> (Self, LockReply) {
        let lock = Self {
            passphrase,
            own,
            about: About {
                binding,
                lesson: lesson.to_owned(),
            },
            state: State::Beginning,
            asked_for_seat: false,
            keys_tried: 0,
        };
        let name = lesson.to_owned();
        (lock, LockReply::Lesson { name })
    }

    /// Takes what the student says.
    ///
    /// # Errors
    /// If it does not come now or makes no sense: close.
    pub fn handle(
        &mut self,
        ask: LockAsk,
        random: impl CryptoRng + RngCore,
    ) -> Result<HostStep, LockError> {
        let state = core::mem::replace(&mut self.state, State::Over);
        match (state, ask) {
            (State::Beginning, LockAsk::Passphrase { element }) => {
                let exchange = Exchange::begin(End::Host, self.passphrase, &self.about, random);
                let ours = exchange.element;
                let proofs = exchange
                    .finish(&element)
                    .ok_or(LockError::OutOfOrder("an element that is none"))?;
                self.state = State::Exchanged(proofs);
                Ok(HostStep::Say(LockReply::Element { element: ours }))
            }
            (State::Beginning, LockAsk::Seat { student, proof }) if !self.asked_for_seat => {
                self.asked_for_seat = true;
                self.state = State::LookingUp { student, proof };
                Ok(HostStep::LookUp { student })
            }
            (State::Beginning, LockAsk::ClassKey { public, r, s })
                if self.keys_tried < MOST_KEYS =>
            {
                self.keys_tried += 1;
                let public = PublicKey(public);
                let signature = (r, s);
                self.state = State::LookingUpKey { public, signature };
                Ok(HostStep::LookUpKey { public })
            }
            (State::Exchanged(proofs), LockAsk::Proof { proof }) => {
                self.state = State::Guessed { proofs, proof };
                Ok(HostStep::Guess)
            }
            _ => Err(LockError::OutOfOrder("a word that does not come now")),
        }
    }

    /// The key of the seat that was asked for, if there is such a seat.
    pub fn seat(&mut self, key: Option<u128>) -> HostStep {
        let State::LookingUp { student, proof } =
            core::mem::replace(&mut self.state, State::Beginning)
        else {
            return HostStep::Say(LockReply::NoSeat);
        };
        let proofs = key.map(|key| seat_proofs(&SeatSecret { student, key }, &self.about));
        match proofs {
            Some(proofs) if proofs.is_of(End::Student, &proof) => {
                self.state = State::Over;
                HostStep::Open(LockReply::Open {
                    proof: proofs.of(End::Host),
                })
            }
            // The two are told apart by nobody.
            _ => HostStep::Say(LockReply::NoSeat),
        }
    }

    /// The class that the key was granted for, if it holds. It is no guess: what
    /// is wrong costs whoever guesses passphrases nothing, and nobody's guessing
    /// keeps it out.
    pub fn class_key(&mut self, class: Option<&str>) -> HostStep {
        let State::LookingUpKey { public, signature } =
            core::mem::replace(&mut self.state, State::Beginning)
        else {
            return HostStep::Say(LockReply::NoKey);
        };
        let signed = class.map(|class| Signed::new(&self.about, class, public, self.own.public()));
        match signed {
            Some(signed) if signed.is_of(End::Student, public, signature) => {
                self.state = State::Over;
                let (r, s) = signed.sign(End::Host, self.own);
                HostStep::Open(LockReply::KeyOpen { r, s })
            }
            // The two are told apart by nobody.
            _ => HostStep::Say(LockReply::NoKey),
        }
    }

    /// Looks at the guess.
    pub fn judge(&mut self) -> HostStep {
        match core::mem::replace(&mut self.state, State::Over) {
            State::Guessed { proofs, proof } if proofs.is_of(End::Student, &proof) => {
                HostStep::Open(LockReply::Open {
                    proof: proofs.of(End::Host),
                })
            }
            _ => HostStep::Shut {
                reply: LockReply::Wrong,
                wrong: true,
            },
        }
    }

    /// Leaves the guess unseen.
    pub fn shut(&mut self, seconds: u32) -> HostStep {
        self.state = State::Over;
        HostStep::Shut {
            reply: LockReply::Wait { seconds },
            wrong: false,
        }
    }
}
