//! Which firewall is on, as far as a program without rights can tell. The programs,
//! files and words are from memory; what is not there is passed over.

use std::process::{Command, Stdio};

use super::Finding;
use super::network::to_type;

/// What a machine can be asked.
trait Machine {
    /// The text of a file, if there is one that may be read.
    fn file(&self, path: &str) -> Option<String>;
    /// What a program says, if it is there and ends well.
    fn said(&self, line: &str) -> Option<String>;
}

struct ThisMachine;

impl Machine for ThisMachine {
    fn file(&self, path: &str) -> Option<String> {
        std::fs::read_to_string(path).ok()
    }

    fn said(&self, line: &str) -> Option<String> {
        let mut words = line.split(' ');
        let mut command = Command::new(words.next()?);
        command
            .args(words)
            .stdin(Stdio::null())
            .stderr(Stdio::null());
        let output = command.output().ok()?;
        let said = output.status.success();
        said.then(|| String::from_utf8_lossy(&output.stdout).into_owned())
    }
}

struct Firewall {
    name: &'static str,
    is_on: fn(&dyn Machine) -> bool,
    /// How to let a lesson in: its port, and the question for its name.
    open: &'static str,
}

/// Every firewall that is known.
const FIREWALLS: &[Firewall] = &[
    Firewall {
        name: "ufw",
        is_on: |machine| {
            let set = machine.file("/etc/ufw/ufw.conf").unwrap_or_default();
            set.lines()
                .any(|line| line.trim().eq_ignore_ascii_case("enabled=yes"))
        },
        open: "sudo ufw allow 4750/tcp && sudo ufw allow 5353/udp",
    },
    Firewall {
        name: "firewalld",
        is_on: |machine| {
            let state = machine.said("firewall-cmd --state");
            state.is_some_and(|state| state.trim() == "running")
        },
        open: "sudo firewall-cmd --add-port=4750/tcp --add-service=mdns",
    },
    Firewall {
        name: "nftables",
        is_on: |machine| {
            let rules = machine.said("nft list ruleset").unwrap_or_default();
            rules.contains("hook input") && (rules.contains("drop") || rules.contains("reject"))
        },
        open: "a rule of its input chain that accepts TCP port 4750 and UDP port 5353",
    },
    Firewall {
        name: "the Windows firewall",
        is_on: |machine| {
            let state = machine.said("netsh advfirewall show currentprofile state");
            state.is_some_and(|state| state.split_whitespace().any(|word| word == "ON"))
        },
        open: "allow fifthpeg when Windows asks, for private networks; or, as administrator, \
               netsh advfirewall firewall add rule name=fifthpeg dir=in action=allow protocol=TCP localport=4750",
    },
    Firewall {
        name: "the firewall of macOS",
        is_on: |machine| {
            let asked = "/usr/libexec/ApplicationFirewall/socketfilterfw --getglobalstate";
            machine
                .said(asked)
                .is_some_and(|state| state.contains("enabled"))
        },
        open: "allow incoming connections when macOS asks",
    },
];

pub(super) fn firewall() -> Finding {
    found_on(&ThisMachine, &to_type())
}

fn found_on(machine: &dyn Machine, address: &str) -> Finding {
    let on: Vec<&Firewall> = FIREWALLS.iter().filter(|f| (f.is_on)(machine)).collect();
    let try_it = format!(
        "with fifthpeg host running here, say on a second machine: fifthpeg check --reach {address}"
    );
    if on.is_empty() {
        return Finding::note("none is seen at work here", format!("to be sure, {try_it}"));
    }
    let names: Vec<&str> = on.iter().map(|f| f.name).collect();
    let opens: Vec<&str> = on.iter().map(|f| f.open).collect();
    Finding::note(
        format!("{} is on", names.join(" and ")),
        format!("to let a lesson in: {}; then, {try_it}", opens.join("; ")),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check_cmd::State;

    struct MadeUp(&'static [(&'static str, &'static str)]);

    impl Machine for MadeUp {
        fn file(&self, path: &str) -> Option<String> {
            self.said(path)
        }
        fn said(&self, line: &str) -> Option<String> {
            let known = self.0.iter().find(|(asked, _)| *asked == line);
            known.map(|(_, said)| (*said).to_owned())
        }
    }

    #[test]
    fn each_firewall_is_known_by_what_it_says() {
        for (asked, on, off) in [
            ("/etc/ufw/ufw.conf", "# set\nENABLED=yes\n", "ENABLED=no\n"),
            ("firewall-cmd --state", "running\n", "not running\n"),
            (
                "nft list ruleset",
                "chain input { type filter hook input priority 0; policy drop; }",
                "chain input { type filter hook input priority 0; policy accept; }",
            ),
            (
                "netsh advfirewall show currentprofile state",
                "Private Profile Settings:\r\nState                     ON\r\nOk.\r\n",
                "Private Profile Settings:\r\nState                     OFF\r\nOk.\r\n",
            ),
            (
                "/usr/libexec/ApplicationFirewall/socketfilterfw --getglobalstate",
                "Firewall is enabled. (State = 1)",
                "Firewall is disabled. (State = 0)",
            ),
        ] {
            let say = |said| -> &'static [(&'static str, &'static str)] {
                Box::leak(Box::new([(asked, said)]))
            };
            let found = found_on(&MadeUp(say(on)), "192.0.2.7:4750");
            assert_eq!(found.state, State::Note);
            assert!(found.found.ends_with(" is on"), "{asked}: {found:?}");
            let to_do = found.to_do.unwrap();
            assert!(
                to_do.contains("4750") && to_do.ends_with("--reach 192.0.2.7:4750"),
                "{to_do}"
            );
            let found = found_on(&MadeUp(say(off)), "192.0.2.7:4750");
            assert!(found.found.starts_with("none"), "{asked}: {found:?}");
            assert!(found.to_do.unwrap().contains("fifthpeg check --reach"));
        }
    }
}
