//! What a proof is bound to.

use core::fmt;

/// One encrypted channel and the host at its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ChannelBinding {
    /// `tls-exporter` of the channel (RFC 9266): no two channels have the same,
    /// and both ends of one do.
    pub exporter: [u8; 32],
    /// The host's certificate, as the student saw it in the handshake.
    pub host: Fingerprint,
}

/// SHA-256 of a host's certificate in DER.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Fingerprint(pub [u8; 32]);

impl fmt::Display for Fingerprint {
    /// As much as two people compare over a phone: the first 64 bits.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, pair) in self.0[..8].chunks(2).enumerate() {
            let dash = if at > 0 { "-" } else { "" };
            write!(f, "{dash}{:02x}{:02x}", pair[0], pair[1])?;
        }
        Ok(())
    }
}

/// A seat in a lesson, and the key that a welcome gave for it.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct SeatSecret {
    /// The student's number.
    pub student: u32,
    /// The key.
    pub key: u128,
}

impl fmt::Debug for SeatSecret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "SeatSecret({})", self.student)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fingerprint_is_short_enough_to_be_read_out() {
        let print = Fingerprint(core::array::from_fn(|at| {
            u8::try_from(at * 16 % 256).unwrap()
        }));
        assert_eq!(print.to_string(), "0010-2030-4050-6070");
    }
}
