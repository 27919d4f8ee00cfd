//! Whether others can find and reach this machine.

use std::io::ErrorKind;
use std::net::{IpAddr, Ipv4Addr, TcpListener};
use std::time::{Duration, Instant};

use fifthpeg_core::text::counted;
use fifthpeg_front::failure::Failure;
use tokio::net::TcpStream;

use super::Finding;
use crate::args::host::USUAL_PORT;
use crate::opening;

/// How long lessons are looked for.
const LOOK: Duration = Duration::from_secs(2);
/// How long another machine may take to answer.
const PATIENCE: Duration = Duration::from_secs(5);

/// Addresses of this machine that others on its network can type.
fn outside() -> Vec<IpAddr> {
    let interfaces = if_addrs::get_if_addrs().unwrap_or_default();
    let mut all: Vec<IpAddr> = interfaces.iter().map(if_addrs::Interface::ip).collect();
    all.retain(|ip| !ip.is_loopback());
    all.sort_by_key(IpAddr::is_ipv6);
    all.dedup();
    all
}

/// Whether an address means something in its own network alone (RFC 1918, 3927, 4193
/// and 4291 section 2.5.6), and so tells nobody where this is.
fn is_of_the_room(ip: &IpAddr) -> bool {
    match ip {
        IpAddr::V4(four) => four.is_private() || four.is_link_local(),
        IpAddr::V6(six) => six.is_unique_local() || six.is_unicast_link_local(),
    }
}

/// The address to give to somebody in the room.
pub(super) fn to_type() -> String {
    let ip = outside()
        .into_iter()
        .find(|ip| ip.is_ipv4() && is_of_the_room(ip));
    let shown = ip.map_or_else(|| "ADDRESS".to_owned(), |ip| ip.to_string());
    format!("{shown}:{USUAL_PORT}")
}

pub(super) fn addresses() -> Finding {
    let all = outside();
    let known = |ip: &&IpAddr| is_of_the_room(ip) && ip.is_ipv4();
    let (shown, others): (Vec<&IpAddr>, Vec<&IpAddr>) = all.iter().partition(known);
    let shown: Vec<String> = shown.into_iter().map(ToString::to_string).collect();
    match (shown.is_empty(), others.len()) {
        (true, 0) => Finding::fails(
            "this machine is on no network",
            "connect it by cable or Wi-Fi, or have the lesson alone with fifthpeg solo",
        ),
        (true, more) => Finding::good(format!(
            "this machine is on a network ({}): fifthpeg host shows what to type",
            counted(more, "address", "addresses")
        )),
        (false, 0) => Finding::good(shown.join(", ")),
        (false, more) => Finding::good(format!("{} and {more} more", shown.join(", "))),
    }
}

pub(super) fn port() -> Finding {
    match TcpListener::bind((Ipv4Addr::UNSPECIFIED, USUAL_PORT)) {
        Ok(_) => Finding::good(format!("a host can listen on {USUAL_PORT}")),
        Err(error) if error.kind() == ErrorKind::AddrInUse => Finding::note(
            format!("{USUAL_PORT} is in use here, by a lesson or another program"),
            "a host takes any free port then, and shows which",
        ),
        Err(error) => Finding::fails(
            format!("this system lets nobody listen on {USUAL_PORT} ({error})"),
            "ask whoever looks after the machine, or name another with fifthpeg host --port",
        ),
    }
}

/// Asks who is there, as a terminal does.
pub(super) fn discovery() -> Finding {
    let asked = opening::runtime().map(|runtime| {
        let found = runtime.block_on(fifthpeg_student::find_lessons(LOOK));
        runtime.shutdown_background();
        found
    });
    match asked {
        Err(failure) => Finding::from_sentence(super::State::Fails, &failure.to_string()),
        Ok(Err(_)) => Finding::note(
            "lessons on this network cannot be looked for by name",
            "join by the address that the host shows",
        ),
        Ok(Ok(found)) if found.is_empty() => {
            Finding::good("lessons can be asked for by name; none answers just now")
        }
        Ok(Ok(found)) => Finding::good(format!(
            "lessons can be asked for by name; {} here",
            match found.len() {
                1 => "one is".to_owned(),
                some => format!("{some} are"),
            }
        )),
    }
}

/// Whether somebody listens at an address.
///
/// # Errors
/// When it is no address.
pub(super) fn reach(given: &str) -> Result<Finding, Failure> {
    let runtime = opening::runtime()?;
    let outcome = runtime.block_on(async {
        let addresses = fifthpeg_student::resolve_address(given).await;
        let addresses = addresses.map_err(Failure::usage)?;
        let began = Instant::now();
        let tried = tokio::time::timeout(PATIENCE, TcpStream::connect(&addresses[..])).await;
        Ok(match tried {
            Ok(Ok(_)) => Finding::good(format!(
                "something answers there; it took {} ms",
                began.elapsed().as_millis()
            )),
            Ok(Err(error)) if error.kind() == ErrorKind::ConnectionRefused => Finding::fails(
                "that machine answers, but nothing listens at that port",
                "start fifthpeg host on it, and use the port that it shows",
            ),
            Ok(Err(error)) => Finding::fails(
                format!("there is no way to that machine ({error})"),
                "see that both are on one network",
            ),
            Err(_) => Finding::fails(
                "that machine does not answer",
                "let the port through its firewall, and see that the Wi-Fi lets its guests reach each other",
            ),
        })
    });
    runtime.shutdown_background();
    outcome
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check_cmd::State;

    #[test]
    fn an_open_port_is_reached_and_a_closed_one_is_not() {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap().to_string();
        assert_eq!(reach(&address).unwrap().state, State::Good);
        drop(listener);
        let closed = reach(&address).unwrap();
        assert_eq!(closed.state, State::Fails);
        assert!(closed.to_do.unwrap().contains("fifthpeg host"));
        assert!(reach("the hall").is_err_and(|failure| failure.is_usage()));
    }

    #[test]
    fn addresses_that_the_world_can_see_are_not_told() {
        // Documentation's own (RFC 5737, RFC 3849) stand for any of the world.
        for (ip, of_the_room) in [
            ("192.168.1.20", true),
            ("10.0.0.1", true),
            ("169.254.7.7", true),
            ("fd00::1", true),
            ("fe80::1", true),
            ("192.0.2.7", false),
            ("2001:db8::7", false),
        ] {
            assert_eq!(is_of_the_room(&ip.parse().unwrap()), of_the_room, "{ip}");
        }
    }
}
