//! A test that cannot run says so where everybody sees it, and fails where
//! everything is required.

use std::process::{Command, Output};

const CHILD: &str = "FIFTHPEG_TEST_SKIPS";

#[test]
fn a_test_that_skips() {
    if std::env::var_os(CHILD).is_some() {
        fifthpeg_tests::skip("this test\nalways skips");
    }
}

fn child(require_all: &str) -> Output {
    // The harness keeps back what a passing test prints, as it does for
    // everyone who runs the tests.
    Command::new(std::env::current_exe().expect("the test's own path"))
        .args(["--exact", "a_test_that_skips", "--test-threads=1"])
        .env(CHILD, "1")
        .env("FIFTHPEG_REQUIRE_ALL", require_all)
        .output()
        .expect("the test runs")
}

#[test]
fn the_reason_stands_on_a_line_of_its_own_though_the_test_passes() {
    let out = child("0");
    assert!(out.status.success(), "{out:?}");
    let errors = String::from_utf8_lossy(&out.stderr).into_owned();
    let said: Vec<&str> = errors.lines().filter(|line| !line.is_empty()).collect();
    assert_eq!(said, ["SKIPPED: this test always skips"]);
}

#[test]
fn where_everything_is_required_it_fails_with_the_reason() {
    let out = child("1");
    assert_eq!(out.status.code(), Some(101), "{out:?}");
    let said = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(
        said.contains("everything is required here, but this test"),
        "{said}"
    );
}
