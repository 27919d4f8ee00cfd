//! A lesson between machines, through one fault of the network after another, by
//! chance. `FIFTHPEG_FAULTS` sets how many (2), `FIFTHPEG_SEED` which;
//! `scripts/net-trials N SEED` does. Locked and written down, with one student who
//! finds the lesson by itself, one who typed its address, and one behind a
//! forwarder that delays, jitters, loses, stalls and cuts.

#![cfg(unix)]

use fifthpeg_tests::answer_audit::{Marks, held, told};
use fifthpeg_tests::machines::{Addresses, Machines};
use fifthpeg_tests::{Process, temporary};

const NAMES: [&str; 3] = ["Mia", "Ivo", "Ruth"];
/// Where Mia's cable, Ivo's cable and the host's are.
const MACHINES: [&str; 3] = ["mia", "ivo", "host"];

/// The same numbers each time (as in Knuth's MMIX).
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit
    }
}

struct Trial {
    hall: Machines,
    host: Process,
    students: Vec<Process>,
    forwarder: Process,
    dice: Dice,
    /// The last part of the host's address.
    host_at: usize,
}

impl Trial {
    fn order(&mut self, order: &str) {
        self.forwarder.type_line(order);
        self.forwarder.wait_for("done");
    }

    /// What goes wrong, and how it is put right again, in words.
    fn fault(&mut self, which: usize) -> String {
        let machine = MACHINES[self.dice.below(MACHINES.len())];
        match which {
            0 => {
                self.hall.unplug(machine);
                format!("cable of {machine} out")
            }
            1 => {
                self.hall.swallow(machine);
                format!("all of {machine} swallowed")
            }
            2 => {
                let order = ["cut", "stall", "deafen", "mute"][self.dice.below(4)];
                self.order(order);
                format!("forwarder: {order}")
            }
            3 => {
                let (delay, jitter) = (self.dice.below(150), self.dice.below(150));
                let loss = self.dice.below(10) as f64 / 100.0;
                let way = ["there", "back"][self.dice.below(2)];
                let order = format!("{way} {delay} {jitter} {loss}");
                self.order(&order);
                format!("forwarder: {order}")
            }
            4 => {
                let who = self.dice.below(NAMES.len());
                self.students[who].signal("STOP");
                format!("{} asleep", NAMES[who])
            }
            5 => {
                self.host.signal("STOP");
                "host asleep".to_owned()
            }
            _ => {
                let old = self.host_at;
                self.host_at = if old == 77 { 78 } else { 77 };
                let new = self.host_at;
                for change in [
                    format!("addr del 10.77.1.{old}/24 dev eth0"),
                    format!("addr add 10.77.1.{new}/24 dev eth0"),
                ] {
                    self.hall.inside("host", &change).expect("another address");
                }
                format!("host at 10.77.1.{new}")
            }
        }
    }

    /// Everything works again, as it may for a while.
    fn put_right(&mut self) {
        for machine in MACHINES {
            self.hall.plug(machine);
            self.hall.let_pass(machine);
        }
        self.order("mend");
        for process in self.students.iter().chain([&self.host]) {
            process.signal("CONT");
        }
        let lead = format!("lead 10.77.1.{}:4750", self.host_at);
        self.order(&lead);
    }
}

#[test]
fn nothing_that_was_told_is_lost_whatever_the_network_does() {
    let number = |name, usual| std::env::var(name).map_or(usual, |n| n.parse().expect("a number"));
    let (faults, seed) = (number("FIFTHPEG_FAULTS", 2), number("FIFTHPEG_SEED", 1));
    let Some(hall) = Machines::build(Addresses::FourAlone) else {
        return;
    };
    let folder = temporary("net-trials");
    let book = folder.join("lessons.book");
    let with = [
        "--book",
        book.to_str().expect("letters"),
        "--class",
        "Thursday",
    ];
    let host = hall.host(
        "host",
        "Village hall",
        &[&with[..], &["--port", "4750"]].concat(),
    );
    let mut forward = hall.on("ivo", env!("CARGO_BIN_EXE_forward"));
    forward.args(["127.0.0.1:4751", "10.77.1.2:4750"]);
    let mut forwarder = Process::start("forwarder", &mut forward);
    forwarder.wait_for("listening ");
    let students = vec![
        hall.join("mia", "Mia", None),
        hall.join("ivo", "Ivo", Some("10.77.1.2:4750")),
        hall.join("ivo", "Ruth", Some("127.0.0.1:4751")),
    ];
    let mut trial = Trial {
        hall,
        host,
        students,
        forwarder,
        dice: Dice(seed),
        host_at: 2,
    };
    for (student, name) in trial.students.iter_mut().zip(NAMES) {
        student.wait_for(&format!("joined {name}"));
    }
    for fault in 1..=faults {
        let call = fault;
        trial.host.type_line("call 2/1");
        for student in &mut trial.students {
            student.wait_for(&format!("call {call} sounding"));
            // On its way, perhaps, when it happens.
            student.type_line("answer 2/2");
        }
        let kind = trial.dice.below(7);
        let what = trial.fault(kind);
        println!("fault {fault} of {faults}: {what}");
        for student in &mut trial.students {
            student.type_line("answer 3/4");
        }
        // Shorter and longer than anybody waits in silence.
        let lasts = [200, 3_000, 9_500, 13_000][trial.dice.below(4)];
        std::thread::sleep(std::time::Duration::from_millis(lasts));
        trial.put_right();
        for student in &mut trial.students {
            student.type_line("answer 3/5");
            for answer in ["2/2 missed", "3/4 missed", "3/5 right"] {
                student.wait_for(&format!("mark {answer}"));
            }
        }
        trial.host.type_line("close");
        trial.host.wait_for(&format!("closed call {call}"));
    }
    trial.host.type_line("end");
    let (code, lines, errors) = trial.host.finish();
    assert_eq!(code, Some(0), "{}\n{errors}", lines.join("\n"));
    let mut marks = Marks::new();
    for (student, name) in trial.students.iter_mut().zip(NAMES) {
        student.wait_for("ended");
        told(name, student, &mut marks);
        assert_eq!(
            student.lines_of("joined").len(),
            1,
            "{name} in another place"
        );
    }
    let held = held(&book, "Thursday");
    let count = |marks: &Marks| marks.values().map(Vec::len).sum::<usize>();
    let lost = marks
        .iter()
        .filter(|(key, told)| held.get(*key).is_none_or(|held| held.len() < told.len()));
    let doubled = held
        .iter()
        .filter(|(key, held)| marks.get(*key).is_none_or(|told| told.len() < held.len()));
    println!(
        "faults {faults}, seed {seed}: answers told {}, lost {}, doubled {}",
        count(&marks),
        lost.count(),
        doubled.count()
    );
    assert_eq!(marks, held, "what was told, and what the book holds");
    assert_eq!(count(&held) as u64, faults * 9);
    std::fs::remove_dir_all(&folder).expect("the folder goes");
}
