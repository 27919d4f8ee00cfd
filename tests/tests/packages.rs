//! `scripts/package` on machines where something is missing: each time a sentence that says what, and nothing
//! half-made. The machines are made up: commands that answer as the real ones do where that is so.
//! `scripts/package --check` makes the packages themselves and tries them.

use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A clone's scripts in a folder of their own, and commands that come before this machine's.
struct Machine(PathBuf);

impl Machine {
    fn new(name: &str, commands: &[(&str, &str)]) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("packages-{name}"));
        let _ = std::fs::remove_dir_all(&folder);
        let machine = Self(folder);
        let clone = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
        for file in [
            "Cargo.toml",
            "scripts/common.sh",
            "scripts/package",
            "scripts/package-build",
            "scripts/package-check",
        ] {
            let to = machine.0.join(file);
            std::fs::create_dir_all(to.parent().expect("a folder")).expect("a folder");
            std::fs::copy(clone.join(file), to).expect(file);
        }
        machine.command("scripts/build-page", "exit 0");
        let usual = [
            ("id", "echo 0"),
            ("dpkg-query", "echo install ok installed"),
            ("rustup", "exit 1"),
            (
                "rustc",
                r#"[ "$1" = --version ] && echo "rustc 1.99.0" || echo /nowhere"#,
            ),
            ("cargo", "exit 101"),
            ("df", "printf 'Avail\\n90000\\n'"),
        ];
        for (name, does) in usual.iter().chain(commands) {
            machine.command(&format!("bin/{name}"), does);
        }
        machine
    }

    fn command(&self, name: &str, does: &str) {
        let file = self.0.join(name);
        std::fs::create_dir_all(file.parent().expect("a folder")).expect("a folder");
        std::fs::write(&file, format!("#!/bin/sh\n{does}\n")).expect("a script");
        std::fs::set_permissions(&file, PermissionsExt::from_mode(0o755)).expect("rights");
    }

    fn package(&self, words: &[&str]) -> Output {
        Command::new(self.0.join("scripts/package"))
            .args(words)
            .env_clear()
            .env(
                "PATH",
                format!("{}:/usr/bin:/bin", self.0.join("bin").display()),
            )
            .env("HOME", &self.0)
            .output()
            .expect("bash runs")
    }

    fn made(&self) -> Vec<PathBuf> {
        let entries = std::fs::read_dir(self.0.join("target/packages"));
        let entries = entries.into_iter().flatten().flatten();
        entries.map(|entry| entry.path()).collect()
    }
}

#[test]
fn what_is_missing_is_said_and_nothing_half_made_is_left() {
    const HAS_LIBRARY: &str = r#"[ "$1" = --version ] && echo "rustc 1.99.0" && exit
mkdir -p "$HOME/rust/lib/rustlib/x86_64-pc-windows-gnu/lib" && echo "$HOME/rust""#;
    type Commands<'a> = &'a [(&'a str, &'a str)];
    let cases: [(&str, Commands, &[&str], &[&str]); 7] = [
        (
            "unknown",
            &[],
            &["deb-sparc"],
            &[
                "no package 'deb-sparc'",
                "deb-amd64 deb-arm64 linux windows",
            ],
        ),
        (
            "untried",
            &[],
            &["--check", "mac"],
            &["'mac' cannot be tried", "deb arm64 linux windows same"],
        ),
        (
            "full",
            &[("df", "printf 'Avail\\n300\\n'")],
            &["windows"],
            &["only 300 MB are free", "make room"],
        ),
        (
            "no-compiler",
            &[
                (
                    "dpkg-query",
                    r#"for last; do :; done; [ "$last" = gcc-mingw-w64-x86-64 ] || echo install ok installed"#,
                ),
                ("apt-get", r#"[ "$1" = update ]"#),
            ],
            &["windows"],
            &["apt cannot install gcc-mingw-w64-x86-64"],
        ),
        (
            "no-network",
            &[("dpkg-query", "exit 1"), ("apt-get", "exit 100")],
            &["deb-amd64"],
            &["apt cannot ask", "see that the network is there"],
        ),
        (
            "no-library",
            &[],
            &["windows"],
            &["library for x86_64-pc-windows-gnu", "network"],
        ),
        (
            "no-build",
            &[("rustc", HAS_LIBRARY)],
            &["windows"],
            &["windows was not built"],
        ),
    ];
    for (name, commands, words, wanted) in cases {
        let machine = Machine::new(name, commands);
        let out = machine.package(words);
        assert!(!out.status.success(), "{name}: {out:?}");
        let said = String::from_utf8_lossy(&out.stderr);
        let last = said.lines().last().unwrap_or_default();
        assert!(last.starts_with("stopped: "), "{name}: {said}");
        for part in wanted {
            assert!(last.contains(part), "{name}: {said}");
        }
        assert_eq!(machine.made(), Vec::<PathBuf>::new(), "{name}");
    }
}
