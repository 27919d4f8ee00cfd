//! Finding a lesson's address.

use core::time::Duration;
use std::net::{IpAddr, SocketAddr, SocketAddrV6};

use fifthpeg_link::discovery::{self, FoundLesson};

use crate::StudentError;

/// Every lesson announced on the local network, by name. Waiting less than a
/// second and a half may miss one: a host that has just answered somebody else
/// keeps quiet for a second (RFC 6762 section 6).
///
/// # Errors
/// If the network cannot be asked at all. An empty list means that nobody
/// answered within `wait`.
pub async fn find_lessons(wait: Duration) -> Result<Vec<FoundLesson>, StudentError> {
    discovery::find(wait).await.map_err(StudentError::Find)
}

/// The addresses behind `HOST:PORT`, where the host is a number or a name. A
/// link-local IPv6 address that names no link may be on any of this machine's.
///
/// # Errors
/// If there is no port, or nobody knows the name.
pub async fn resolve_address(given: &str) -> Result<Vec<SocketAddr>, StudentError> {
    let given = given.trim();
    let not_an_address = || StudentError::NotAnAddress {
        given: given.to_owned(),
    };
    if let Ok(address) = given.parse::<SocketAddr>() {
        return if address.port() == 0 {
            Err(not_an_address())
        } else {
            Ok(on_its_links(address))
        };
    }
    let (machine, port) = given.rsplit_once(':').ok_or_else(not_an_address)?;
    let machine = machine.trim_start_matches('[').trim_end_matches(']');
    let port: u16 = port.parse().map_err(|_| not_an_address())?;
    if machine.is_empty() || port == 0 || machine.contains(char::is_whitespace) {
        return Err(not_an_address());
    }
    let found: Vec<_> = tokio::net::lookup_host((machine, port))
        .await
        .map_err(|source| StudentError::UnknownMachine {
            given: machine.to_owned(),
            source,
        })?
        .collect();
    if found.is_empty() {
        return Err(not_an_address());
    }
    Ok(found)
}

/// The address itself, or one for each link that it may be on (RFC 4007 section
/// 6: such an address means nothing without its zone).
fn on_its_links(address: SocketAddr) -> Vec<SocketAddr> {
    let SocketAddr::V6(six) = address else {
        return vec![address];
    };
    if !six.ip().is_unicast_link_local() || six.scope_id() != 0 {
        return vec![address];
    }
    let mut links: Vec<u32> = if_addrs::get_if_addrs()
        .unwrap_or_default()
        .iter()
        .filter(|i| matches!(i.ip(), IpAddr::V6(ip) if ip.is_unicast_link_local()))
        .filter_map(|i| i.index)
        .collect();
    links.sort_unstable();
    links.dedup();
    if links.is_empty() {
        // What the system says of it is as good an error as any.
        return vec![address];
    }
    links
        .into_iter()
        .map(|link| SocketAddrV6::new(*six.ip(), six.port(), 0, link).into())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn numbers_and_names_resolve() {
        let v4 = resolve_address(" 127.0.0.1:4750 ").await.unwrap();
        assert_eq!(v4, ["127.0.0.1:4750".parse().unwrap()]);
        let v6 = resolve_address("[::1]:4750").await.unwrap();
        assert_eq!(v6, ["[::1]:4750".parse().unwrap()]);
        let of_a_link = resolve_address("[fe80::1%7]:4750").await.unwrap();
        assert_eq!(of_a_link, ["[fe80::1%7]:4750".parse().unwrap()]);
        let of_some_link = resolve_address("[fe80::1]:4750").await.unwrap();
        assert!(of_some_link.iter().all(|a| a.port() == 4750 && a.is_ipv6()));
        let named = resolve_address("localhost:4750").await.unwrap();
        assert!(
            named
                .iter()
                .all(|a| a.ip().is_loopback() && a.port() == 4750)
        );
    }

    #[tokio::test]
    async fn what_is_no_address_is_said_with_an_example() {
        for given in [
            "",
            "here",
            "127.0.0.1",
            "127.0.0.1:0",
            ":4750",
            "a b:1",
            "x:99999",
        ] {
            let e = resolve_address(given).await.unwrap_err().to_string();
            assert!(e.contains("192.168.1.20:4750"), "{given}: {e}");
        }
    }
}
