//! The lock: whatever comes from the other side, nobody who does not know the
//! passphrase gets through, and nothing panics.

use fifthpeg_lock::{
    ChannelBinding, ClassKey, Fingerprint, HostLock, HostStep, Knows, Passphrase, PrivateKey,
    SeatSecret, StudentLock, StudentStep,
};
use fifthpeg_wire::{decode_lock_ask, decode_lock_reply, encode_lock_ask, encode_lock_reply};
use rand_core_06::{CryptoRng, Error, RngCore};

/// Not random at all, so that an input does the same each time.
struct Even(u64);

impl RngCore for Even {
    fn next_u32(&mut self) -> u32 {
        self.next_u64() as u32
    }

    fn next_u64(&mut self) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        self.0 ^ self.0 >> 29
    }

    fn fill_bytes(&mut self, bytes: &mut [u8]) {
        for chunk in bytes.chunks_mut(8) {
            let random = self.next_u64().to_le_bytes();
            chunk.copy_from_slice(&random[..chunk.len()]);
        }
    }

    fn try_fill_bytes(&mut self, bytes: &mut [u8]) -> Result<(), Error> {
        self.fill_bytes(bytes);
        Ok(())
    }
}

impl CryptoRng for Even {}

const BINDING: ChannelBinding = ChannelBinding {
    exporter: [7; 32],
    host: Fingerprint([9; 32]),
};

fn passphrase() -> Passphrase {
    Passphrase::typed("brook lantern gravel").expect("a passphrase")
}

/// What frames are cut to: longer than any of the lock's.
const FRAME: usize = 100;

/// What comes to a host's lock.
pub fn host(bytes: &[u8]) {
    let passphrase = passphrase();
    let own = PrivateKey::of_host(&[6; 32]);
    let (mut lock, _) = HostLock::new((&passphrase, &own), BINDING, "Village hall");
    for frame in bytes.chunks(FRAME) {
        // A frame is as long as it says.
        let Some(ask) = (1..=frame.len()).find_map(|n| decode_lock_ask(&frame[..n]).ok()) else {
            continue;
        };
        let again = encode_lock_ask(&ask).expect("what was read can be written");
        assert_eq!(decode_lock_ask(&again).as_ref(), Ok(&ask));
        let mut step = lock.handle(ask, Even(1));
        if let Ok(HostStep::LookUp { student }) = step {
            step = Ok(lock.seat((student == 1).then_some(0x5eed)));
        } else if let Ok(HostStep::LookUpKey { public }) = step {
            step = Ok(lock.class_key((public.0[0] & 1 == 0).then_some("Thursday")));
        } else if let Ok(HostStep::Guess) = step {
            step = Ok(lock.judge());
        }
        assert!(
            !matches!(step, Ok(HostStep::Open(_))),
            "opened to a stranger"
        );
    }
}

/// What comes to a student's.
pub fn student(bytes: &[u8]) {
    let Some((first, bytes)) = bytes.split_first() else {
        return;
    };
    let seat = (first & 1 == 0).then_some(SeatSecret {
        student: 1,
        key: 0x5eed,
    });
    let key = ClassKey {
        private: PrivateKey::from_bytes([5; 32]),
        host: PrivateKey::of_host(&[6; 32]).public(),
        class: "Thursday".to_owned(),
    };
    let knows = Knows {
        seat,
        keys: if first & 2 == 0 {
            vec![key]
        } else {
            Vec::new()
        },
        passphrase: Some(passphrase()),
    };
    let begun = StudentLock::begin(knows, (BINDING, "Village hall"), Even(2));
    let Some((mut lock, _)) = begun else { return };
    for frame in bytes.chunks(FRAME) {
        let Some(reply) = (1..=frame.len()).find_map(|n| decode_lock_reply(&frame[..n]).ok())
        else {
            continue;
        };
        let again = encode_lock_reply(&reply).expect("what was read can be written");
        assert_eq!(decode_lock_reply(&again).as_ref(), Ok(&reply));
        let step = lock.handle(reply, Even(3));
        assert_ne!(step.ok(), Some(StudentStep::Through), "believed a stranger");
    }
}

/// A passphrase, typed or chosen.
pub fn words(bytes: &[u8]) {
    let Ok(text) = core::str::from_utf8(bytes) else {
        return;
    };
    for read in [
        Passphrase::typed(text),
        Passphrase::chosen(text, "Village hall"),
    ] {
        match read {
            // What is shown is what may be said aloud and typed again.
            Ok(passphrase) => {
                crate::assert_may_be_shown(passphrase.shown());
                assert!(Passphrase::typed(passphrase.shown()).is_ok());
            }
            Err(why) => crate::assert_may_be_shown(&why.to_string()),
        }
    }
}
