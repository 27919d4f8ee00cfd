//! The set-up commands find a Rust on machines of several kinds. The machines are made up: commands that
//! answer as apt does. `scripts/fresh` does the same with a real, bare Debian.

use std::fmt::Write as _;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// What the script needs besides, from this machine.
const TOOLS: [&str; 11] = [
    "bash", "awk", "sed", "sort", "head", "grep", "env", "dirname", "cat", "chmod", "rm",
];

/// A machine whose apt has these packages, and none of the one called `rustup` but its name.
struct Machine(PathBuf);

impl Machine {
    fn new(name: &str, offers: &[(&str, &str)]) -> Self {
        let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).expect("a folder");
        let machine = Self(folder);
        for tool in TOOLS {
            let found = ["/usr/bin", "/bin"].map(|at| Path::new(at).join(tool));
            let found = found.iter().find(|file| file.exists()).expect(tool);
            symlink(found, machine.0.join(tool)).expect("a link");
        }
        let mut cases = String::new();
        let mut installs = String::new();
        for (package, version) in offers {
            let _ = writeln!(cases, "{package}) version={version} ;;");
            let rust = version.split('+').next().unwrap_or(version);
            let makes = match *package {
                "rustc" | "rustc-web" => format!("toolchain {rust} rustc"),
                "cargo" | "cargo-web" => format!("toolchain {rust} cargo"),
                "rustfmt" | "rustfmt-web" => format!("toolchain {rust} cargo-fmt"),
                "rust-clippy" | "rust-web-clippy" => format!("toolchain {rust} cargo-clippy"),
                "rustup" => "toolchain 1.97.0 rustup".to_owned(),
                other => panic!("{other} is no package of this test"),
            };
            let _ = writeln!(installs, "{package}) {makes} ;;");
        }
        // As apt-cache of Debian 12 says it.
        machine.command(
            "apt-cache",
            &format!(
                r#"version="(none)"
case $2 in
{cases}esac
[ "$1" != policy ] || printf '%s:\n  Installed: (none)\n  Candidate: %s\n  Version table:\n' "$2" "$version""#
            ),
        );
        machine.command(
            "apt-get",
            &format!(
                r#"[ "$1" = install ] || exit 0
shift
for package in "$@"; do
    case $package in
    -*) continue ;;
    {installs}
    *) echo "E: Package '$package' has no installation candidate" >&2; exit 100 ;;
    esac
    echo "$package" >>"${{0%apt-get}}installed"
done"#
            ),
        );
        // Puts tools there that say that version. A rustup is one that puts all there, whatever it is asked.
        machine.command(
            "toolchain",
            r##"folder=${0%toolchain} version=$1
shift
for tool in "$@"; do
    echo '#!/bin/sh' >"$folder$tool"
    case $tool in
    rustup) echo 'toolchain 1.97.0 rustc cargo cargo-fmt cargo-clippy' >>"$folder$tool" ;;
    *) echo "echo $tool $version" >>"$folder$tool" ;;
    esac
    chmod +x "$folder$tool"
done"##,
        );
        machine.command("dpkg-query", "exit 1");
        machine.command("id", "echo 0");
        machine
    }

    fn command(&self, name: &str, does: &str) {
        let file = self.0.join(name);
        std::fs::write(&file, format!("#!/bin/sh\n{does}\n")).expect("a script");
        std::fs::set_permissions(&file, PermissionsExt::from_mode(0o755)).expect("rights");
    }

    fn needs_rust(&self, what: &str) -> Output {
        let common = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scripts/common.sh");
        let script = format!(". '{}' && need_rust {what}", common.display());
        let bash = self.0.join("bash");
        Command::new(bash)
            .args(["-c", &script])
            .env_clear()
            .env("PATH", &self.0)
            .env("HOME", &self.0)
            .output()
            .expect("bash runs")
    }

    fn installed(&self) -> Vec<String> {
        let list = std::fs::read_to_string(self.0.join("installed")).unwrap_or_default();
        list.lines().map(str::to_owned).collect()
    }
}

/// Debian 12 and 13 with their security updates, on 28 November 2026, by `apt-cache policy`.
const BOOKWORM: [(&str, &str); 6] = [
    ("rustc", "1.63.0+dfsg1-2"),
    ("cargo", "0.66.0+ds1-1"),
    ("rustc-web", "1.96.0+dfsg1-1~deb12u2"),
    ("cargo-web", "1.96.0+dfsg1-1~deb12u2"),
    ("rustfmt-web", "1.96.0+dfsg1-1~deb12u2"),
    ("rust-web-clippy", "1.96.0+dfsg1-1~deb12u2"),
];
const TRIXIE: [(&str, &str); 7] = [
    ("rustc", "1.85.1+dfsg1-1+deb13u1"),
    ("cargo", "1.85.1+dfsg1-1+deb13u1"),
    ("rustc-web", "1.96.0+dfsg1-1~deb13u1+b1"),
    ("cargo-web", "1.96.0+dfsg1-1~deb13u1+b1"),
    ("rustfmt-web", "1.96.0+dfsg1-1~deb13u1+b1"),
    ("rust-web-clippy", "1.96.0+dfsg1-1~deb13u1+b1"),
    ("rustup", "1.27.1-3+b1"),
];

#[test]
fn each_machine_gets_the_rust_that_it_has() {
    type Offers<'a> = &'a [(&'a str, &'a str)];
    let newer: Offers = &[
        ("rustc", "1.98.0+dfsg1-1"),
        ("cargo", "1.98.0+dfsg1-1"),
        ("rustup", "1.28.2-1"),
    ];
    // Without the security updates there is rustup alone.
    let rustup_alone: Offers = &[
        ("rustc", "1.85.1+dfsg1-1"),
        ("cargo", "1.85.1+dfsg1-1"),
        ("rustup", "1.27.1-3"),
    ];
    let web: &[&str] = &["rustc-web", "cargo-web"];
    let web_lints: &[&str] = &["rustc-web", "cargo-web", "rustfmt-web", "rust-web-clippy"];
    let cases: [(&str, Offers, &str, &[&str]); 6] = [
        ("bookworm", &BOOKWORM, "", web),
        ("bookworm-lints", &BOOKWORM, "lints", web_lints),
        ("trixie", &TRIXIE, "", web),
        ("trixie-lints", &TRIXIE, "lints", web_lints),
        ("newer", newer, "", &["rustc", "cargo"]),
        ("rustup", rustup_alone, "lints", &["rustup"]),
    ];
    for (name, offers, what, wanted) in cases {
        let machine = Machine::new(name, offers);
        let out = machine.needs_rust(what);
        assert!(out.status.success(), "{name}: {out:?}");
        assert_eq!(machine.installed(), wanted, "{name}");
        // And a second time it needs nothing.
        assert!(machine.needs_rust(what).status.success(), "{name}");
        assert_eq!(machine.installed(), wanted, "{name}, again");
    }
}

#[test]
fn a_machine_without_any_says_what_to_do() {
    let machine = Machine::new("none", &BOOKWORM[..2]);
    let out = machine.needs_rust("");
    assert!(!out.status.success());
    let said = String::from_utf8_lossy(&out.stderr);
    assert!(said.contains("security updates"), "{said}");
    assert!(said.contains("install rustup"), "{said}");
    assert!(machine.installed().is_empty());
}

#[test]
fn lints_that_are_missing_are_added_to_the_rust_that_is_there() {
    let machine = Machine::new("half", &BOOKWORM);
    assert!(machine.needs_rust("").status.success());
    assert!(machine.needs_rust("lints").status.success());
    let had = machine.installed();
    assert!(had.contains(&"rust-web-clippy".to_owned()), "{had:?}");
}
