//! What happens to a lesson between machines when cables come out, a switch
//! swallows everything, the host gets another address, or a laptop sleeps. The
//! lessons are locked and written down; what students were told is compared with
//! the book.

#![cfg(unix)]

use std::path::PathBuf;

use fifthpeg_tests::answer_audit::{Marks, held, told};
use fifthpeg_tests::machines::{Addresses, Machines};
use fifthpeg_tests::{PLACES, Process, temporary};

/// A lesson of a host with a book, Mia and Ivo on machines of their own.
struct Lesson {
    hall: Machines,
    folder: PathBuf,
    host: Process,
    mia: Process,
    ivo: Process,
}

impl Lesson {
    /// Mia finds it by herself, Ivo types its address.
    fn begin(test: &str, addresses: Addresses) -> Option<Self> {
        let hall = Machines::build(addresses)?;
        let folder = temporary(test);
        let book = folder.join("lessons.book");
        let book = book.to_str().expect("a path in letters");
        let with = ["--book", book, "--class", "Thursday", "--port", "4750"];
        let host = hall.host("host", "Village hall", &with);
        let mut mia = hall.join("mia", "Mia", None);
        let mut ivo = hall.join("ivo", "Ivo", Some("10.77.1.2:4750"));
        mia.wait_for("joined Mia");
        ivo.wait_for("joined Ivo");
        Some(Self {
            hall,
            folder,
            host,
            mia,
            ivo,
        })
    }

    /// C4 is called, and both miss it once: the mark is told.
    fn call(&mut self, number: u32) {
        self.host.type_line("call 2/1");
        for student in [&mut self.mia, &mut self.ivo] {
            student.wait_for(&format!("call {number} sounding"));
            student.type_line("answer 2/2");
            student.wait_for("mark 2/2 ");
        }
    }

    fn close(&mut self, number: u32) {
        self.host.type_line("reveal");
        self.host.type_line("close");
        self.host.wait_for(&format!("closed call {number}"));
        for student in [&mut self.mia, &mut self.ivo] {
            student.wait_for(&format!("closed call {number}"));
        }
    }

    /// Ends it; all that was told is in the book, and nothing else.
    fn end(mut self, answers: usize) {
        self.host.type_line("end");
        let (code, lines, errors) = self.host.finish();
        assert_eq!(code, Some(0), "{}\n{errors}", lines.join("\n"));
        let mut marks = Marks::new();
        for (name, student) in [("Mia", &mut self.mia), ("Ivo", &mut self.ivo)] {
            student.wait_for("ended");
            assert_eq!(student.finish().0, Some(0));
            told(name, student, &mut marks);
            // Back in the same seat each time.
            assert_eq!(student.lines_of("joined").len(), 1);
        }
        let held = held(&self.folder.join("lessons.book"), "Thursday");
        assert_eq!(marks, held, "what was told, and what the book holds");
        assert_eq!(held.values().map(Vec::len).sum::<usize>(), answers);
        std::fs::remove_dir_all(&self.folder).expect("the folder goes");
    }
}

#[test]
fn answers_given_while_nothing_passes_are_counted_once() {
    let Some(mut lesson) = Lesson::begin("net-cut", Addresses::Four) else {
        return;
    };
    lesson.call(1);
    // Mia's terminal can tell that her cable is out; Ivo's cannot tell that the
    // switch swallows what it says.
    lesson.hall.unplug("mia");
    lesson.hall.swallow("ivo");
    // Before anybody has noticed.
    lesson.mia.type_line("answer 3/5");
    lesson.ivo.type_line("answer 3/4");
    lesson.host.wait_for_both("away Mia", "away Ivo");
    lesson.mia.wait_for("link ");
    lesson.ivo.wait_for("link ");
    // When everybody has.
    lesson.ivo.type_line("answer 3/5");
    lesson.hall.plug("mia");
    lesson.hall.let_pass("ivo");
    lesson.host.wait_for_both("back Mia", "back Ivo");
    lesson.mia.wait_for("mark 3/5 right");
    lesson.ivo.wait_for("mark 3/4 ");
    lesson.ivo.wait_for("mark 3/5 right");
    lesson.close(1);
    lesson.call(2);
    lesson.close(2);
    lesson.end(7);
}

#[test]
fn a_host_that_got_another_address_is_found_again() {
    let Some(mut lesson) = Lesson::begin("net-moved", Addresses::FourAlone) else {
        return;
    };
    lesson.call(1);
    // As when the router hands out another address, and there is no IPv6 that
    // would still lead to it.
    let hall = &lesson.hall;
    hall.inside("host", "addr del 10.77.1.2/24 dev eth0")
        .unwrap();
    hall.inside("host", "addr add 10.77.1.77/24 dev eth0")
        .unwrap();
    lesson.mia.type_line("answer 3/5");
    lesson.ivo.type_line("answer 3/5");
    // Ivo's terminal was given an address. It looks for the host that has proved
    // itself there, and takes it by its key.
    for student in [&mut lesson.mia, &mut lesson.ivo] {
        student.wait_for("link Looking for the lesson 'Village hall'");
        student.wait_for("link In the lesson at 10.77.1.77:4750, locked");
        student.wait_for("mark 3/5 right");
    }
    lesson.close(1);
    lesson.call(2);
    lesson.close(2);
    lesson.end(6);
}

#[test]
fn a_laptop_that_slept_comes_back_by_itself() {
    let Some(mut lesson) = Lesson::begin("net-asleep", Addresses::Four) else {
        return;
    };
    lesson.call(1);
    // A student's, for longer than the host waits in silence, while the lesson
    // goes on.
    lesson.mia.signal("STOP");
    lesson.ivo.type_line("answer 3/5");
    lesson.ivo.wait_for("mark 3/5 right");
    lesson.host.wait_for("away Mia");
    lesson.host.type_line("close");
    lesson.host.wait_for("closed call 1");
    lesson.host.type_line("call 2/1");
    lesson.host.wait_for("call 2");
    lesson.mia.signal("CONT");
    lesson.host.wait_for("back Mia");
    lesson.mia.wait_for("call 2 sounding");
    lesson.ivo.wait_for("call 2 sounding");

    // The host's, until both students have given it up.
    lesson.host.signal("STOP");
    lesson.mia.type_line("answer 3/5");
    for student in [&mut lesson.mia, &mut lesson.ivo] {
        // Mia's may still have to say that she is back.
        while !student.wait_for("link ").contains("trying again") {}
    }
    lesson.ivo.type_line("answer 3/5");
    lesson.host.signal("CONT");
    for student in [&mut lesson.mia, &mut lesson.ivo] {
        student.wait_for("link In the lesson at ");
        student.wait_for("mark 3/5 right");
    }
    lesson.close(2);
    lesson.end(5);
}

#[test]
fn a_killed_terminal_gets_its_place_back_at_another_address_of_its_host() {
    let Some(hall) = Machines::build(Addresses::FourAlone) else {
        return;
    };
    let folder = temporary("net-place");
    let mut host = hall.host("host", "Village hall", &["--no-book", "--port", "4750"]);
    let start = |address| {
        let mut command = hall.joining("ivo", "Ivo", Some(address));
        Process::start("Ivo", command.env(PLACES, &folder))
    };
    let mut ivo = start("10.77.1.2:4750");
    ivo.wait_for("joined Ivo");
    ivo.kill();
    host.wait_for("away Ivo");
    hall.inside("host", "addr del 10.77.1.2/24 dev eth0")
        .unwrap();
    hall.inside("host", "addr add 10.77.1.77/24 dev eth0")
        .unwrap();
    let mut ivo = start("10.77.1.77:4750");
    assert_eq!(ivo.wait_for("joined "), "joined Ivo");
    host.wait_for("back Ivo");
    host.type_line("end");
    ivo.wait_for("ended");
    assert_eq!(ivo.finish().0, Some(0));
    assert_eq!(host.finish().0, Some(0));
    std::fs::remove_dir_all(&folder).expect("the folder goes");
}
