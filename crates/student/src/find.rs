//! Finding a lesson's address.

use core::time::Duration;
use std::net::SocketAddr;

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
    discovery::find(wait)
        .await
        .map_err(|e| StudentError::Find(e.to_string()))
}

/// The addresses behind `HOST:PORT`, where the host is a number or a name.
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
            Ok(vec![address])
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

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn numbers_and_names_resolve() {
        let v4 = resolve_address(" 127.0.0.1:4750 ").await.unwrap();
        assert_eq!(v4, ["127.0.0.1:4750".parse().unwrap()]);
        let v6 = resolve_address("[::1]:4750").await.unwrap();
        assert_eq!(v6, ["[::1]:4750".parse().unwrap()]);
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
