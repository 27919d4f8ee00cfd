//! The bytes are checked against wincode, an implementation of the same
//! encoding that shares no code with bincode or serde: with the protocol page in
//! hand it reads every frame to its end, and writes the same.
//!
//! Source: wincode 0.6 (crates.io), default configuration, which its
//! documentation gives as fixed-width little-endian integers, `u64` lengths and
//! `u32` tags.

use std::collections::BTreeSet;

use wincode::{SchemaRead, SchemaWrite};

use crate::page::{Field, PLAIN, Type, choice_rows, types};
use crate::samples::{client_frames, hello_replies, host_frames, lock_asks, lock_replies};
use crate::*;

/// Reads bytes by the page.
struct Reader<'b> {
    types: &'b [Type],
    rest: &'b [u8],
    /// What wincode writes of what it has read.
    again: Vec<u8>,
    /// Every tag met, by the name of its choice.
    met: &'b mut BTreeSet<(String, u32)>,
}

impl Reader<'_> {
    /// One value of a type that wincode knows.
    fn value<T>(&mut self, bytes: usize) -> T
    where
        T: for<'de> SchemaRead<'de, wincode::config::DefaultConfig, Dst = T>
            + SchemaWrite<wincode::config::DefaultConfig, Src = T>,
    {
        let (own, rest) = self.rest.split_at(bytes);
        self.rest = rest;
        let value: T = wincode::deserialize(own).expect("wincode reads it");
        self.again
            .extend(wincode::serialize(&value).expect("wincode writes it"));
        value
    }

    fn walk(&mut self, kind: &str) {
        let inner = |outer: &str| Some(kind.strip_prefix(outer)?.strip_suffix('>')?.to_owned());
        if let Some((_, plain)) = PLAIN.iter().find(|(name, _)| *name == kind) {
            self.walk(&plain.replace(' ', ""));
        } else if let Some(boxed) = inner("Box<") {
            self.walk(&boxed);
        } else if let Some(maybe) = inner("Option<") {
            if self.value::<u8>(1) == 1 {
                self.walk(&maybe);
            }
        } else if let Some(element) = inner("Vec<") {
            for _ in 0..self.value::<u64>(8) {
                self.walk(&element);
            }
        } else if let Some(pair) = kind.strip_prefix('(').and_then(|k| k.strip_suffix(')')) {
            let (first, second) = pair.split_once(',').expect("two");
            self.walk(first);
            self.walk(second);
        } else if let Some(count) = kind.strip_prefix("[u8;").and_then(|k| k.strip_suffix(']')) {
            for _ in 0..count.parse::<usize>().expect("a number") {
                self.value::<u8>(1);
            }
        } else {
            match kind {
                "u8" => drop(self.value::<u8>(1)),
                "i8" => drop(self.value::<i8>(1)),
                "u16" => drop(self.value::<u16>(2)),
                "u32" => drop(self.value::<u32>(4)),
                "u64" => drop(self.value::<u64>(8)),
                "u128" => drop(self.value::<u128>(16)),
                "f32" => drop(self.value::<f32>(4)),
                "f64" => drop(self.value::<f64>(8)),
                "bool" => drop(self.value::<bool>(1)),
                "String" => {
                    let length: [u8; 8] = self.rest[..8].try_into().expect("eight");
                    self.value::<String>(8 + u64::from_le_bytes(length) as usize);
                }
                named => self.named(named),
            }
        }
    }

    fn named(&mut self, name: &str) {
        let of = self.types.iter().find(|t| t.name == name);
        let of = of.unwrap_or_else(|| panic!("{name} is not on the page"));
        let fields: &[Field] = match of.variants.is_empty() {
            true => &of.fields,
            false => {
                let tag = self.value::<u32>(4);
                self.met.insert((name.to_owned(), tag));
                match choice_rows(name) {
                    Some(rows) => {
                        assert!(rows.iter().any(|row| row.0 == tag), "{name} {tag}");
                        &[]
                    }
                    None => &of.variants[tag as usize].fields,
                }
            }
        };
        for field in fields {
            self.walk(&field.kind);
        }
    }
}

#[test]
fn wincode_reads_every_frame_by_the_page_and_writes_the_same() {
    let types = types();
    let mut met = BTreeSet::new();
    let mut read = |kind: &str, bytes: &[u8]| {
        let mut reader = Reader {
            types: &types,
            rest: bytes,
            again: Vec::new(),
            met: &mut met,
        };
        reader.named(kind);
        assert!(reader.rest.is_empty(), "{kind}: {:?}", reader.rest);
        assert_eq!(reader.again, bytes, "{kind}");
    };
    for frame in client_frames() {
        read("ClientFrame", &encode_client(&frame).unwrap());
    }
    for frame in host_frames() {
        read("HostFrame", &encode_host(&frame).unwrap());
    }
    for ask in lock_asks() {
        read("LockAsk", &encode_lock_ask(&ask).unwrap());
    }
    for reply in lock_replies() {
        read("LockReply", &encode_lock_reply(&reply).unwrap());
    }
    for reply in hello_replies() {
        read("HelloReply", &encode_hello_reply(&reply).unwrap());
    }
    read("Hello", &encode_hello(&Hello::ours("0.1.0")).unwrap());
    // And the samples leave nothing out that can be said.
    for t in &types {
        for tag in (0..).take(t.variants.len()) {
            assert!(met.contains(&(t.name.clone(), tag)), "{} {tag}", t.name);
        }
    }
}

#[test]
fn the_handshake_s_bytes_are_written_down_for_ever() {
    // If this fails, programs of before and after cannot tell their users
    // which of them to update: change the layout back.
    let hello = Hello {
        oldest: 1,
        newest: 2,
        ..Hello::ours("0.1.0")
    };
    let bytes = [
        b"fifthpeg".as_slice(),
        &[1, 0, 2, 0],
        &[5, 0, 0, 0, 0, 0, 0, 0],
        b"0.1.0",
    ]
    .concat();
    assert_eq!(encode_hello(&hello).unwrap(), bytes);

    let outdated = HelloReply::Outdated {
        update: UpdateSide::Student,
        oldest: 3,
        newest: 4,
        program: "9".into(),
    };
    let bytes = [
        1, 0, 0, 0, 1, 0, 0, 0, 3, 0, 4, 0, 1, 0, 0, 0, 0, 0, 0, 0, b'9',
    ];
    assert_eq!(encode_hello_reply(&outdated).unwrap(), bytes);
}

/// The bytes of each kind of frame, as this version of the protocol has them.
const GOLDEN: &str = include_str!("golden-6.txt");

#[test]
fn no_byte_of_this_version_moves() {
    let frames = client_frames().into_iter().map(|f| encode_client(&f));
    let frames = frames.chain(host_frames().into_iter().map(|f| encode_host(&f)));
    let frames = frames.chain(lock_asks().into_iter().map(|f| encode_lock_ask(&f)));
    let frames = frames.chain(lock_replies().into_iter().map(|f| encode_lock_reply(&f)));
    let lines: Vec<String> = frames
        .map(|bytes| bytes.unwrap().iter().map(|b| format!("{b:02x}")).collect())
        .collect();
    if std::env::var_os("FIFTHPEG_WRITE_GOLDEN").is_some() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/golden-6.txt");
        std::fs::write(path, lines.join("\n") + "\n").expect("the file can be written");
    }
    let kept: Vec<&str> = GOLDEN.lines().collect();
    assert_eq!(
        lines, kept,
        "a frame's bytes moved: raise the protocol's version"
    );
}
