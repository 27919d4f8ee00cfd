//! A lesson where there is no IPv4 at all: with addresses of a network, and with
//! those of one link alone, found by itself and by an address typed by hand.

use fifthpeg_tests::machines::{Addresses, Machines};

fn lesson(addresses: Addresses, shown: &str, by_hand: impl Fn(&str) -> String) {
    let Some(hall) = Machines::build(addresses) else {
        return;
    };
    let mut host = hall.host("host", "Village hall", &["--no-book", "--port", "4750"]);
    let mut mia = hall.join("mia", "Mia", None);
    let first = host.lines_of("address")[0].replace("address ", "");
    assert!(first.starts_with(shown), "the host shows {first}");
    let typed = by_hand(&first);
    let mut ivo = hall.join("ivo", "Ivo", Some(&typed));
    mia.wait_for("joined Mia");
    ivo.wait_for("joined Ivo");
    host.type_line("call 2/1");
    for student in [&mut mia, &mut ivo] {
        student.wait_for("call 1 sounding");
    }
    // Both come back after silence as well.
    hall.swallow("mia");
    hall.swallow("ivo");
    host.wait_for_both("away Mia", "away Ivo");
    hall.let_pass("mia");
    hall.let_pass("ivo");
    host.wait_for_both("back Mia", "back Ivo");
    for student in [&mut mia, &mut ivo] {
        student.type_line("answer 3/5");
        student.wait_for("mark 3/5 right");
    }
    host.type_line("end");
    for mut student in [mia, ivo] {
        student.wait_for("ended");
        assert_eq!(student.finish().0, Some(0));
    }
    assert_eq!(host.finish().0, Some(0));
}

#[test]
fn with_addresses_of_a_network() {
    lesson(Addresses::Six, "[fd77:1::2]:4750", str::to_owned);
}

#[test]
fn with_addresses_of_one_link() {
    // As the host shows it, without the link, which has a name of its own on
    // each machine.
    lesson(Addresses::SixLinkLocal, "[fe80::", str::to_owned);
}

#[test]
fn with_addresses_of_one_link_that_name_the_link() {
    lesson(Addresses::SixLinkLocal, "[fe80::", |shown| {
        shown.replace(']', "%eth0]")
    });
}
