//! The lock against sources outside the project: python-spake2 as the student,
//! and OpenSSL for the channel binding. The former's version stands in
//! `tests/reference/requirements.txt`.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use fifthpeg_link::secure::{self, chance};
use fifthpeg_lock::{ChannelBinding, Fingerprint, HostLock, HostStep, Passphrase, PrivateKey};
use fifthpeg_tests::net::host_key;
use fifthpeg_tests::{python_with, skip};
use fifthpeg_wire::{LockAsk, LockReply};
use tokio::net::TcpListener;

fn script(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("reference")
        .join(name)
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

fn unhex(text: &str) -> [u8; 32] {
    let text = text.trim();
    assert_eq!(text.len(), 64, "{text}");
    core::array::from_fn(|at| u8::from_str_radix(&text[2 * at..2 * at + 2], 16).expect("hex"))
}

/// What a student says that was written from the page alone opens the lock,
/// and the host's proof is what that student expects.
#[test]
fn a_student_made_of_python_spake2_gets_in() {
    let Some(python) = python_with("spake2") else {
        skip("python-spake2 is not installed");
        return;
    };
    let words = Passphrase::typed("Acorn-River Candle, tiger").expect("a passphrase");
    let lesson = "Village hall, Žofie's";
    let binding = ChannelBinding {
        exporter: core::array::from_fn(|at| u8::try_from(at).expect("below 32")),
        host: Fingerprint([0xa5; 32]),
    };
    for (typed, gets_in) in [
        ("acornrivercandletiger", true),
        ("acornrivercandletigers", false),
    ] {
        let mut student = Command::new(&python)
            .arg(script("lock_student.py"))
            .args([
                typed,
                &hex(&binding.exporter),
                &hex(&binding.host.0),
                lesson,
            ])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("python runs");
        let mut input = student.stdin.take().expect("piped");
        let mut lines = BufReader::new(student.stdout.take().expect("piped")).lines();
        let mut line = || lines.next().expect("a line").expect("text");
        let own = PrivateKey::of_host(b"none is asked for");
        let (mut host, _) = HostLock::new((&words, &own), binding, lesson);
        let element = unhex(&line());
        let step = host.handle(LockAsk::Passphrase { element }, chance());
        let Ok(HostStep::Say(LockReply::Element { element })) = step else {
            panic!("{step:?}");
        };
        writeln!(input, "{}", hex(&element)).expect("taken");
        let proof = unhex(&line());
        let step = host.handle(LockAsk::Proof { proof }, chance());
        assert_eq!(step, Ok(HostStep::Guess));
        match host.judge() {
            HostStep::Open(LockReply::Open { proof }) if gets_in => {
                writeln!(input, "{}", hex(&proof)).expect("taken");
                assert_eq!(line(), "right");
            }
            HostStep::Shut { wrong: true, .. } if !gets_in => {
                writeln!(input, "{}", hex(&[0; 32])).expect("taken");
                assert_eq!(line(), "wrong");
            }
            other => panic!("{typed}: {other:?}"),
        }
        student.wait().expect("it ends");
    }
}

/// `openssl s_client` exports the same keying material from its end of the
/// channel (RFC 8446 section 7.5, RFC 9266), and speaks TLS 1.3 with the host.
#[tokio::test(flavor = "multi_thread")]
async fn openssl_exports_the_same_binding() {
    if !Command::new("openssl")
        .arg("version")
        .output()
        .is_ok_and(|o| o.status.success())
    {
        skip("openssl is not installed");
        return;
    }
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
    let address = listener.local_addr().expect("an address").to_string();
    let client = std::thread::spawn(move || {
        Command::new("openssl")
            .args(["s_client", "-connect", &address, "-tls1_3"])
            .args(["-keymatexport", "EXPORTER-Channel-Binding"])
            .args(["-keymatexportlen", "32"])
            .stdin(Stdio::null())
            .output()
            .expect("openssl runs")
    });
    let (stream, _) = listener.accept().await.expect("it connects");
    let (stream, binding) = secure::host(stream, &host_key()).await.expect("TLS 1.3");
    drop(stream);
    let said = client.join().expect("it ends");
    let said = String::from_utf8_lossy(&said.stdout).into_owned();
    let exported = said
        .lines()
        .find_map(|line| line.trim().strip_prefix("Keying material: "))
        .unwrap_or_else(|| panic!("nothing exported: {said}"));
    assert_eq!(exported.to_lowercase(), hex(&binding.exporter));
    assert!(said.contains("TLSv1.3"), "{said}");
}
