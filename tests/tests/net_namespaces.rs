//! A lesson between machines: network namespaces with a bridge between them,
//! and the real program in each. Needs Linux, an administrator and `ip` from
//! iproute2; says plainly when it cannot run, and fails instead where
//! `FIFTHPEG_REQUIRE_ALL` is set.

use std::process::Command;
use std::sync::atomic::{AtomicU32, Ordering};

use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::{Process, program, skip};

/// Machines on a switch, and another network behind a router. All of it lives
/// in namespaces of its own, which are removed at the end.
struct Hall {
    prefix: String,
    namespaces: Vec<String>,
}

/// The machines of the hall, at 10.77.1.2 and onwards.
const IN_THE_HALL: [&str; 3] = ["host", "mia", "ivo"];

impl Hall {
    /// Builds it; `None`, and a line that says why, if the kernel or our
    /// rights do not allow it.
    fn build() -> Option<Self> {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let mut hall = Self {
            // Interface names may have 15 letters.
            prefix: format!(
                "fp{}x{}",
                std::process::id() % 100_000,
                COUNT.fetch_add(1, Ordering::Relaxed)
            ),
            namespaces: Vec::new(),
        };
        match hall.lay_out() {
            Ok(()) => Some(hall),
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
        self.inside("router", "addr add 10.77.1.1/24 dev hall")?;
        self.inside("router", "link set hall up")?;
        for (i, name) in IN_THE_HALL.into_iter().enumerate() {
            self.machine(name)?;
            self.cable(name, &format!("10.77.1.{}/24", i + 2), "10.77.1.1")?;
            self.inside("router", &format!("link set to-{name} master hall"))?;
        }
        self.machine("far")?;
        self.cable("far", "10.77.2.2/24", "10.77.2.1")?;
        self.inside("router", "addr add 10.77.2.1/24 dev to-far")?;
        let forward = ["sh", "-c", "echo 1 > /proc/sys/net/ipv4/ip_forward"];
        run(self.on("router", forward[0]).args(&forward[1..]))
    }

    fn machine(&mut self, name: &str) -> Result<(), String> {
        let namespace = format!("{}-{name}", self.prefix);
        run(Command::new("ip").args(["netns", "add", &namespace]))?;
        self.namespaces.push(namespace);
        self.inside(name, "link set lo up")
    }

    /// A cable from a machine to the router, with an address and the way out.
    fn cable(&self, name: &str, address: &str, gateway: &str) -> Result<(), String> {
        let router = format!("{}-router", self.prefix);
        let add = format!("link add eth0 type veth peer name to-{name} netns {router}");
        self.inside(name, &add)?;
        self.inside("router", &format!("link set to-{name} up"))?;
        self.inside(name, &format!("addr add {address} dev eth0"))?;
        self.inside(name, "link set eth0 up")?;
        self.inside(name, &format!("route add default via {gateway}"))
    }

    /// Runs `ip` in a namespace.
    fn inside(&self, name: &str, arguments: &str) -> Result<(), String> {
        let namespace = format!("{}-{name}", self.prefix);
        let arguments = arguments.split(' ');
        run(Command::new("ip").args(["-n", &namespace]).args(arguments))
    }

    /// A command on a machine.
    fn on(&self, name: &str, program: impl AsRef<std::ffi::OsStr>) -> Command {
        let mut command = Command::new("ip");
        let namespace = format!("{}-{name}", self.prefix);
        command.args(["netns", "exec", &namespace]).arg(program);
        command
    }

    fn host(&self, machine: &str, lesson: &str) -> Process {
        let mut command = self.on(machine, program());
        command.args(["host", "--plain", "--output", "none", "--reach", "twelve"]);
        command.args(["--name", lesson, "--passphrase", PASSPHRASE]);
        let mut host = Process::start(lesson, &mut command);
        host.wait_for("address ");
        host
    }

    /// A student who gives that lesson or address, or none.
    fn join(&self, machine: &str, name: &str, lesson: Option<&str>) -> Process {
        let mut command = self.on(machine, program());
        command.args(["join", "--plain", "--output", "none", "--as", name]);
        command.args(["--passphrase", PASSPHRASE]);
        command.args(lesson);
        Process::start(name, &mut command)
    }
}

impl Drop for Hall {
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

fn answers_rightly(host: &mut Process, students: &mut [&mut Process], call: u32) {
    host.type_line("call 2/1");
    for student in students.iter_mut() {
        student.wait_for(&format!("call {call} sounding"));
        student.type_line("answer 3/5");
        assert_eq!(student.wait_for("mark "), "mark 3/5 right");
    }
    host.type_line("reveal");
    host.type_line("close");
    host.wait_for(&format!("closed call {call}"));
}

#[test]
fn students_find_the_only_lesson_and_come_back_after_their_cable_was_out() {
    let Some(hall) = Hall::build() else { return };
    let mut host = hall.host("host", "Village hall");
    let mut mia = hall.join("mia", "Mia", None);
    let mut ivo = hall.join("ivo", "Ivo", Some("Village hall"));
    mia.wait_for("joined Mia");
    ivo.wait_for("joined Ivo");
    answers_rightly(&mut host, &mut [&mut mia, &mut ivo], 1);

    // Nobody hangs up: packets just stop.
    hall.inside("router", "link set to-ivo down").unwrap();
    host.wait_for("away Ivo");
    host.type_line("call 1/4");
    host.wait_for("call 2");
    mia.wait_for("call 2 sounding");
    mia.type_line("answer 2/7");
    mia.wait_for("mark 2/7 right");
    hall.inside("router", "link set to-ivo up").unwrap();
    host.wait_for("back Ivo");
    ivo.wait_for("call 2 sounding");
    ivo.type_line("answer 4/16");
    // Outside the reach is no miss: the same pitch anywhere is right.
    ivo.wait_for("mark 4/16 right");
    host.type_line("end");
    let (code, lines, errors) = host.finish();
    assert_eq!(code, Some(0), "{errors}");
    for name in ["Mia", "Ivo"] {
        let row = format!("result {name} ");
        let row = lines.iter().find(|l| l.starts_with(&row)).expect("a row");
        let columns: Vec<_> = row.split_whitespace().collect();
        assert_eq!(columns[2..4], ["2", "2"], "{row}");
    }
    for mut student in [mia, ivo] {
        student.wait_for("ended");
        assert_eq!(student.finish().0, Some(0));
    }
}

#[test]
fn two_lessons_do_not_mix_and_an_address_reaches_across_networks() {
    let Some(hall) = Hall::build() else { return };
    let mut upstairs = hall.host("host", "Upstairs");
    let mut downstairs = hall.host("mia", "Downstairs");

    // Who names none is told which there are.
    let mut ivo = hall.join("ivo", "Ivo", None);
    let (code, lines, errors) = ivo.finish();
    let said = format!("{}\n{errors}", lines.join("\n"));
    assert_ne!(code, Some(0), "{said}");
    assert!(
        said.contains("Upstairs") && said.contains("Downstairs"),
        "{said}"
    );

    let mut ivo = hall.join("ivo", "Ivo", Some("Downstairs"));
    ivo.wait_for("joined Ivo");
    downstairs.wait_for("joined Ivo");

    // Beyond the router nothing is found, and the address works all the same.
    let mut list = hall.on("far", program());
    let mut list = Process::start("list", list.args(["join", "--list"]));
    let (code, _, errors) = list.finish();
    assert_ne!(code, Some(0));
    assert!(errors.contains("no lesson was found"), "{errors}");
    let addresses = upstairs.lines_of("address");
    let address = addresses
        .iter()
        .find_map(|l| {
            l.strip_prefix("address ")
                .filter(|a| a.contains("10.77.1.2:"))
        })
        .map(str::to_owned)
        .unwrap_or_else(|| {
            // Where every address is listened on, the port is what matters.
            let port = addresses[0].rsplit(':').next().expect("a port");
            format!("10.77.1.2:{port}")
        });
    let mut nele = hall.join("far", "Nele", Some(&address));
    nele.wait_for("joined Nele");
    answers_rightly(&mut upstairs, &mut [&mut nele], 1);
    upstairs.type_line("end");
    nele.wait_for("ended");
    downstairs.type_line("end");
    ivo.wait_for("ended");
    for lines in [upstairs.finish().1, downstairs.finish().1] {
        let students = lines.iter().filter(|l| l.starts_with("joined ")).count();
        assert_eq!(students, 1, "{lines:#?}");
    }
}
