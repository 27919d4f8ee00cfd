use super::*;

/// A folder of its own, gone at the end.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Folder {
        let folder = std::env::temp_dir().join(format!("trims-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder");
        Folder(folder)
    }

    fn trims(&self) -> Trims {
        Trims::in_folder(Some(self.0.join("fifthpeg")))
    }

    fn file(&self) -> PathBuf {
        self.0.join("fifthpeg").join(FILE)
    }

    fn write(&self, text: &str) {
        std::fs::create_dir_all(self.0.join("fifthpeg")).expect("a folder");
        std::fs::write(self.file(), text).expect("a file");
    }

    fn text(&self) -> String {
        std::fs::read_to_string(self.file()).expect("a file")
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn trim(later_ms: f64) -> Trim {
    Trim::measured(later_ms, 6.0).expect("a trim")
}

#[test]
fn trims_are_kept_by_output_and_removed() {
    let folder = Folder::new("kept");
    let trims = folder.trims();
    assert_eq!(trims.of("pulse"), Ok(None));
    trims.keep("pulse", trim(143.26)).expect("kept");
    trims
        .keep("HDMI \"big\", 2 [x]", trim(-12.0))
        .expect("kept");
    trims.keep("pulse", trim(150.0)).expect("kept");
    assert_eq!(trims.of("pulse"), Ok(Some(trim(150.0))));
    assert_eq!(trims.of("HDMI \"big\", 2 [x]"), Ok(Some(trim(-12.0))));
    assert!(folder.text().starts_with("# How much later"));
    assert_eq!(trims.remove("pulse"), Ok(true));
    assert_eq!(trims.remove("pulse"), Ok(false));
    assert_eq!(trims.of("pulse"), Ok(None));
    assert_eq!(trims.of("HDMI \"big\", 2 [x]"), Ok(Some(trim(-12.0))));
    assert!(
        folder.text().starts_with("# How much later"),
        "{}",
        folder.text()
    );
    assert_eq!(trims.remove("HDMI \"big\", 2 [x]"), Ok(true));
    trims.keep("pulse", trim(1.0)).expect("kept");
    assert!(
        folder.text().starts_with("# How much later"),
        "{}",
        folder.text()
    );
}

#[test]
fn what_else_stands_in_the_file_stays() {
    let folder = Folder::new("stays");
    folder.write("# nothing but a note");
    folder.trims().keep("pulse", trim(1.0)).expect("kept");
    assert!(folder.text().starts_with("# nothing but a note\n"));
    assert_eq!(folder.trims().of("pulse"), Ok(Some(trim(1.0))));
    folder.write(
        "# the hall's own\n[hall]\nlater_ms = 20 # by ear\nwithin_ms = 3.5\nplace = \"left\"\n",
    );
    let trims = folder.trims();
    assert_eq!(
        trims.of("hall").map(|t| t.map(|t| t.later_ms())),
        Ok(Some(20.0))
    );
    trims.keep("pulse", trim(1.0)).expect("kept");
    let text = folder.text();
    assert!(
        text.starts_with("# the hall's own\n[hall]\nlater_ms = 20 # by ear\n"),
        "{text}"
    );
    assert!(text.contains("place = \"left\""), "{text}");
}

#[test]
fn a_damaged_file_is_told_and_not_written_over() {
    let folder = Folder::new("damaged");
    for damaged in [
        "[pulse]\nlater_ms = = 3\n",
        "[pulse]\nlater_ms = 3",
        "[pulse]\nlater_ms = 1e9\nwithin_ms = 1\n",
        "pulse = 3\n",
    ] {
        folder.write(damaged);
        let trims = folder.trims();
        let said = trims.of("pulse").expect_err(damaged).to_string();
        assert!(said.contains("is damaged"), "{said}");
        assert!(said.contains("nothing in it was changed"), "{said}");
        assert_eq!(folder.text(), damaged);
    }
    let damaged = "[pulse]\nlater_ms = = 3\n";
    folder.write(damaged);
    let said = folder
        .trims()
        .keep("pulse", trim(1.0))
        .expect_err("kept")
        .to_string();
    assert!(said.contains("line 2"), "{said}");
    assert_eq!(folder.text(), damaged);
    folder.trims().remove("pulse").expect_err("removed");
    assert_eq!(folder.text(), damaged);
}

#[test]
fn a_folder_that_cannot_be_is_told() {
    let trims = Trims::in_folder(Some(PathBuf::from("/dev/null/nowhere/fifthpeg")));
    let said = trims
        .keep("pulse", trim(1.0))
        .expect_err("kept")
        .to_string();
    assert!(
        said.contains("/dev/null/nowhere/fifthpeg/outputs.toml"),
        "{said}"
    );
    let none = Trims::in_folder(None);
    assert_eq!(none.of("pulse"), Ok(None));
    assert_eq!(none.keep("pulse", trim(1.0)), Err(TrimsError::NoFolder));
}

/// Beside a file that cannot be replaced, here because a folder has its name, no
/// half-written one is left.
#[test]
fn nothing_is_left_beside_a_file_that_cannot_be_replaced() {
    let folder = Folder::new("replaced");
    let trims = folder.trims();
    std::fs::create_dir_all(folder.file().join("in-the-way")).expect("a folder");
    assert!(matches!(
        trims.keep("pulse", trim(1.0)),
        Err(TrimsError::Unreadable { .. })
    ));
    let document = HEAD.parse().expect("a document");
    assert!(matches!(
        write(&folder.file(), &document),
        Err(TrimsError::Unwritable { .. })
    ));
    let left = std::fs::read_dir(folder.0.join("fifthpeg"))
        .expect("a folder")
        .count();
    assert_eq!(left, 1);
}
