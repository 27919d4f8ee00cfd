//! Machines on a switch, and another network behind a router: network namespaces
//! with a bridge between them. Needs Linux, an administrator and `ip` from
//! iproute2; says plainly when it cannot run, and fails instead where
//! `FIFTHPEG_REQUIRE_ALL` is set.

use std::process::Command;
use std::sync::atomic::{AtomicU32, Ordering};

use crate::net::PASSPHRASE;
use crate::{Process, program, skip};

/// The machines on the switch.
pub const IN_THE_HALL: [&str; 3] = ["host", "mia", "ivo"];

/// Which addresses the machines have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Addresses {
    /// IPv4 (10.77.1.2 and onwards), and link-local IPv6 as the system makes it.
    Four,
    /// The same without any IPv6.
    FourAlone,
    /// IPv6 alone (fd77:1::2 and onwards), no IPv4 at all.
    Six,
    /// IPv6 of one link alone (fe80::...), nothing else.
    SixLinkLocal,
}

/// All of it lives in namespaces of its own, which are removed at the end.
pub struct Machines {
    prefix: String,
    namespaces: Vec<String>,
    addresses: Addresses,
}

impl Machines {
    /// Builds it; `None`, and a line that says why, if the kernel or our
    /// rights do not allow it.
    pub fn build(addresses: Addresses) -> Option<Self> {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let mut machines = Self {
            // Interface names may have 15 letters.
            prefix: format!(
                "fp{}x{}",
                std::process::id() % 100_000,
                COUNT.fetch_add(1, Ordering::Relaxed)
            ),
            namespaces: Vec::new(),
            addresses,
        };
        match machines.lay_out() {
            Ok(()) => Some(machines),
            Err(why) => {
                skip(&format!(
                    "a lesson between machines: no network namespaces here ({why})"
                ));
                None
            }
        }
    }

    fn lay_out(&mut self) -> Result<(), String> {
        self.machine("router")?;
        self.inside("router", "link add hall type bridge")?;
        let four = matches!(self.addresses, Addresses::Four | Addresses::FourAlone);
        if four {
            self.inside("router", "addr add 10.77.1.1/24 dev hall")?;
        }
        self.inside("router", "link set hall up")?;
        for (i, name) in IN_THE_HALL.into_iter().enumerate() {
            self.machine(name)?;
            self.cable(name)?;
            match self.addresses {
                Addresses::Four | Addresses::FourAlone => {
                    self.inside(name, &format!("addr add 10.77.1.{}/24 dev eth0", i + 2))?;
                    self.inside(name, "route add default via 10.77.1.1")?;
                }
                Addresses::Six => {
                    let add = format!("addr add fd77:1::{}/64 dev eth0 nodad", i + 2);
                    self.inside(name, &add)?;
                }
                Addresses::SixLinkLocal => {}
            }
            self.inside("router", &format!("link set to-{name} master hall"))?;
        }
        if !four {
            return Ok(());
        }
        self.machine("far")?;
        self.cable("far")?;
        self.inside("far", "addr add 10.77.2.2/24 dev eth0")?;
        self.inside("far", "route add default via 10.77.2.1")?;
        self.inside("router", "addr add 10.77.2.1/24 dev to-far")?;
        self.shell("router", "echo 1 > /proc/sys/net/ipv4/ip_forward")
    }

    fn machine(&mut self, name: &str) -> Result<(), String> {
        let namespace = format!("{}-{name}", self.prefix);
        run(Command::new("ip").args(["netns", "add", &namespace]))?;
        self.namespaces.push(namespace);
        let (setting, value) = match self.addresses {
            Addresses::FourAlone => ("disable_ipv6", 1),
            // An address may be used at once: nobody else here has it.
            _ => ("accept_dad", 0),
        };
        self.shell(
            name,
            &format!(
                "for f in all default; do echo {value} > /proc/sys/net/ipv6/conf/$f/{setting}; done"
            ),
        )?;
        self.inside(name, "link set lo up")
    }

    /// A cable from a machine to the router.
    fn cable(&self, name: &str) -> Result<(), String> {
        let router = format!("{}-router", self.prefix);
        let add = format!("link add eth0 type veth peer name to-{name} netns {router}");
        self.inside(name, &add)?;
        self.inside("router", &format!("link set to-{name} up"))?;
        self.inside(name, "link set eth0 up")
    }

    /// Runs `ip` on a machine.
    ///
    /// # Errors
    /// What `ip` said.
    pub fn inside(&self, name: &str, arguments: &str) -> Result<(), String> {
        let namespace = format!("{}-{name}", self.prefix);
        let arguments = arguments.split(' ');
        run(Command::new("ip").args(["-n", &namespace]).args(arguments))
    }

    fn shell(&self, name: &str, line: &str) -> Result<(), String> {
        run(self.on(name, "sh").args(["-c", line]))
    }

    /// The cable of a machine is out, at its own end: it knows.
    ///
    /// # Panics
    /// If the kernel does not do it, as with all that follow.
    pub fn unplug(&self, name: &str) {
        self.inside(name, "link set eth0 down").expect("unplugged");
    }

    /// And in again.
    pub fn plug(&self, name: &str) {
        self.inside(name, "link set eth0 up").expect("plugged in");
    }

    /// The switch swallows all that comes from a machine and goes to it: its
    /// cable is in, and nobody says a word.
    pub fn swallow(&self, name: &str) {
        let loose = format!("link set to-{name} nomaster");
        self.inside("router", &loose).expect("swallowed");
    }

    /// And lets it pass again.
    pub fn let_pass(&self, name: &str) {
        let joined = format!("link set to-{name} master hall");
        self.inside("router", &joined).expect("let pass");
    }

    /// A command on a machine.
    pub fn on(&self, name: &str, program: impl AsRef<std::ffi::OsStr>) -> Command {
        let mut command = Command::new("ip");
        let namespace = format!("{}-{name}", self.prefix);
        command.args(["netns", "exec", &namespace]).arg(program);
        command
    }

    /// A silent, locked, announced host in plain mode; it listens by then.
    pub fn host(&self, machine: &str, lesson: &str, arguments: &[&str]) -> Process {
        let mut command = self.on(machine, program());
        command.args(["host", "--plain", "--output", "none", "--reach", "twelve"]);
        command.args(["--name", lesson, "--passphrase", PASSPHRASE]);
        command.args(arguments);
        let mut host = Process::start(lesson, &mut command);
        host.wait_for("address ");
        host
    }

    /// A student who gives that lesson or address, or none.
    pub fn join(&self, machine: &str, name: &str, lesson: Option<&str>) -> Process {
        Process::start(name, &mut self.joining(machine, name, lesson))
    }

    /// The command that does.
    pub fn joining(&self, machine: &str, name: &str, lesson: Option<&str>) -> Command {
        let mut command = self.on(machine, program());
        command.args(["join", "--plain", "--output", "none", "--as", name]);
        command.args(["--passphrase", PASSPHRASE]);
        command.args(lesson);
        command
    }
}

impl Drop for Machines {
    fn drop(&mut self) {
        for namespace in &self.namespaces {
            // Interfaces and bridge go with the namespace they are in.
            let _ = run(Command::new("ip").args(["netns", "del", namespace]));
        }
    }
}

fn run(command: &mut Command) -> Result<(), String> {
    let output = command.output().map_err(|e| format!("ip: {e}"))?;
    if output.status.success() {
        return Ok(());
    }
    let said = String::from_utf8_lossy(&output.stderr);
    Err(format!("{command:?}: {}", said.trim()))
}
