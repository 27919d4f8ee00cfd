//! Connecting to whichever of several addresses answers first.
//!
//! The addresses are tried one after the other, a short while apart, without
//! waiting for the earlier ones to fail, much as RFC 8305 section 5 has it: an
//! address of another network that swallows every packet then costs a quarter
//! of a second and not a minute.

use core::time::Duration;
use std::net::SocketAddr;

use futures_util::stream::{FuturesUnordered, StreamExt};
use tokio::net::TcpStream;

use crate::LinkError;
use crate::channel::StudentChannel;
use crate::handshake;

/// Time before the next address is tried as well (RFC 8305 section 5
/// recommends 250 ms).
pub const NEXT_ADDRESS_AFTER: Duration = Duration::from_millis(250);

/// The most addresses that are tried.
pub const MAX_ADDRESSES: usize = 16;

/// A connection to a host, past the handshake.
#[derive(Debug)]
pub struct Connected {
    /// Ready for a join.
    pub channel: StudentChannel<TcpStream>,
    /// Which address answered.
    pub address: SocketAddr,
}

/// Connects to the first of the addresses that answers as a host. `timeout`
/// holds for each address by itself, handshake included.
///
/// # Errors
/// If none does: [`LinkError::Outdated`] where a host said so, otherwise what
/// went wrong with each address.
pub async fn connect_any(
    addresses: &[SocketAddr],
    timeout: Duration,
) -> Result<Connected, LinkError> {
    let mut left = addresses.iter().take(MAX_ADDRESSES).copied();
    let mut trying = FuturesUnordered::new();
    let mut failures = Vec::new();
    trying.push(connect_one(
        left.next().ok_or(LinkError::NoAddress)?,
        timeout,
    ));
    loop {
        tokio::select! {
            Some((address, result)) = trying.next() => match result {
                Ok(channel) => return Ok(Connected { channel, address }),
                Err(e) => {
                    failures.push((address, e));
                    match left.next() {
                        Some(next) => trying.push(connect_one(next, timeout)),
                        None if trying.is_empty() => return Err(sum_up(failures)),
                        None => {}
                    }
                }
            },
            () = tokio::time::sleep(NEXT_ADDRESS_AFTER), if left.len() > 0 => {
                if let Some(next) = left.next() {
                    trying.push(connect_one(next, timeout));
                }
            }
        }
    }
}

async fn connect_one(
    address: SocketAddr,
    timeout: Duration,
) -> (SocketAddr, Result<StudentChannel<TcpStream>, LinkError>) {
    let work = async {
        let stream = TcpStream::connect(address).await?;
        // Small frames must not wait for one another.
        stream.set_nodelay(true)?;
        handshake::connect(stream, &authority(address), timeout).await
    };
    let result = tokio::time::timeout(timeout, work)
        .await
        .unwrap_or(Err(LinkError::TimedOut(timeout)));
    (address, result)
}

/// The address as a URL has it: without a scope, which means something on this
/// machine only.
fn authority(address: SocketAddr) -> String {
    match address {
        SocketAddr::V4(v4) => v4.to_string(),
        SocketAddr::V6(v6) => format!("[{}]:{}", v6.ip(), v6.port()),
    }
}

fn sum_up(mut failures: Vec<(SocketAddr, LinkError)>) -> LinkError {
    // An address may lead to somebody else's host, so this one counts only
    // once no other is left; then it says most.
    let outdated = |(_, e): &(SocketAddr, LinkError)| matches!(e, LinkError::Outdated { .. });
    if let Some(at) = failures.iter().position(outdated) {
        return failures.swap_remove(at).1;
    }
    if failures.len() == 1
        && let Some((address, e)) = failures.pop()
    {
        return match e {
            // There was no connection yet that could be lost.
            LinkError::Socket(_) | LinkError::TimedOut(_) => LinkError::NotReached {
                address,
                why: brief(&e),
            },
            other => other,
        };
    }
    let each: Vec<_> = failures
        .iter()
        .map(|(a, e)| format!("{a}: {}", brief(e)))
        .collect();
    LinkError::NoneAnswered(each.join("; "))
}

fn brief(e: &LinkError) -> String {
    match e {
        LinkError::Socket(why) => why.clone(),
        LinkError::TimedOut(after) => format!("no answer within {} ms", after.as_millis()),
        other => other.to_string(),
    }
}
