//! Every target takes its corpus, and bytes without sense.

use std::path::{Path, PathBuf};

use fifthpeg_targets::{TARGETS, Target};

/// What the corpora may take up in the repository, in bytes.
const MOST_BYTES: u64 = 200_000;

fn corpus(target: &Target) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("corpus")
        .join(target.name);
    let mut files: Vec<_> = std::fs::read_dir(&folder)
        .unwrap_or_else(|e| panic!("{}: {e}", folder.display()))
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    files
}

#[test]
fn every_corpus_passes_and_is_small() {
    let mut bytes_in_all = 0;
    for target in TARGETS {
        let files = corpus(target);
        assert!(!files.is_empty(), "{} has no corpus", target.name);
        for file in files {
            let bytes = std::fs::read(&file).unwrap();
            bytes_in_all += bytes.len() as u64;
            (target.run)(&bytes);
        }
    }
    assert!(bytes_in_all <= MOST_BYTES, "{bytes_in_all} bytes");
}

#[test]
fn bytes_without_sense_pass() {
    // A linear congruence (Knuth's MMIX) is chance enough here.
    let mut state = 1_u64;
    let mut next = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 56) as u8
    };
    for target in TARGETS {
        for length in [0, 1, 2, 7, 30, 120, target.longest] {
            let bytes: Vec<u8> = (0..length).map(|_| next()).collect();
            (target.run)(&bytes);
        }
    }
}
