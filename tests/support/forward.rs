//! A forwarder as a process of its own, so that it can stand on a machine of a
//! made-up network: `forward LISTEN HOST`. Takes one order a line, and says
//! `done` after each:
//!
//! ```text
//! there DELAY_MS JITTER_MS LOSS    from students to the host; LOSS from 0 to 1
//! back DELAY_MS JITTER_MS LOSS     from the host to students
//! lead HOST                        new connections go there
//! cut, stall, deafen, mute, mend
//! ```

use std::net::SocketAddr;
use std::time::Duration;

use fifthpeg_tests::forwarder::{Forwarder, Lane};

#[tokio::main]
async fn main() {
    let mut arguments = std::env::args().skip(1).map(|given| address(&given));
    let (Some(here), Some(host)) = (arguments.next(), arguments.next()) else {
        panic!("forward LISTEN HOST, two addresses with their ports");
    };
    let forwarder = Forwarder::at(here, host).await;
    println!("listening {}", forwarder.address());
    let (mut there, mut back) = (Lane::default(), Lane::default());
    for order in std::io::stdin().lines() {
        let order = order.expect("orders are text");
        let words: Vec<&str> = order.split_whitespace().collect();
        match words[..] {
            ["there", delay, jitter, loss] => there = lane(delay, jitter, loss),
            ["back", delay, jitter, loss] => back = lane(delay, jitter, loss),
            ["lead", host] => forwarder.lead_to(address(host)),
            ["cut"] => forwarder.cut(),
            ["stall"] => forwarder.stall(),
            ["deafen"] => forwarder.deafen(),
            ["mute"] => forwarder.mute(),
            ["mend"] => forwarder.mend(),
            _ => panic!("no such order: {order}"),
        }
        if matches!(words[0], "there" | "back") {
            forwarder.set(there, back);
        }
        println!("done");
    }
}

fn address(given: &str) -> SocketAddr {
    given.parse().expect("an address with its port")
}

fn lane(delay_ms: &str, jitter_ms: &str, loss: &str) -> Lane {
    let ms = |given: &str| Duration::from_millis(given.parse().expect("milliseconds"));
    Lane {
        delay: ms(delay_ms),
        jitter: ms(jitter_ms),
        loss: loss.parse().expect("a share from 0 to 1"),
    }
}
