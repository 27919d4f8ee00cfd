//! Frames of both sides: whatever comes is read or refused within the memory it
//! is worth, and what is read is the same when it is written again.

use fifthpeg_wire::{
    decode_client, decode_hello, decode_hello_reply, decode_host, encode_client, encode_hello,
    encode_hello_reply, encode_host,
};

/// Bytes of memory that one byte of a frame may cost, and those beside: a list
/// in a frame is of small things, and grows by doubling.
const PER_BYTE: u64 = 64;
const BESIDE: u64 = 16 * 1024;

fn within_memory<T>(bytes: &[u8], read: impl FnOnce() -> T) -> T {
    let mut got = None;
    let used = allocation_counter::measure(|| got = Some(read()));
    let most = PER_BYTE * bytes.len() as u64 + BESIDE;
    assert!(
        used.bytes_max <= most,
        "{} bytes of memory for a frame of {}",
        used.bytes_max,
        bytes.len()
    );
    got.expect("it was read")
}

/// A frame from a student, and a first frame.
pub fn from_student(bytes: &[u8]) {
    if let Ok(frame) = within_memory(bytes, || decode_client(bytes)) {
        let again = encode_client(&frame).expect("what was read can be written");
        assert_eq!(again, bytes, "{frame:?}");
    }
    if let Ok(hello) = within_memory(bytes, || decode_hello(bytes)) {
        let again = encode_hello(&hello).expect("what was read can be written");
        assert_eq!(decode_hello(&again).as_ref(), Ok(&hello));
        assert!(bytes.starts_with(&again));
    }
}

/// A frame from the host, and its answer to a first frame.
pub fn from_host(bytes: &[u8]) {
    if let Ok(frame) = within_memory(bytes, || decode_host(bytes)) {
        let again = encode_host(&frame).expect("what was read can be written");
        assert_eq!(again, bytes, "{frame:?}");
    }
    if let Ok(reply) = within_memory(bytes, || decode_hello_reply(bytes)) {
        let again = encode_hello_reply(&reply).expect("what was read can be written");
        assert_eq!(decode_hello_reply(&again).as_ref(), Ok(&reply));
    }
}
