//! Work that a waiting terminal shows for its guess: numbers whose hash begins
//! with zeros. It cannot be prepared, lent or used twice, since it is bound to
//! one encrypted channel.

use fifthpeg_wire::{Bound as _, Shares};
use sha2::{Digest, Sha256};

use crate::ChannelBinding;

/// What is hashed begins so. With the channel's 32 bytes and the number's 8 it
/// is 55 bytes: one block of SHA-256.
const LABEL: &[u8; 15] = b"fifthpeg line 1";

/// Sooner than this by chance alone no terminal has a share; one that is told
/// to find rarer ones finds none while it waits.
const MOST_ZERO_BITS: u8 = 40;

/// What a waiting terminal is to find shares of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Puzzle {
    exporter: [u8; 32],
    zero_bits: u8,
}

impl Puzzle {
    /// That of a channel.
    pub fn new(binding: &ChannelBinding, zero_bits: u8) -> Self {
        Self {
            exporter: binding.exporter,
            zero_bits: zero_bits.min(MOST_ZERO_BITS),
        }
    }

    /// Whether the number is a share.
    pub fn is_share(&self, number: u64) -> bool {
        let hash = Sha256::new()
            .chain_update(LABEL)
            .chain_update(self.exporter)
            .chain_update(number.to_le_bytes())
            .finalize();
        let mut front = [0; 8];
        front.copy_from_slice(&hash[..8]);
        u64::from_be_bytes(front).leading_zeros() >= u32::from(self.zero_bits)
    }

    /// The shares among so many numbers from there on, in order; no more than a
    /// frame takes.
    pub fn shares(&self, from: u64, numbers: u64) -> Vec<u64> {
        (from..from.saturating_add(numbers))
            .filter(|number| self.is_share(*number))
            .take(Shares::LIMIT.most)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Fingerprint;

    fn puzzle(exporter: u8, zero_bits: u8) -> Puzzle {
        let binding = ChannelBinding {
            exporter: [exporter; 32],
            host: Fingerprint([2; 32]),
        };
        Puzzle::new(&binding, zero_bits)
    }

    #[test]
    fn shares_are_as_rare_as_they_are_asked_for_and_hold_for_one_channel() {
        let easy = puzzle(1, 4);
        let hard = puzzle(1, 8);
        let all = |puzzle: Puzzle| (0..40_000).filter(|n| puzzle.is_share(*n)).count();
        // One in 16 and one in 256, give or take six standard deviations.
        assert!((2210..2790).contains(&all(easy)), "{}", all(easy));
        assert!((82..232).contains(&all(hard)), "{}", all(hard));
        assert!((0..10_000).all(|n| easy.is_share(n) || !hard.is_share(n)));
        let found = hard.shares(0, 100_000);
        assert_eq!(found.len(), Shares::LIMIT.most);
        assert!(found.is_sorted());
        let elsewhere = puzzle(2, 8);
        assert!(!found.iter().all(|n| elsewhere.is_share(*n)));
    }

    #[test]
    fn a_share_is_what_the_page_of_the_protocol_says() {
        // Found with Python's hashlib: sha256(b"fifthpeg line 1" + bytes([1]) * 32 +
        // struct.pack("<Q", n)) begins with 16 zero bits for SHARES and for no
        // other number below 200,000.
        let shares: Vec<u64> = (0..200_000)
            .filter(|n| puzzle(1, 16).is_share(*n))
            .collect();
        assert_eq!(shares, SHARES);
    }

    const SHARES: &[u64] = &[108688];
}
