//! A lesson between machines, the real program on each.

use fifthpeg_tests::machines::{Addresses, Machines};
use fifthpeg_tests::{Process, program};

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
    let Some(hall) = Machines::build(Addresses::Four) else {
        return;
    };
    let mut host = hall.host("host", "Village hall", &[]);
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
    let Some(hall) = Machines::build(Addresses::Four) else {
        return;
    };
    let mut upstairs = hall.host("host", "Upstairs", &[]);
    let mut downstairs = hall.host("mia", "Downstairs", &[]);

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
