//! The lock over real sockets: wrong passphrases, somebody in between, a host
//! whose key has changed, open lessons, and guesses that shut nobody else out.

use std::net::SocketAddr;
use std::path::Path;

use fifthpeg_host::{Counter, HostConfig, Limits, Lock, Notice};
use fifthpeg_link::LinkError;
use fifthpeg_link::channel::ByteStream;
use fifthpeg_link::secure::{self, HostKey};
use fifthpeg_lock::{GuessLimits, LockError, Passphrase};
use fifthpeg_student::{Entry, Status, Student, StudentConfig, Target, Wanted};
use fifthpeg_tests::forwarder::Forwarder;
use fifthpeg_tests::net::{
    Remembering, host, host_key, joined, on_loopback, passphrase, setup, student, until,
};
use fifthpeg_tests::peers::{at_lock, counted, goes_on, notice};
use fifthpeg_tests::temporary;
use tokio::io::copy_bidirectional;
use tokio::net::{TcpListener, TcpStream};

fn words(text: &str) -> Passphrase {
    Passphrase::typed(text).expect("a passphrase")
}

async fn entering(name: &str, address: SocketAddr, entry: Entry) -> Student {
    let target = Target::Address(vec![address]);
    let output = Box::new(Remembering::default());
    let config = StudentConfig {
        entry,
        ..StudentConfig::new(name, target, output)
    };
    fifthpeg_student::start(config).await.expect("it starts")
}

fn remembering(hosts: &Path) -> Entry {
    Entry {
        hosts: Some(hosts.to_path_buf()),
        ..Entry::with(passphrase())
    }
}

fn is_wanted(status: &Status, why: Wanted) -> bool {
    matches!(status, Status::PassphraseWanted { wanted, .. } if *wanted == why)
}

#[tokio::test]
async fn a_passphrase_is_asked_for_and_may_be_typed_again() {
    let host = host(setup("Village hall")).await;
    let mut notices = host.notices();
    let mia = entering("Mia", host.local_addrs()[0], Entry::default()).await;
    let mut status = mia.status();
    let asked = until(&mut status, "asked", |s| is_wanted(s, Wanted::First)).await;
    assert!(
        asked.to_string().contains("'Village hall' is locked"),
        "{asked}"
    );
    mia.give_passphrase(words("wrong words altogether"))
        .unwrap();
    until(&mut status, "asked again", |s| is_wanted(s, Wanted::Wrong)).await;
    let told = notice(&mut notices, |n| {
        matches!(n, Notice::WrongPassphrase { .. })
    })
    .await;
    assert!(
        told.to_string().contains("127.0.0.1: 1 from there"),
        "{told}"
    );
    assert_eq!(host.view().borrow().students.len(), 0);
    mia.give_passphrase(words("Acorn River candle TIGER"))
        .unwrap();
    joined(&mia).await;
    let there = status.borrow().clone();
    assert!(matches!(there, Status::In { locked: true, .. }), "{there}");
    goes_on(&host, &mia).await;
    // Leaving to ask for the passphrase is no trouble to be told of.
    let counts = host.counts();
    assert_eq!(counts, [(Counter::WrongPassphrase, 1)]);
}

/// Takes a student's encrypted connection apart and passes everything on over
/// one of its own to the host: it knows nothing but can read all.
async fn in_between(host: SocketAddr) -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
    let address = listener.local_addr().expect("an address");
    let own = HostKey::make().expect("a key");
    tokio::spawn(async move {
        while let Ok((near, _)) = listener.accept().await {
            let own = own.clone();
            tokio::spawn(async move {
                let (mut near, _) = secure::host(near, &own).await.ok()?;
                let far = TcpStream::connect(host).await.ok()?;
                let (mut far, _) = secure::student(far).await.ok()?;
                pass_on(&mut near, &mut far).await
            });
        }
    });
    address
}

async fn pass_on(near: &mut impl ByteStream, far: &mut impl ByteStream) -> Option<()> {
    copy_bidirectional(near, far).await.ok().map(drop)
}

#[tokio::test]
async fn somebody_in_between_gets_nobody_in() {
    let host = host(setup("Village hall")).await;
    let between = in_between(host.local_addrs()[0]).await;
    let mia = entering("Mia", between, Entry::with(passphrase())).await;
    let mut status = mia.status();
    // The right words, and yet they do not hold over two channels.
    until(&mut status, "refused", |s| is_wanted(s, Wanted::Wrong)).await;
    assert!(host.view().borrow().students.is_empty());
    // Typed again with care: the key to compare is that of whoever is in between.
    mia.give_passphrase(passphrase()).unwrap();
    let again = |s: &Status| {
        let Status::PassphraseWanted { wanted, .. } = s else {
            return false;
        };
        matches!(wanted, Wanted::WrongAgain(_))
    };
    let told = until(&mut status, "told of it", again).await.to_string();
    assert!(told.contains("somebody may stand between"), "{told}");
    assert!(
        !told.contains(&host_key().fingerprint().to_string()),
        "{told}"
    );
    // Straight to the host they do.
    let ivo = student("Ivo", host.local_addrs()[0]).await;
    joined(&ivo).await;
}

#[tokio::test]
async fn a_changed_key_needs_a_yes_and_is_known_afterwards() {
    let hosts = temporary("known-hosts");
    let first = host(setup("Village hall")).await;
    let port = first.local_addrs()[0];
    let mia = entering("Mia", port, remembering(&hosts)).await;
    joined(&mia).await;
    mia.leave().await.unwrap();
    first.end().await.unwrap();

    let config = HostConfig {
        lock: Lock::Passphrase {
            key: HostKey::make().unwrap(),
            passphrase: passphrase(),
        },
        ..on_loopback(setup("Village hall"))
    };
    let other = fifthpeg_host::start(config).await.unwrap();
    let at = other.local_addrs()[0];
    let mia = entering("Mia", at, remembering(&hosts)).await;
    let mut status = mia.status();
    let changed = |s: &Status| matches!(s, Status::KeyChanged { .. });
    let warned = until(&mut status, "warned", changed).await.to_string();
    assert!(
        warned.contains(&host_key().fingerprint().to_string()),
        "{warned}"
    );
    assert!(other.view().borrow().students.is_empty());
    mia.take_new_key().unwrap();
    joined(&mia).await;
    mia.leave().await.unwrap();
    let again = entering("Mia", at, remembering(&hosts)).await;
    joined(&again).await;
    std::fs::remove_dir_all(&hosts).unwrap();
}

#[tokio::test]
async fn nobody_falls_from_a_locked_lesson_into_an_open_one() {
    let hosts = temporary("no-fall");
    let locked = host(setup("Village hall")).await;
    let mia = entering("Mia", locked.local_addrs()[0], remembering(&hosts)).await;
    joined(&mia).await;
    let at = locked.local_addrs()[0];
    mia.leave().await.unwrap();
    locked.end().await.unwrap();

    let open = HostConfig {
        lock: Lock::Open,
        bind: vec![at],
        ..on_loopback(setup("Village hall"))
    };
    let open = fifthpeg_host::start(open).await.unwrap();
    let is_refused = |s: &Status| *s == Status::OpenInstead;
    // Remembered as locked, without a passphrase; then with one, unknown.
    let remembered = Entry {
        passphrase: None,
        ..remembering(&hosts)
    };
    for entry in [remembered.clone(), Entry::with(passphrase())] {
        let mia = entering("Mia", at, entry).await;
        until(&mut mia.status(), "refused", is_refused).await;
    }
    assert!(open.view().borrow().students.is_empty());
    // Who asks for it gets in, and so does who expects nothing; both are told.
    let asked = Entry {
        open: true,
        ..remembered
    };
    for (name, entry) in [("Mia", asked), ("Ivo", Entry::default())] {
        let student = entering(name, at, entry).await;
        joined(&student).await;
        let told = student.status().borrow().to_string();
        assert!(told.contains("which is open"), "{told}");
    }
    std::fs::remove_dir_all(&hosts).unwrap();
}

#[tokio::test]
async fn an_open_lesson_of_a_locked_one_s_name_is_joined_at_no_address_without_a_word() {
    let hosts = temporary("open-impostor");
    let locked = host(setup("Village hall")).await;
    let mia = entering("Mia", locked.local_addrs()[0], remembering(&hosts)).await;
    joined(&mia).await;
    mia.leave().await.unwrap();
    // It is still there; others are at other addresses, under its name or one
    // that looks like it (the Cyrillic letter a).
    for name in ["Village hall", "village hall", "Vill\u{430}ge hall"] {
        let open = HostConfig {
            lock: Lock::Open,
            ..on_loopback(setup(name))
        };
        let open = fifthpeg_host::start(open).await.unwrap();
        let at = open.local_addrs()[0];
        let remembered = Entry {
            passphrase: None,
            ..remembering(&hosts)
        };
        let mia = entering("Mia", at, remembered.clone()).await;
        let told = until(&mut mia.status(), "stopped", |s| s.is_final()).await;
        assert_eq!(told, Status::OpenInstead, "{name}");
        assert!(told.to_string().contains("--open"), "{told}");
        assert!(mia.view().borrow().welcome.is_none());
        until(&mut open.view(), "left", |v| {
            v.students.iter().all(|s| !s.connected)
        })
        .await;
        // Who asks for it gets in.
        let asked = Entry {
            open: true,
            ..remembered
        };
        joined(&entering("Ivo", at, asked).await).await;
    }
    // Another name is another lesson.
    let other = HostConfig {
        lock: Lock::Open,
        ..on_loopback(setup("Barn"))
    };
    let other = fifthpeg_host::start(other).await.unwrap();
    let remembered = Entry {
        passphrase: None,
        ..remembering(&hosts)
    };
    joined(&entering("Mia", other.local_addrs()[0], remembered).await).await;
    std::fs::remove_dir_all(&hosts).unwrap();
}

#[tokio::test]
async fn guesses_shut_out_neither_those_who_are_in_nor_those_who_come_back() {
    let config = HostConfig {
        limits: Limits {
            guesses: GuessLimits {
                at_once_from_one: 3,
                ..GuessLimits::default()
            },
            ..Limits::default()
        },
        ..on_loopback(setup("Village hall"))
    };
    let host = fifthpeg_host::start(config).await.unwrap();
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let forwarder = Forwarder::to(address).await;
    let mia = student("Mia", forwarder.address()).await;
    joined(&mia).await;
    // More at once than are looked at.
    let guesses = (0..8).map(|n| async move {
        let lock = at_lock(address).await;
        lock.pass(words(&format!("guess number {n}")).into()).await
    });
    let mut looked_at = 0;
    for guess in guesses {
        match guess.await.map(drop) {
            Err(LinkError::Lock(LockError::Wrong)) => looked_at += 1,
            Err(LinkError::Lock(LockError::Wait { seconds })) => assert!(seconds > 0),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(looked_at, 3);
    let told = notice(&mut notices, |n| matches!(n, Notice::GuessesWait { .. })).await;
    assert!(told.to_string().contains("stay in"), "{told}");
    // Told once, and all counted.
    counted(&host, Counter::GuessesWait, 5).await;
    // Even the right words wait now, from that address.
    let right = at_lock(address).await.pass(passphrase().into()).await;
    assert!(matches!(
        right,
        Err(LinkError::Lock(LockError::Wait { .. }))
    ));
    // Mia, at the same address, is cut off and comes back all the same.
    goes_on(&host, &mia).await;
    forwarder.cut();
    until(&mut mia.view(), "away", |v| !v.connected).await;
    forwarder.mend();
    joined(&mia).await;
    goes_on(&host, &mia).await;
}
