//! Measures what floods cost honest students: a class of thirty is called and
//! answers while another process floods the host, one kind of flood after the
//! other. `scripts/bench-flood` builds it with optimisation and runs it.
//!
//! The flooding process runs with the lowest priority, and on the processor that
//! `FIFTHPEG_FLOOD_CPU` names, since a real one has a machine of its own; a
//! process that only keeps the processor busy is measured beside it. It floods over an address of this machine that is not loopback,
//! where there is one, so that the limits for strangers hold for it.

mod class;
mod floods;

use std::net::{SocketAddr, UdpSocket};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use fifthpeg_bench::memory::resident_kb;

use class::{Class, Times};
use floods::Flood;

type Failure = Box<dyn std::error::Error + Send + Sync>;

/// Rounds of call and answer for each kind.
const ROUNDS: usize = 200;
/// The longest that an honest student may be delayed: the aim.
const AIM: Duration = Duration::from_millis(10);

#[tokio::main]
async fn main() -> Result<(), Failure> {
    let arguments: Vec<_> = std::env::args().skip(1).collect();
    let arguments: Vec<_> = arguments.iter().map(String::as_str).collect();
    if let [floods::FLOOD, kind, address] = arguments[..] {
        let flood = Flood::from_word(kind).ok_or("no such flood")?;
        return flood.run(address.parse()?).await;
    }
    let fits = |flood: &Flood| *flood != Flood::Guesses || floods::is_locked();
    let wanted =
        |flood: &Flood| fits(flood) && (arguments.is_empty() || arguments.contains(&flood.word()));
    let class = Class::start().await?;
    println!(
        "{} lesson",
        if floods::is_locked() {
            "locked"
        } else {
            "open"
        }
    );
    let floods: Vec<_> = Flood::ALL.into_iter().filter(wanted).collect();
    println!(
        "| beside | call to last frame read, median and 99 % | answer to mark, median and 99 % | later than alone, 99 % | host grew by |"
    );
    println!("|---|---:|---:|---:|---:|");
    let alone = class.measure(ROUNDS).await?;
    line("nothing", &alone, &alone, 0);
    let mut worst = Duration::ZERO;
    for flood in floods {
        let before_kb = resident_kb()?;
        let mut child = start(flood, class.address())?;
        tokio::time::sleep(Duration::from_secs(1)).await;
        let times = class.measure(ROUNDS).await;
        child.kill()?;
        child.wait()?;
        let times = times?;
        let grown_kb = resident_kb()?.saturating_sub(before_kb);
        line(flood.title(), &times, &alone, grown_kb);
        if flood != Flood::Busy {
            worst = worst.max(times.later_than(&alone));
        }
        // Until what the flood left behind is gone.
        tokio::time::sleep(Duration::from_secs(2)).await;
    }
    // What may differ within one run of the same.
    let again = class.measure(ROUNDS).await?;
    line("nothing, once more", &again, &alone, 0);
    println!("\nlimits met:");
    for (counter, times) in class.counts() {
        println!("  {}: {times}", counter.title());
    }
    println!(
        "\nhonest students are later by {} at worst (99 %); the aim is {}",
        shown(worst),
        shown(AIM)
    );
    class.end().await
}

fn line(beside: &str, times: &Times, alone: &Times, grown_kb: u64) {
    println!(
        "| {beside} | {}, {} | {}, {} | {} | {grown_kb} kB |",
        shown(times.call_median),
        shown(times.call_late),
        shown(times.mark_median),
        shown(times.mark_late),
        shown(times.later_than(alone)),
    );
}

fn shown(time: Duration) -> String {
    format!("{:.2} ms", time.as_secs_f64() * 1000.0)
}

/// The flood in a process of its own, with the lowest priority.
fn start(flood: Flood, port: u16) -> Result<Child, Failure> {
    let address = stranger(port);
    let me = std::env::current_exe()?;
    let mut command = match std::env::var("FIFTHPEG_FLOOD_CPU") {
        Ok(cpu) => {
            let mut command = Command::new("taskset");
            command.args(["-c", &cpu, "nice"]);
            command
        }
        Err(_) => Command::new("nice"),
    };
    let child = command
        .args(["-n", "19"])
        .arg(me)
        .args([floods::FLOOD, flood.word(), &address.to_string()])
        .stdin(Stdio::null())
        .spawn()?;
    Ok(child)
}

/// The host at an address over which a peer of this machine counts as a
/// stranger; loopback if there is none.
fn stranger(port: u16) -> SocketAddr {
    // Connecting such a socket sends nothing; it only asks which way would be
    // taken (the address is for documentation, RFC 5737).
    let own = UdpSocket::bind(("0.0.0.0", 0)).and_then(|s| {
        s.connect(("198.51.100.1", 9))?;
        s.local_addr()
    });
    let ip = own.map_or([127, 0, 0, 1].into(), |a| a.ip());
    SocketAddr::new(ip, port)
}
