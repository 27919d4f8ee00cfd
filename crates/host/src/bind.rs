//! Listening on several addresses at one port.

use std::io;
use std::net::SocketAddr;

use socket2::{Domain, Protocol, Socket, Type};
use tokio::net::TcpListener;

use crate::HostError;

/// Connections the system may hold before they are accepted.
const BACKLOG: i32 = 1024;
/// Bytes the system may hold for one student who does not read. A student this
/// far behind is better dropped soon than served old news.
const SEND_BUFFER_BYTES: usize = 32 * 1024;
/// Tries to find a port that is free for every address.
const TRIES: usize = 16;

/// Listens on all of `addresses`. Those with port 0 share one port. An address
/// of a family this machine does not have is left out, as long as one is left.
pub(crate) fn listen_all(addresses: &[SocketAddr]) -> Result<Vec<TcpListener>, HostError> {
    let mut tries = 0;
    loop {
        tries += 1;
        match try_all(addresses) {
            // Another program may hold the chosen port for another family.
            Err(HostError::Listen { address, source })
                if tries < TRIES
                    && source.kind() == io::ErrorKind::AddrInUse
                    && addresses
                        .iter()
                        .any(|a| a.ip() == address.ip() && a.port() == 0) => {}
            other => return other,
        }
    }
}

fn try_all(addresses: &[SocketAddr]) -> Result<Vec<TcpListener>, HostError> {
    let mut listeners: Vec<TcpListener> = Vec::new();
    let mut missing = None;
    let mut shared_port = 0;
    for &asked in addresses {
        let mut address = asked;
        if address.port() == 0 {
            address.set_port(shared_port);
        }
        match listen(address) {
            Ok(listener) => {
                if asked.port() == 0 {
                    shared_port = listener.local_addr().map_or(0, |a| a.port());
                }
                listeners.push(listener);
            }
            Err(source) if family_missing(&source) => {
                missing.get_or_insert(HostError::Listen { address, source });
            }
            Err(source) => return Err(HostError::Listen { address, source }),
        }
    }
    if listeners.is_empty() {
        return Err(missing.unwrap_or(HostError::NoAddress));
    }
    Ok(listeners)
}

/// Whether the error says that this machine has no such kind of address.
fn family_missing(e: &io::Error) -> bool {
    e.kind() == io::ErrorKind::AddrNotAvailable || e.kind() == io::ErrorKind::Unsupported
        // EAFNOSUPPORT has no kind of its own everywhere: 97 on Linux, 47 on
        // the BSDs and macOS, 10047 on Windows (from memory).
        || matches!(e.raw_os_error(), Some(97 | 47 | 10047))
}

fn listen(address: SocketAddr) -> io::Result<TcpListener> {
    let socket = Socket::new(
        Domain::for_address(address),
        Type::STREAM,
        Some(Protocol::TCP),
    )?;
    if address.is_ipv6() {
        // Otherwise the IPv6 socket takes IPv4 as well, and the IPv4 one fails.
        socket.set_only_v6(true)?;
    }
    // On Unix this lets a host start again at once at its old port; on Windows
    // it would let two hosts share one.
    #[cfg(unix)]
    socket.set_reuse_address(true)?;
    // Accepted connections inherit it (on Linux; elsewhere the system's own
    // bound holds). A system that refuses serves just as well without.
    let _ = socket.set_send_buffer_size(SEND_BUFFER_BYTES);
    socket.set_nonblocking(true)?;
    socket.bind(&address.into())?;
    socket.listen(BACKLOG)?;
    TcpListener::from_std(socket.into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn several_addresses_share_the_port_the_system_chose() {
        let both = ["127.0.0.1:0", "[::1]:0"].map(|a| a.parse().unwrap());
        let listeners = listen_all(&both).unwrap();
        let ports: Vec<_> = listeners
            .iter()
            .map(|l| l.local_addr().unwrap().port())
            .collect();
        assert_ne!(ports[0], 0);
        assert!(ports.iter().all(|p| *p == ports[0]), "{ports:?}");
    }

    #[tokio::test]
    async fn a_port_in_use_is_named() {
        let first = listen_all(&["127.0.0.1:0".parse().unwrap()]).unwrap();
        let taken = first[0].local_addr().unwrap();
        let e = listen_all(&[taken]).unwrap_err().to_string();
        assert!(e.contains(&taken.to_string()), "{e}");
        assert!(e.contains("another"), "{e}");
    }

    #[tokio::test]
    async fn no_address_is_refused() {
        assert!(matches!(listen_all(&[]), Err(HostError::NoAddress)));
    }
}
