//! The secrets' way into proofs: SPAKE2, and key confirmation by HMAC.

use hkdf::Hkdf;
use hmac::{Hmac, Mac};
use rand_core_06::{CryptoRng, RngCore};
use sha2::Sha256;
use spake2::{Ed25519Group, Identity, Password, Spake2};
use zeroize::Zeroizing;

use crate::{ChannelBinding, Passphrase, SeatSecret};

/// Begins the student's identity in the exchange.
const STUDENT: &[u8] = b"fifthpeg student 1";
/// Begins the host's.
const HOST: &[u8] = b"fifthpeg host 1";
/// What the keys of a passphrase's proofs are made for.
const PASSPHRASE_KEYS: &[u8] = b"fifthpeg passphrase 1";
/// What the keys of a seat's proofs are made for.
const SEAT_KEYS: &[u8] = b"fifthpeg place 1";

/// Which end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum End {
    Student,
    Host,
}

/// One end of SPAKE2 (python-spake2's protocol over Ed25519, which the crate of
/// that name follows): the element to send, and what comes of the other's.
pub(crate) struct Exchange {
    side: End,
    state: Spake2<Ed25519Group>,
    about: About,
    pub(crate) element: [u8; 32],
}

impl Exchange {
    pub(crate) fn begin(
        side: End,
        passphrase: &Passphrase,
        about: &About,
        random: impl CryptoRng + RngCore,
    ) -> Self {
        let password = Password::new(passphrase.bytes());
        let student = Identity::new(&about.student());
        let host = Identity::new(&about.host());
        let (state, message) = match side {
            End::Student => {
                Spake2::<Ed25519Group>::start_a_with_rng(&password, &student, &host, random)
            }
            End::Host => {
                Spake2::<Ed25519Group>::start_b_with_rng(&password, &student, &host, random)
            }
        };
        let mut element = [0; 32];
        // A letter for the side comes first; which side it is is known here.
        element.copy_from_slice(&message[1..]);
        Self {
            side,
            state,
            about: about.clone(),
            element,
        }
    }

    /// `None` if the other's element is no point of the curve.
    pub(crate) fn finish(self, theirs: &[u8; 32]) -> Option<Proofs> {
        let (letter, x, y) = match self.side {
            End::Student => (b'B', &self.element, theirs),
            End::Host => (b'A', theirs, &self.element),
        };
        let mut message = [letter; 33];
        message[1..].copy_from_slice(theirs);
        let mut transcript = self.about.transcript();
        put(&mut transcript, x);
        put(&mut transcript, y);
        let shared = Zeroizing::new(self.state.finish(&message).ok()?);
        Some(Proofs::new(&shared, PASSPHRASE_KEYS, transcript))
    }
}

/// What both ends must agree on besides the secret.
#[derive(Debug, Clone)]
pub(crate) struct About {
    pub(crate) binding: ChannelBinding,
    /// The lesson's name, as the host said it.
    pub(crate) lesson: String,
}

impl About {
    fn student(&self) -> Vec<u8> {
        [STUDENT, &self.binding.exporter].concat()
    }

    fn host(&self) -> Vec<u8> {
        [HOST, &self.binding.host.0].concat()
    }

    pub(crate) fn transcript(&self) -> Vec<u8> {
        let mut transcript = Vec::with_capacity(256);
        put(&mut transcript, &self.student());
        put(&mut transcript, &self.host());
        put(&mut transcript, self.lesson.as_bytes());
        transcript
    }
}

/// A part of a transcript with its length before it, so that no two
/// transcripts of different parts are the same bytes.
pub(crate) fn put(transcript: &mut Vec<u8>, part: &[u8]) {
    transcript.extend_from_slice(&(part.len() as u64).to_le_bytes());
    transcript.extend_from_slice(part);
}

/// The proofs of a seat, which need no exchange: its key is 128 bits of chance.
pub(crate) fn seat_proofs(seat: &SeatSecret, about: &About) -> Proofs {
    let mut transcript = about.transcript();
    put(&mut transcript, &seat.student.to_le_bytes());
    let key = Zeroizing::new(seat.key.to_le_bytes());
    Proofs::new(&*key, SEAT_KEYS, transcript)
}

/// What both ends compute if they share the secret, the channel and what was
/// said. The student's proof is sent first: a stranger who guesses at a host
/// learns nothing before the guess is counted.
pub(crate) struct Proofs {
    student_key: Zeroizing<[u8; 32]>,
    host_key: Zeroizing<[u8; 32]>,
    transcript: Vec<u8>,
}

impl Proofs {
    fn new(secret: &[u8], what_for: &[u8], transcript: Vec<u8>) -> Self {
        let mut keys = Zeroizing::new([0; 64]);
        Hkdf::<Sha256>::new(None, secret)
            .expand(what_for, &mut *keys)
            .expect("64 bytes are within what HKDF-SHA-256 gives");
        let mut student_key = Zeroizing::new([0; 32]);
        let mut host_key = Zeroizing::new([0; 32]);
        student_key.copy_from_slice(&keys[..32]);
        host_key.copy_from_slice(&keys[32..]);
        Self {
            student_key,
            host_key,
            transcript,
        }
    }

    fn mac(&self, side: End) -> Hmac<Sha256> {
        let key = match side {
            End::Student => &self.student_key,
            End::Host => &self.host_key,
        };
        let mac = <Hmac<Sha256> as Mac>::new_from_slice(&**key);
        mac.expect("HMAC takes keys of any length")
            .chain_update(&self.transcript)
    }

    /// This side's proof.
    pub(crate) fn of(&self, side: End) -> [u8; 32] {
        self.mac(side).finalize().into_bytes().into()
    }

    /// Whether that is this side's proof. Takes equally long for any other.
    pub(crate) fn is_of(&self, side: End, proof: &[u8; 32]) -> bool {
        self.mac(side).verify_slice(proof).is_ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Fingerprint;

    fn about() -> About {
        About {
            binding: ChannelBinding {
                exporter: [1; 32],
                host: Fingerprint([2; 32]),
            },
            lesson: "Hall".into(),
        }
    }

    #[test]
    fn a_seat_s_proofs_differ_by_side_and_by_all_they_are_bound_to() {
        let seat = SeatSecret { student: 3, key: 4 };
        let proofs = seat_proofs(&seat, &about());
        let student = proofs.of(End::Student);
        assert!(proofs.is_of(End::Student, &student));
        assert!(!proofs.is_of(End::Host, &student));
        let (mut channel, mut host, mut lesson) = (about(), about(), about());
        channel.binding.exporter[31] = 9;
        host.binding.host.0[31] = 9;
        lesson.lesson = "Barn".into();
        let key = SeatSecret { key: 5, ..seat };
        let other = SeatSecret { student: 4, ..seat };
        for (seat, about) in [
            (seat, channel),
            (seat, host),
            (seat, lesson),
            (key, about()),
            (other, about()),
        ] {
            assert!(!seat_proofs(&seat, &about).is_of(End::Student, &student));
        }
    }
}
