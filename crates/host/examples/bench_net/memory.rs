//! What a student costs the host in memory. The students run in a process of
//! their own, so that only the host grows here.

use std::net::SocketAddr;
use std::process::Stdio;
use std::time::Duration;

use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_sound::{OutputChoice, open};
use fifthpeg_student::{StudentConfig, Target};

use crate::call::connected;
use crate::table::Table;
use crate::{Failure, host};

/// The word that makes this program a number of students.
pub const STUDENTS: &str = "students";

/// The word that makes this program a host that measures itself.
pub const HOST: &str = "host";

/// Measures with these numbers of students, each with a host in a fresh
/// process: memory that something else has used and given back would hide what
/// the students take.
pub async fn measure(table: &mut Table, numbers: &[usize]) -> Result<(), Failure> {
    for &number in numbers {
        let mut command = std::process::Command::new(std::env::current_exe()?);
        command.args([HOST, &number.to_string()]);
        let output = tokio::task::spawn_blocking(move || command.output()).await??;
        if !output.status.success() {
            return Err(String::from_utf8_lossy(&output.stderr).into());
        }
        let grown_kb: f64 = String::from_utf8(output.stdout)?.trim().parse()?;
        table.row(
            &format!("host's memory for each of {number} students"),
            &format!("{:.1} kB", grown_kb / number as f64),
            "",
            "growth of the resident set; the system's socket buffers are not in it",
        );
    }
    Ok(())
}

/// Is a host, and prints by how many kB it grew with that number of students.
pub async fn host_alone(number: usize) -> Result<(), Failure> {
    let host = host("Bench: memory", false).await?;
    let address = host.local_addrs()[0];
    // One in and out first, so that what is made once is there already.
    with_students(address, 1, || async {
        host.view().wait_for(|v| connected(v) == 1).await?;
        Ok(())
    })
    .await?;
    host.view().wait_for(|v| connected(v) == 0).await?;
    let before = resident_kb()?;
    let mut after = before;
    with_students(address, number, || async {
        host.view().wait_for(|v| connected(v) == number).await?;
        host.order(HostOrder::CallRandom).await?;
        tokio::time::sleep(Duration::from_secs(2)).await;
        after = resident_kb()?;
        Ok(())
    })
    .await?;
    host.end().await?;
    println!("{}", after.saturating_sub(before));
    Ok(())
}

/// Runs something while a process with `number` students is up.
async fn with_students<F: Future<Output = Result<(), Failure>>>(
    address: SocketAddr,
    number: usize,
    then: impl FnOnce() -> F,
) -> Result<(), Failure> {
    let mut child = std::process::Command::new(std::env::current_exe()?)
        .args([STUDENTS, &address.to_string(), &number.to_string()])
        .stdin(Stdio::piped())
        .spawn()?;
    let done = then().await;
    // The end of its input is its sign to stop.
    drop(child.stdin.take());
    tokio::task::spawn_blocking(move || child.wait()).await??;
    done
}

/// Is `number` students until the input ends.
pub async fn students(address: SocketAddr, number: usize) -> Result<(), Failure> {
    let silent: OutputChoice = "none".parse()?;
    let mut all = Vec::new();
    for i in 0..number {
        let target = Target::Address(vec![address]);
        let config = StudentConfig::new(format!("Student {i}"), target, open(&silent)?);
        all.push(fifthpeg_student::start(config).await?);
    }
    tokio::task::spawn_blocking(|| std::io::copy(&mut std::io::stdin(), &mut std::io::sink()))
        .await??;
    for student in all {
        student.leave().await?;
    }
    Ok(())
}

/// This process's resident memory, in kB, as Linux tells it (proc(5)).
fn resident_kb() -> Result<u64, Failure> {
    let status = std::fs::read_to_string("/proc/self/status")
        .map_err(|e| format!("memory is measured on Linux only: {e}"))?;
    let line = status
        .lines()
        .find_map(|l| l.strip_prefix("VmRSS:"))
        .ok_or("no VmRSS line")?;
    Ok(line.trim().trim_end_matches(" kB").trim().parse()?)
}
