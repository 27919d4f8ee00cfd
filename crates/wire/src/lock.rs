//! What proves who knows the passphrase: the frames between the handshake and
//! the join, in a locked lesson only.

/// What a student says at the lock of a lesson.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum LockAsk {
    /// Begins the proof that both know the passphrase.
    Passphrase {
        /// The student's element X of SPAKE2: a point of Ed25519,
        /// compressed.
        element: [u8; 32],
    },
    /// Proves that the student knows the passphrase. Sent once the host's
    /// element is there.
    Proof {
        /// The student's proof over the whole exchange.
        proof: [u8; 32],
    },
    /// Proves, in seat of the passphrase, that the student has a seat in
    /// this lesson.
    Seat {
        /// The number that the welcome gave.
        student: u32,
        /// The student's proof, made with the seat's key.
        proof: [u8; 32],
    },
    /// Proves, in place of the passphrase, that this machine has a class
    /// key.
    ClassKey {
        /// Its public half (Ed25519).
        public: [u8; 32],
        /// The first half of the student's signature (RFC 8032, R).
        r: [u8; 32],
        /// The second half (S).
        s: [u8; 32],
    },
    /// What the terminal has found while its proof waits in line. Sent any
    /// number of times, until the host says more.
    Work {
        /// Numbers n, each larger than all before, for which SHA-256 of the
        /// 15 letters `fifthpeg line 1`, the channel binding's 32 bytes and
        /// n in 8 (little endian) begins with as many zero bits as the host
        /// asks for.
        #[serde(with = "Within::<Shares>")]
        shares: Vec<u64>,
    },
}

use fifthpeg_core::bounded::{Shown, Within};
use fifthpeg_vocab::written::Name;
use serde::{Deserialize, Serialize};

use crate::limits::Shares;

/// What the host says at the lock.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum LockReply {
    /// What comes first, by itself: which lesson this is. Nothing proves it
    /// before the lock has opened.
    Lesson {
        /// The lesson's own name.
        #[serde(with = "Shown::<Name>")]
        name: String,
    },
    /// The host's part of the proof.
    Element {
        /// The host's element Y of SPAKE2: a point of Ed25519, compressed.
        element: [u8; 32],
    },
    /// The student's proof is right; the join may follow.
    Open {
        /// The host's own proof, which the student checks.
        proof: [u8; 32],
    },
    /// The student's proof is not right. The host closes.
    Wrong,
    /// Too many wrong passphrases were tried: this one is not looked at.
    /// The host closes.
    Wait {
        /// When to try again at the earliest, in seconds from now.
        seconds: u32,
    },
    /// No such seat: the student may go on with a class key, or the
    /// passphrase.
    NoSeat,
    /// The class key holds here; the join may follow, under the name that
    /// goes with the key.
    KeyOpen {
        /// The first half of the host's own signature, which the student
        /// checks (R).
        r: [u8; 32],
        /// The second half (S).
        s: [u8; 32],
    },
    /// No class key that holds here: the student may go on with the
    /// passphrase.
    NoKey,
    /// Wrong passphrases come in, and this proof waits in line with
    /// others. The more work its terminal shows meanwhile, the sooner it is
    /// looked at; `Open`, `Wrong` or `Wait` follows.
    Line {
        /// Zero bits that a share's hash begins with.
        zero_bits: u8,
        /// How long it waits at most, in seconds.
        seconds: u32,
    },
}
