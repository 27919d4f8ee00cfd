//! Measures the network: how long a call takes to reach a class, how far apart
//! its terminals start it, how long joining takes, what a student costs in
//! memory. `scripts/bench-net` builds it with optimisation and runs it.
//!
//! Host and students run on one machine over loopback, so this is what the
//! programs cost, without a network's own delay. Figures depend on the machine:
//! the bare broadcast beside them says how much of it is the machine's.

mod bare;
mod call;
mod join;
mod marks;
mod memory;
mod starts;
mod table;

use fifthpeg_core::Neck;
use fifthpeg_host::{Host, HostConfig};
use fifthpeg_lesson::setup::LessonSetup;

use table::Table;

type Failure = Box<dyn std::error::Error + Send + Sync>;

/// Students in the class whose call is timed.
const CLASS: usize = 30;

#[tokio::main]
async fn main() -> Result<(), Failure> {
    let arguments: Vec<_> = std::env::args().skip(1).collect();
    let arguments: Vec<_> = arguments.iter().map(String::as_str).collect();
    match arguments[..] {
        [memory::STUDENTS, address, number] => {
            return memory::students(address.parse()?, number.parse()?).await;
        }
        [memory::HOST, number] => return memory::host_alone(number.parse()?).await,
        _ => {}
    }
    let mut table = Table::new();
    call::measure(&mut table, CLASS, 300).await?;
    starts::measure(&mut table, CLASS, 30).await?;
    let folder = std::env::temp_dir().join(format!("bench-net-{}", std::process::id()));
    std::fs::create_dir_all(&folder)?;
    let marks = marks::measure(&mut table, &[1, 10, 30], 100, &folder).await;
    std::fs::remove_dir_all(&folder)?;
    marks?;
    join::measure(&mut table, 20).await?;
    memory::measure(&mut table, &[30, 300]).await?;
    table.print();
    Ok(())
}

/// A host on loopback with room for a thousand.
async fn host(name: &str, announce: bool) -> Result<Host, Failure> {
    Ok(fifthpeg_host::start(config(name, announce)?).await?)
}

fn config(name: &str, announce: bool) -> Result<HostConfig, Failure> {
    let neck = Neck::ready("banjo-open-g").ok_or("no such neck")?;
    let mut setup = LessonSetup::new(name, &neck);
    setup.max_students = 1000;
    let mut config = HostConfig::new(setup);
    config.announce = announce;
    if !announce {
        config.bind = vec!["127.0.0.1:0".parse()?];
    }
    Ok(config)
}
