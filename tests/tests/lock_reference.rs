//! The lock against sources outside the project: python-spake2 as the student,
//! and OpenSSL for the channel binding. The former's version stands in
//! `tests/reference/requirements.txt`.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use fifthpeg_link::secure::{self, chance};
use fifthpeg_lock::{
    ChannelBinding, Fingerprint, HostLock, HostStep, Knows, Passphrase, PrivateKey, SeatSecret,
    StudentLock, StudentStep,
};
use fifthpeg_tests::net::host_key;
use fifthpeg_tests::{python_with, skip, table_rows};
use fifthpeg_wire::{LockAsk, LockReply};
use rand_core_06::{CryptoRng, Error, RngCore};
use tokio::net::TcpListener;

fn script(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("reference")
        .join(name)
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

fn unhex<const BYTES: usize>(text: &str) -> [u8; BYTES] {
    let text = text.trim();
    assert_eq!(text.len(), 2 * BYTES, "{text}");
    core::array::from_fn(|at| u8::from_str_radix(&text[2 * at..2 * at + 2], 16).expect("hex"))
}

/// Chance that is known: the bytes of one scalar.
struct Known([u8; 64]);

impl CryptoRng for Known {}

impl RngCore for Known {
    fn next_u32(&mut self) -> u32 {
        panic!("only bytes are asked for")
    }

    fn next_u64(&mut self) -> u64 {
        panic!("only bytes are asked for")
    }

    fn fill_bytes(&mut self, bytes: &mut [u8]) {
        bytes.copy_from_slice(&self.0);
    }

    fn try_fill_bytes(&mut self, bytes: &mut [u8]) -> Result<(), Error> {
        self.fill_bytes(bytes);
        Ok(())
    }
}

/// Both ends, from fixed inputs, say byte for byte what `channel.csv` has: made by
/// `tests/reference/make_channel_vectors.py` from the protocol page with python-spake2, hmac and
/// hashlib. Terminals and pages have this lock, over channels of their own.
#[test]
fn both_ends_say_what_the_vectors_of_the_channel_have() {
    let mut kinds = [0, 0];
    let own = PrivateKey::of_host(b"none is asked for");
    for row in table_rows(&script("channel.csv")) {
        let [secret, student, exporter, host, lesson, more @ ..] = &row[..] else {
            panic!("{row:?}");
        };
        let [x_random, y_random, x, y, student_proof, host_proof] = more else {
            panic!("{row:?}");
        };
        let binding = ChannelBinding {
            exporter: unhex(exporter),
            host: Fingerprint(unhex(host)),
        };
        let say = |ask| Ok(StudentStep::Say(ask));
        let open = HostStep::Open(LockReply::Open {
            proof: unhex(host_proof),
        });
        let proof = unhex(student_proof);
        let other = Passphrase::typed("other words than these").expect("a passphrase");
        let (opened, mut student) = if student.is_empty() {
            kinds[0] += 1;
            let words = Passphrase::typed(secret).expect("a passphrase");
            let knows = Knows::from(words.clone());
            let known = Known(unhex(x_random));
            let begun = StudentLock::begin(knows, (binding, lesson), known);
            let (mut student, said) = begun.expect("words to prove");
            let element = unhex(x);
            assert_eq!(said, LockAsk::Passphrase { element });
            let (mut host, _) = HostLock::new((&words, &own), binding, lesson);
            let element = unhex(y);
            let reply = LockReply::Element { element };
            let step = host.handle(said, Known(unhex(y_random)));
            assert_eq!(step, Ok(HostStep::Say(reply.clone())));
            let step = student.handle(reply, chance());
            assert_eq!(step, say(LockAsk::Proof { proof }));
            let step = host.handle(LockAsk::Proof { proof }, chance());
            assert_eq!(step, Ok(HostStep::Guess));
            (host.judge(), student)
        } else {
            kinds[1] += 1;
            let seat = SeatSecret {
                student: student.parse().expect("a number"),
                key: u128::from_le_bytes(unhex(secret)),
            };
            let knows = Knows {
                seat: Some(seat),
                ..Knows::default()
            };
            let begun = StudentLock::begin(knows, (binding, lesson), chance());
            let (lock, said) = begun.expect("a seat to prove");
            let student = seat.student;
            assert_eq!(said, LockAsk::Seat { student, proof });
            let (mut host, _) = HostLock::new((&other, &own), binding, lesson);
            let step = host.handle(said, chance());
            assert_eq!(step, Ok(HostStep::LookUp { student }));
            (host.seat(Some(seat.key)), lock)
        };
        assert_eq!(opened, open, "{row:?}");
        let HostStep::Open(reply) = opened else {
            panic!("{opened:?}");
        };
        assert_eq!(student.handle(reply, chance()), Ok(StudentStep::Through));
    }
    assert_eq!(kinds, [3, 3]);
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
