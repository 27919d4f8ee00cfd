use super::*;

fn folder(name: &str) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("fifthpeg-log-{}-{name}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("a folder");
    folder
}

#[test]
fn nothing_but_a_log_is_written_into() {
    let folder = folder("other");
    for (name, holds) in [("short", "x"), ("long", "SQLite format 3 and much more")] {
        let file = folder.join(name);
        std::fs::write(&file, holds).expect("a file");
        let refused = LogFile::open(&file).err().expect("refused");
        assert!(refused.to_string().contains("left as it is"), "{refused}");
        assert_eq!(std::fs::read_to_string(&file).expect("text"), holds);
    }
    let refused = LogFile::open(&folder).err().expect("refused");
    assert!(matches!(refused, LogError::NotALog { .. }), "{refused}");
    let refused = LogFile::open(&folder.join("none/x"))
        .err()
        .expect("refused");
    assert!(
        refused.to_string().contains("name another file"),
        "{refused}"
    );
    assert!(std::error::Error::source(&refused).is_some());
}

#[test]
fn an_older_log_is_written_on() {
    let file = folder("on").join("log");
    for text in ["one\n", "two\n"] {
        let none = AtomicU64::new(0);
        LogFile::open(&file).expect("a log").write(text, &none, 1);
        assert_eq!(none.into_inner(), 0);
    }
    let written = std::fs::read_to_string(&file).expect("text");
    assert_eq!(written, format!("{BEGINS}one\ntwo\n"));
}

#[cfg(unix)]
#[test]
fn it_is_for_its_owner_alone() {
    use std::os::unix::fs::PermissionsExt;
    let file = folder("rights").join("log");
    let mode = |file: &Path| file.metadata().expect("there").permissions().mode() & 0o777;
    drop(LogFile::open(&file));
    assert_eq!(mode(&file), 0o600);
    std::fs::set_permissions(&file, PermissionsExt::from_mode(0o644)).expect("set");
    drop(LogFile::open(&file));
    assert_eq!(mode(&file), 0o600);
}

#[test]
fn it_never_grows_beyond_two_files() {
    let file = folder("full").join("log");
    let none = AtomicU64::new(0);
    let line = format!("{}\n", "x".repeat(200_000));
    // Two programs with one log.
    let mut logs = [LogFile::open(&file), LogFile::open(&file)].map(|log| log.expect("a log"));
    for number in 0..100 {
        logs[number % 2].write(&line, &none, 1);
    }
    let size = |path: &Path| path.metadata().expect("there").len();
    let most = MOST_BYTES + 200_001;
    assert!(size(&file) <= most && size(&older(&file)) <= most);
    assert!(size(&older(&file)) > MOST_BYTES);
    let begins = std::fs::read_to_string(&file).expect("text");
    assert!(begins.starts_with(BEGINS));
    assert_eq!(none.into_inner(), 0);
    let mut files = std::fs::read_dir(file.parent().expect("a folder")).expect("read");
    assert_eq!(files.by_ref().count(), 2);
}
