//! Addresses that do not lead to anybody.

use core::fmt;
use core::hash::BuildHasher;
use std::hash::RandomState;
use std::net::{IpAddr, SocketAddr};
use std::sync::OnceLock;

/// An address as it is written: which kind it is and how it begins, and a sign by which one can be told from
/// another in the same run. The sign is made with a key that this run alone has and writes nowhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shortened(IpAddr);

impl From<IpAddr> for Shortened {
    fn from(ip: IpAddr) -> Self {
        Self(ip.to_canonical())
    }
}

impl From<SocketAddr> for Shortened {
    fn from(address: SocketAddr) -> Self {
        address.ip().into()
    }
}

impl fmt::Display for Shortened {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        static KEY: OnceLock<RandomState> = OnceLock::new();
        if self.0.is_loopback() {
            return f.write_str("here");
        }
        match self.0 {
            IpAddr::V4(ip) => {
                let [a, b, ..] = ip.octets();
                write!(f, "{a}.{b}.*")?;
            }
            IpAddr::V6(ip) => write!(f, "{:x}:*", ip.segments()[0])?,
        }
        let sign = KEY.get_or_init(RandomState::new).hash_one(self.0) & 0xffff;
        write!(f, "~{sign:04x}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(address: &str) -> String {
        let ip: IpAddr = address.parse().expect("an address");
        Shortened::from(ip).to_string()
    }

    #[test]
    fn the_end_of_an_address_is_left_out() {
        // Addresses for documentation: RFC 5737 and RFC 3849.
        let first = shown("192.0.2.77");
        assert!(first.starts_with("192.0.*~"), "{first}");
        assert_eq!(first.len(), "192.0.*~".len() + 4);
        assert_eq!(first, shown("192.0.2.77"));
        assert_eq!(first, shown("::ffff:192.0.2.77"));
        assert!(shown("2001:db8::77").starts_with("2001:*~"));
        assert_eq!(shown("127.0.0.1"), "here");
        assert_eq!(shown("::1"), "here");
        // Told from one another: of 64 at most a few share a sign of 16 bits.
        let signs: std::collections::HashSet<_> = (0..64)
            .map(|end| shown(&format!("192.0.2.{end}")))
            .collect();
        assert!(signs.len() > 60, "{signs:?}");
    }
}
