//! Connecting to whichever of several addresses answers first.
//!
//! The addresses are tried one after the other, a short while apart, without
//! waiting for the earlier ones to fail, much as RFC 8305 section 5 has it: an
//! address of another network that swallows every packet then costs a quarter
//! of a second and not a minute.

use core::time::Duration;
use std::net::SocketAddr;

use fifthpeg_core::Cause;
use fifthpeg_log::{Chain, Shortened};
use futures_util::stream::{FuturesUnordered, StreamExt};
use tokio::net::TcpStream;
use tracing::debug;

use crate::LinkError;
use crate::channel::StudentChannel;
use crate::handshake;
use crate::secure::{self, AtLock, Stream};

/// Time before the next address is tried as well (RFC 8305 section 5
/// recommends 250 ms).
pub const NEXT_ADDRESS_AFTER: Duration = Duration::from_millis(250);

/// The most addresses that are tried.
pub const MAX_ADDRESSES: usize = 16;

/// How a host is spoken to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Way {
    /// Without encryption, as an open lesson is.
    Open,
    /// Encrypted, with a lock that is still to be passed.
    Locked,
}

/// A connection to a host, past the handshake.
#[derive(Debug)]
pub struct Connected {
    /// How far it is.
    pub reached: Reached,
    /// Which address answered.
    pub address: SocketAddr,
}

/// How far a connection is.
pub enum Reached {
    /// Ready for a join: the lesson is open.
    Open(StudentChannel<Stream>),
    /// The lock is to be passed first.
    Lock(Box<AtLock<Stream>>),
}

/// Connects to the first of the addresses that answers as a host. `timeout`
/// holds for each address by itself, handshake included.
///
/// # Errors
/// If none does: [`LinkError::Outdated`], [`LinkError::Locked`] or
/// [`LinkError::NotSecure`] where a host said or showed so, otherwise what went
/// wrong with each address.
pub async fn connect_any(
    addresses: &[SocketAddr],
    way: Way,
    timeout: Duration,
) -> Result<Connected, LinkError> {
    let mut left = addresses.iter().take(MAX_ADDRESSES).copied();
    let mut trying = FuturesUnordered::new();
    let mut failures = Vec::new();
    trying.push(connect_one(
        left.next().ok_or(LinkError::NoAddress)?,
        way,
        timeout,
    ));
    loop {
        tokio::select! {
            Some((address, result)) = trying.next() => match result {
                Ok(reached) => return Ok(Connected { reached, address }),
                Err(e) => {
                    failures.push((address, e));
                    match left.next() {
                        Some(next) => trying.push(connect_one(next, way, timeout)),
                        None if trying.is_empty() => return Err(sum_up(failures)),
                        None => {}
                    }
                }
            },
            () = tokio::time::sleep(NEXT_ADDRESS_AFTER), if left.len() > 0 => {
                if let Some(next) = left.next() {
                    trying.push(connect_one(next, way, timeout));
                }
            }
        }
    }
}

impl core::fmt::Debug for Reached {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::Open(_) => "Open",
            Self::Lock(_) => "Lock",
        })
    }
}

async fn connect_one(
    address: SocketAddr,
    way: Way,
    timeout: Duration,
) -> (SocketAddr, Result<Reached, LinkError>) {
    let work = async {
        let stream = TcpStream::connect(address).await?;
        // Small frames must not wait for one another.
        stream.set_nodelay(true)?;
        let authority = authority(address);
        match way {
            Way::Open => {
                let stream: Stream = Box::new(stream);
                let channel = handshake::connect(stream, &authority, timeout).await?;
                Ok(Reached::Open(channel))
            }
            Way::Locked => {
                let (stream, binding) = secure::student(stream).await?;
                let stream: Stream = Box::new(stream);
                let channel = handshake::connect(stream, &authority, timeout).await?;
                let lock = secure::reach_lock(channel, binding).await?;
                Ok(Reached::Lock(Box::new(lock)))
            }
        }
    };
    let result = tokio::time::timeout(timeout, work)
        .await
        .unwrap_or(Err(LinkError::TimedOut(timeout)));
    if let Err(e) = &result {
        debug!(name: "no-answer", at = %Shortened::from(address), error = %Chain(e));
    }
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
    let told: [fn(&LinkError) -> bool; 3] = [
        |e| matches!(e, LinkError::Outdated { .. }),
        |e| matches!(e, LinkError::Locked),
        |e| matches!(e, LinkError::NotSecure(_)),
    ];
    for says in told {
        if let Some(at) = failures.iter().position(|(_, e)| says(e)) {
            return failures.swap_remove(at).1;
        }
    }
    if failures.len() == 1
        && let Some((address, e)) = failures.pop()
    {
        return match e {
            // There was no connection yet that could be lost.
            LinkError::Socket(_) | LinkError::BrokeOff(_) | LinkError::TimedOut(_) => {
                LinkError::NotReached {
                    address,
                    why: Cause::told(brief(&e), e),
                }
            }
            other => other,
        };
    }
    LinkError::NoneAnswered {
        why: by_reason(&failures),
        last: failures.pop().map(|(_, e)| Box::new(e)),
    }
}

/// Each reason once, with the addresses it was met at.
fn by_reason(failures: &[(SocketAddr, LinkError)]) -> String {
    let mut reasons: Vec<(String, Vec<String>)> = Vec::new();
    for (address, e) in failures {
        let why = brief(e);
        match reasons.iter_mut().find(|(other, _)| *other == why) {
            Some((_, met)) => met.push(address.to_string()),
            None => reasons.push((why, vec![address.to_string()])),
        }
    }
    let each: Vec<_> = reasons
        .iter()
        .map(|(why, met)| format!("{why} at {}", met.join(", ")))
        .collect();
    each.join("; ")
}

fn brief(e: &LinkError) -> String {
    match e {
        // The system's number of an error says nothing to a musician.
        LinkError::Socket(why) => {
            let words = why.words();
            words.split(" (os error").next().unwrap_or(words).to_owned()
        }
        LinkError::BrokeOff(_) => "it broke off".to_owned(),
        LinkError::TimedOut(after) => format!("no answer within {} ms", after.as_millis()),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_is_told_once_for_all_its_addresses() {
        let at = |text: &str| text.parse::<SocketAddr>().unwrap();
        let refused = || LinkError::Socket("Connection refused (os error 111)".into());
        let told = sum_up(vec![
            (at("127.0.0.1:4750"), refused()),
            (
                at("192.0.2.7:4750"),
                LinkError::TimedOut(Duration::from_millis(300)),
            ),
            (at("[2001:db8::7]:4750"), refused()),
        ]);
        assert_eq!(
            told.to_string(),
            "none of the lesson's addresses answered (Connection refused at 127.0.0.1:4750, \
             [2001:db8::7]:4750; no answer within 300 ms at 192.0.2.7:4750): check that the host \
             still runs, that both machines are on one network, and that no firewall is between"
        );
    }
}
