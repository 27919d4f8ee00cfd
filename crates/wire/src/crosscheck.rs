//! The bytes are checked against wincode, an implementation of the same
//! encoding that shares no code with bincode or serde: what one writes the
//! other reads, and both write the same.
//!
//! Source: wincode 0.6 (crates.io), default configuration, which its
//! documentation gives as fixed-width little-endian integers, `u64` lengths and
//! `u32` tags.

use proptest::prelude::*;

use crate::sample::{Dice, Sample};
use crate::*;

proptest! {
    #[test]
    fn wincode_reads_and_writes_the_same_client_frames(seed: u64) {
        let frame = ClientFrame::sample(&mut Dice::new(seed));
        let ours = encode_client(&frame).unwrap();
        prop_assert_eq!(&wincode::serialize(&frame).unwrap(), &ours);
        prop_assert_eq!(wincode::deserialize::<ClientFrame>(&ours).unwrap(), frame);
    }

    #[test]
    fn wincode_reads_and_writes_the_same_host_frames(seed: u64) {
        let frame = HostFrame::sample(&mut Dice::new(seed));
        let ours = encode_host(&frame).unwrap();
        prop_assert_eq!(&wincode::serialize(&frame).unwrap(), &ours);
        prop_assert_eq!(wincode::deserialize::<HostFrame>(&ours).unwrap(), frame);
    }

    #[test]
    fn wincode_reads_and_writes_the_same_frames_at_the_lock(seed: u64) {
        let ask = LockAsk::sample(&mut Dice::new(seed));
        let ours = encode_lock_ask(&ask).unwrap();
        prop_assert_eq!(&wincode::serialize(&ask).unwrap(), &ours);
        prop_assert_eq!(wincode::deserialize::<LockAsk>(&ours).unwrap(), ask);
        let reply = LockReply::sample(&mut Dice::new(seed));
        let ours = encode_lock_reply(&reply).unwrap();
        prop_assert_eq!(&wincode::serialize(&reply).unwrap(), &ours);
        prop_assert_eq!(wincode::deserialize::<LockReply>(&ours).unwrap(), reply);
    }

    #[test]
    fn wincode_reads_and_writes_the_same_handshake(seed: u64) {
        let hello = Hello { magic: MAGIC, ..Hello::sample(&mut Dice::new(seed)) };
        let ours = encode_hello(&hello).unwrap();
        prop_assert_eq!(&wincode::serialize(&hello).unwrap(), &ours);
        prop_assert_eq!(wincode::deserialize::<Hello>(&ours).unwrap(), hello);

        let reply = HelloReply::sample(&mut Dice::new(seed));
        let ours = encode_hello_reply(&reply).unwrap();
        prop_assert_eq!(&wincode::serialize(&reply).unwrap(), &ours);
        prop_assert_eq!(wincode::deserialize::<HelloReply>(&ours).unwrap(), reply);
    }
}

#[test]
fn the_handshake_s_bytes_are_written_down_for_ever() {
    // If this fails, programs of before and after cannot tell their users
    // which of them to update: change the layout back.
    let hello = Hello {
        oldest: 1,
        newest: 2,
        ..Hello::ours("0.1.0")
    };
    let bytes = [
        b"fifthpeg".as_slice(),
        &[1, 0, 2, 0],
        &[5, 0, 0, 0, 0, 0, 0, 0],
        b"0.1.0",
    ]
    .concat();
    assert_eq!(encode_hello(&hello).unwrap(), bytes);

    let outdated = HelloReply::Outdated {
        update: UpdateSide::Student,
        oldest: 3,
        newest: 4,
        program: "9".into(),
    };
    let bytes = [
        1, 0, 0, 0, 1, 0, 0, 0, 3, 0, 4, 0, 1, 0, 0, 0, 0, 0, 0, 0, b'9',
    ];
    assert_eq!(encode_hello_reply(&outdated).unwrap(), bytes);
}
