//! What a terminal has to tell and ask about class keys.

use core::fmt;

use fifthpeg_link::secure::Fingerprint;
use fifthpeg_lock::{ClassKey, PrivateKey, PublicKey};
use fifthpeg_wire::KeyOffer;

use crate::class_keys::{ClassKeys, KeptKey};

/// How it stands with class keys. Displays as one sentence.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum KeyTalk {
    /// Nothing to tell.
    #[default]
    Nothing,
    /// This terminal came in by a class key.
    CameIn {
        /// Under this name.
        name: String,
    },
    /// The host offers one: the student decides.
    Offered {
        /// The class.
        class: String,
        /// The name it would let in under.
        name: String,
    },
    /// It is kept, here and there.
    Kept {
        /// The class.
        class: String,
    },
    /// It could not be kept here.
    NotKept {
        /// What the system said.
        why: String,
    },
    /// The student did not want it.
    NotTaken,
}

impl fmt::Display for KeyTalk {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Nothing => Ok(()),
            Self::CameIn { name } => write!(
                f,
                "You come in as {name}, by this machine's class key. Not you?"
            ),
            Self::Offered { class, name } => write!(
                f,
                "Your teacher offers this machine a class key: it then comes into {class} as \
                 {name} without the passphrase. Say yes only if nobody else uses this account."
            ),
            Self::Kept { class } => write!(
                f,
                "This machine has a class key: from the next lesson of {class} on it comes in \
                 without the passphrase."
            ),
            Self::NotKept { why } => write!(
                f,
                "The class key could not be kept on this machine ({why}): type the passphrase \
                 next time, too."
            ),
            Self::NotTaken => write!(f, "No class key: the passphrase is asked for next time."),
        }
    }
}

/// The student's part in getting a class key.
#[derive(Debug, Default)]
pub(crate) struct Taking {
    pub(crate) keys: ClassKeys,
    offered: Option<(KeyOffer, Fingerprint)>,
    /// Made and sent, to be kept once the host has its half.
    made: Option<KeptKey>,
}

impl Taking {
    pub(crate) fn new(keys: ClassKeys) -> Self {
        Self {
            keys,
            ..Self::default()
        }
    }

    pub(crate) fn offered(&mut self, offer: KeyOffer, host: Fingerprint) -> KeyTalk {
        let (class, name) = (offer.class.clone(), offer.name.clone());
        self.offered = Some((offer, host));
        KeyTalk::Offered { class, name }
    }

    /// The student has decided: what to tell the host, if it asked at all.
    pub(crate) fn decided(&mut self, takes: bool) -> Option<Option<PrivateKey>> {
        let (offer, host) = self.offered.take()?;
        if !takes {
            return Some(None);
        }
        let private = PrivateKey::make(fifthpeg_link::secure::chance());
        self.made = Some(KeptKey {
            key: ClassKey {
                private: private.clone(),
                host: PublicKey(offer.host),
                class: offer.class,
            },
            host,
            name: offer.name,
        });
        Some(Some(private))
    }

    /// The host has its half.
    pub(crate) fn kept(&mut self) -> Option<KeyTalk> {
        let made = self.made.take()?;
        Some(match self.keys.keep(&made) {
            Ok(()) => KeyTalk::Kept {
                class: made.key.class,
            },
            Err(why) => KeyTalk::NotKept {
                why: why.to_string(),
            },
        })
    }
}
