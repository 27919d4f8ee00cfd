//! What the programs of earlier versions keep beside the lesson book is understood by this one: the host's key, the
//! hosts that a student's machine knows, its class keys. Each folder of `tests/stored` was left by the version it is
//! called after. Books of each version are opened in `crates/book/tests/versions.rs`, trims of outputs in
//! `crates/listen/src/trims/tests.rs`.

use std::fs;
use std::path::{Path, PathBuf};

use fifthpeg_host::{HostConfig, Lock};
use fifthpeg_link::secure::{HostKey, keep_or_make};
use fifthpeg_student::{Entry, Status, Student, StudentConfig, Target, class_key_names};
use fifthpeg_tests::net::{Remembering, host_key, joined, on_loopback, passphrase, setup, until};
use fifthpeg_tests::temporary;

/// Each version's folder, and the host's key in it as that version showed it.
const STORED: &[(&str, &str)] = &[("0.1.0", "6255-b3df-ac8a-f29b")];

/// A copy to work with: a version's files are not ours to change, and a class key that was not used for
/// 90 days holds no longer.
fn copy_of(version: &str) -> PathBuf {
    let stored = Path::new(env!("CARGO_MANIFEST_DIR")).join("stored");
    let folder = temporary(&format!("stored-{version}"));
    for file in fs::read_dir(stored.join(version)).expect("stored files") {
        let file = file.expect("a stored file");
        let content = fs::read(file.path()).expect("its content");
        fs::write(folder.join(file.file_name()), content).expect("a copy");
    }
    folder
}

/// A student whose machine keeps what is in the folder, at a host with that key.
async fn lesson(key: HostKey, folder: &Path) -> (fifthpeg_host::Host, Student) {
    let lock = Lock::Passphrase {
        key,
        passphrase: passphrase(),
    };
    let config = HostConfig {
        lock,
        ..on_loopback(setup("Village hall"))
    };
    let host = fifthpeg_host::start(config).await.expect("it starts");
    let entry = Entry {
        hosts: Some(folder.to_path_buf()),
        ..Entry::with(passphrase())
    };
    let target = Target::Address(vec![host.local_addrs()[0]]);
    let config = StudentConfig {
        entry,
        ..StudentConfig::new("Mia", target, Box::new(Remembering::default()))
    };
    let mia = fifthpeg_student::start(config).await.expect("it starts");
    (host, mia)
}

#[tokio::test(flavor = "multi_thread")]
async fn what_earlier_versions_kept_is_understood() {
    for (version, shown) in STORED {
        let folder = copy_of(version);
        assert_eq!(class_key_names(&folder), ["Mia"], "{version}");
        let kept = keep_or_make(&folder.join("host.key")).expect("a key");
        assert_eq!(kept.trouble, None, "{version}");
        assert_eq!(&kept.key.fingerprint().to_string(), shown, "{version}");

        // Another key is noticed, so the host is known; its own is taken without a question.
        let (host, mia) = lesson(host_key(), &folder).await;
        let changed = |status: &Status| matches!(status, Status::KeyChanged { before, .. } if before == shown);
        until(&mut mia.status(), "another key is told of", changed).await;
        mia.leave().await.expect("left");
        host.end().await.expect("ended");
        let (host, mia) = lesson(kept.key, &folder).await;
        joined(&mia).await;
        mia.leave().await.expect("left");
        host.end().await.expect("ended");
    }
}
