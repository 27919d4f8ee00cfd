//! A class key: lets the machine of one student into the lessons of one class,
//! without the passphrase.
//!
//! The student's machine has the private half of an Ed25519 key (RFC 8032), the
//! host the public half, with which nobody gets in. Both sides sign what the
//! passphrase's proof is bound to as well, each under a label of its own, so
//! that a signature is worth nothing over another channel, at another host, in
//! another lesson or class, or sent back to where it came from.

use core::fmt;

use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use hkdf::Hkdf;
use rand_core_06::{CryptoRng, RngCore};
use sha2::Sha256;
use zeroize::Zeroizing;

use crate::proof::{About, End, put};

/// Begins what the student signs.
const STUDENT: &[u8] = b"fifthpeg class key student 1";
/// Begins what the host signs.
const HOST: &[u8] = b"fifthpeg class key host 1";
/// What a host's own half is made for, out of the key it is known by.
const OF_HOST: &[u8] = b"fifthpeg class key of host 1";

/// How long a key holds that is not used, in days.
pub const UNUSED_DAYS: u32 = 90;

/// Class keys that are looked up over one connection: of whoever is in so many
/// classes of one teacher.
pub const MOST_KEYS: usize = 4;

/// The public half of a key.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PublicKey(pub [u8; 32]);

impl fmt::Debug for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PublicKey({:02x}{:02x}..)", self.0[0], self.0[1])
    }
}

/// The private half.
#[derive(Clone)]
pub struct PrivateKey(Zeroizing<[u8; 32]>);

impl PrivateKey {
    /// A new one.
    pub fn make(mut random: impl CryptoRng + RngCore) -> Self {
        let mut bytes = Zeroizing::new([0; 32]);
        random.fill_bytes(&mut *bytes);
        Self(bytes)
    }

    /// From what [`PrivateKey::bytes`] gave.
    pub fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(Zeroizing::new(bytes))
    }

    /// A host's, out of the private key of its certificate: the same as long as
    /// that is.
    pub fn of_host(certificate_key: &[u8]) -> Self {
        let mut bytes = Zeroizing::new([0; 32]);
        Hkdf::<Sha256>::new(None, certificate_key)
            .expand(OF_HOST, &mut *bytes)
            .expect("32 bytes are within what HKDF-SHA-256 gives");
        Self(bytes)
    }

    /// To be kept where only its owner reads.
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// Its public half.
    pub fn public(&self) -> PublicKey {
        PublicKey(self.signing().verifying_key().to_bytes())
    }

    fn signing(&self) -> SigningKey {
        SigningKey::from_bytes(&self.0)
    }
}

impl fmt::Debug for PrivateKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PrivateKey(of {:?})", self.public())
    }
}

/// What a student's machine keeps.
#[derive(Debug, Clone)]
pub struct ClassKey {
    /// Its own half.
    pub private: PrivateKey,
    /// What the host proves itself by.
    pub host: PublicKey,
    /// The class, as the host named it.
    pub class: String,
}

/// What both ends sign, but for the label.
pub(crate) struct Signed {
    transcript: Vec<u8>,
}

/// A signature, in two halves as it travels.
pub(crate) type Halves = ([u8; 32], [u8; 32]);

impl Signed {
    pub(crate) fn new(about: &About, class: &str, student: PublicKey, host: PublicKey) -> Self {
        let mut transcript = about.transcript();
        put(&mut transcript, class.as_bytes());
        put(&mut transcript, &student.0);
        put(&mut transcript, &host.0);
        Self { transcript }
    }

    fn by(&self, side: End) -> Vec<u8> {
        let mut signed = Vec::with_capacity(self.transcript.len() + 48);
        put(
            &mut signed,
            match side {
                End::Student => STUDENT,
                End::Host => HOST,
            },
        );
        signed.extend_from_slice(&self.transcript);
        signed
    }

    pub(crate) fn sign(&self, side: End, key: &PrivateKey) -> Halves {
        let signature = key.signing().sign(&self.by(side));
        (*signature.r_bytes(), *signature.s_bytes())
    }

    /// Whether that is this side's signature by this key, by the strict rules:
    /// no key of small order, and one signature only for one text and key.
    pub(crate) fn is_of(&self, side: End, key: PublicKey, (r, s): Halves) -> bool {
        let signature = Signature::from_components(r, s);
        VerifyingKey::from_bytes(&key.0)
            .is_ok_and(|key| key.verify_strict(&self.by(side), &signature).is_ok())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 8032, section 7.1, test 1: the key made of this secret, and the
    /// signature of nothing at all by it.
    #[test]
    fn keys_and_signatures_are_those_of_the_standard() {
        let hex = |text: &str| -> Vec<u8> {
            (0..text.len() / 2)
                .map(|at| u8::from_str_radix(&text[at * 2..at * 2 + 2], 16).unwrap())
                .collect()
        };
        let secret = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60";
        let public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a";
        let signature = "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555\
                         fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b";
        let key = PrivateKey::from_bytes(hex(secret).try_into().unwrap());
        assert_eq!(key.public().0.to_vec(), hex(public));
        assert_eq!(key.signing().sign(b"").to_bytes().to_vec(), hex(signature));
    }

    #[test]
    fn a_host_s_half_hangs_on_its_key_alone_and_is_not_that_key() {
        let one = PrivateKey::of_host(&[7; 48]);
        assert_eq!(one.bytes(), PrivateKey::of_host(&[7; 48]).bytes());
        assert_ne!(one.bytes(), PrivateKey::of_host(&[8; 48]).bytes());
        assert_ne!(one.bytes()[..], [7; 32]);
        assert!(!format!("{one:?}").contains("7, 7"));
    }
}
