//! The protocol page cannot drift from the types: it is made from them here,
//! and the test compares. To make it anew after a change:
//! `FIFTHPEG_WRITE_PROTOCOL=1 cargo test -p fifthpeg-wire protocol_page`.

use core::fmt::Write as _;
use std::path::Path;

use crate::*;

/// What stands before the tables; the rest of the page is made.
const OPENING: &str = include_str!("page_opening.md");

#[test]
fn the_protocol_page_matches_the_types() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("PROTOCOL.md");
    let made = page();
    if std::env::var_os("FIFTHPEG_WRITE_PROTOCOL").is_some() {
        std::fs::write(&path, &made).expect("the page can be written");
    }
    let kept = std::fs::read_to_string(&path).expect("the page is there");
    assert!(
        kept == made,
        "PROTOCOL.md differs from the types: read the change, raise the protocol version if a \
         frame changed, and write the page anew with FIFTHPEG_WRITE_PROTOCOL=1"
    );
}

#[test]
fn every_type_named_in_a_field_is_on_the_page() {
    let known: Vec<_> = types().iter().map(|t| t.name).collect();
    let plain = [
        "u8", "u16", "u32", "u64", "u128", "i8", "f32", "f64", "bool", "String", "[u8; 8]",
        "[u8; 32]", "[u8;32]",
    ];
    for kind in fields().map(|(_, f)| f.kind) {
        let inner = ["Option<", "Vec<", "Box<"]
            .iter()
            .fold(kind.replace(' ', ""), |k, outer| k.replace(outer, ""))
            .replace('>', "");
        let inner = if kind.starts_with('[') {
            kind.to_owned()
        } else {
            inner
        };
        assert!(
            known.contains(&inner.as_str()) || plain.contains(&inner.as_str()),
            "{kind}"
        );
    }
}

#[test]
fn every_list_and_text_has_a_limit() {
    for (owner, field) in fields() {
        let has_length = field.kind.contains("Vec") || field.kind.contains("String");
        let where_ = format!("{owner}.{}", field.name);
        assert_eq!(has_length, field.bounded_by.is_some(), "{where_}");
        if let Some(with) = field.bounded_by {
            assert!(limit_of(with).is_some(), "{where_}: {with}");
        }
    }
}

fn fields() -> impl Iterator<Item = (&'static str, FieldDoc)> {
    types().into_iter().flat_map(|t| {
        let in_variants = t.variants.into_iter().flat_map(|v| v.fields);
        let all: Vec<_> = t.fields.into_iter().chain(in_variants).collect();
        all.into_iter().map(move |f| (t.name, f))
    })
}

fn limit_of(with: &str) -> Option<Limit> {
    Some(match with.strip_prefix("crate::bounded::")? {
        "program" => Limit::ProgramBytes,
        "name" | "maybe_name" => Limit::NameBytes,
        "text" => Limit::TextBytes,
        "reach" => Limit::ReachBytes,
        "strings" => Limit::Strings,
        "course" => Limit::Course,
        "places" => Limit::Places,
        "marks" => Limit::Marks,
        "held" => Limit::Held,
        "progress" => Limit::Progress,
        "shares" => Limit::Shares,
        _ => return None,
    })
}

fn page() -> String {
    let mut out = String::from(OPENING);
    let mut line = |text: &str| {
        out.push_str(text);
        out.push('\n');
    };
    line(&format!(
        "\n## Versions\n\nThis program speaks the protocol versions {PROTOCOL_OLDEST} to {PROTOCOL_NEWEST}."
    ));
    line("\n## Limits\n\n| at most | of what |\n|---:|---|");
    for limit in Limit::ALL {
        line(&format!("| {} | {} |", limit.most(), limit.of()));
    }
    line("\n## Types");
    for t in types() {
        line(&format!("\n### {}\n\n{}", t.name, t.doc));
        if !t.fields.is_empty() {
            line("\n| field | type | meaning |\n|---|---|---|");
            for f in &t.fields {
                line(&format!("| `{}` | {} | {} |", f.name, kind(f), f.doc));
            }
        }
        if !t.variants.is_empty() {
            line("\n| tag | variant | field | type | meaning |\n|---:|---|---|---|---|");
            for (tag, v) in t.variants.iter().enumerate() {
                line(&format!("| {tag} | `{}` | | | {} |", v.name, v.doc));
                for f in &v.fields {
                    line(&format!("| | | `{}` | {} | {} |", f.name, kind(f), f.doc));
                }
            }
        }
    }
    line("\n## Examples\n\nEach frame's bytes in hexadecimal, split as the fields are.");
    for (what, bytes, split) in examples() {
        line(&format!(
            "\n{what}\n\n```text\n{}\n```",
            hex(&bytes, &split)
        ));
    }
    out
}

fn kind(f: &FieldDoc) -> String {
    let limit = f.bounded_by.and_then(limit_of);
    let bound = match limit {
        Some(limit) if f.kind.contains("String") => format!(", at most {} bytes", limit.most()),
        Some(limit) => format!(", at most {}", limit.most()),
        None => String::new(),
    };
    // A box is a matter of this program's memory, not of the wire.
    let written = f
        .kind
        .replace("Box<Welcome>", "Welcome")
        .replace("Box<Rules>", "Rules");
    format!("`{written}`{bound}")
}

/// Bytes in groups of these lengths.
fn hex(bytes: &[u8], split: &[usize]) -> String {
    assert_eq!(
        split.iter().sum::<usize>(),
        bytes.len(),
        "the split covers the bytes"
    );
    let mut out = String::new();
    let mut rest = bytes;
    for &n in split {
        let (group, after) = rest.split_at(n);
        rest = after;
        if !out.is_empty() {
            out.push_str("  ");
        }
        for (i, b) in group.iter().enumerate() {
            let space = if i == 0 { "" } else { " " };
            let _ = write!(out, "{space}{b:02x}");
        }
    }
    out
}

/// Examples with the lengths of their fields.
fn examples() -> Vec<(&'static str, Vec<u8>, Vec<usize>)> {
    let client = |f: ClientFrame| encode_client(&f).unwrap();
    let host = |f: HostFrame| encode_host(&f).unwrap();
    vec![
        (
            "`Hello` of a student, program 0.1.0: magic, oldest, newest, \
             length and letters of the program version.",
            encode_hello(&Hello::ours("0.1.0")).unwrap(),
            vec![8, 2, 2, 8, 5],
        ),
        (
            "`HelloReply::Ready`: tag, version, length and letters of the program version.",
            encode_hello_reply(&HelloReply::Ready {
                version: 5,
                program: "0.1.0".into(),
            })
            .unwrap(),
            vec![4, 2, 8, 5],
        ),
        (
            "`HelloReply::Outdated`, the student is to update: tag, side, oldest, newest, length \
             and letters of the program version.",
            encode_hello_reply(&HelloReply::Outdated {
                update: UpdateSide::Student,
                oldest: 4,
                newest: 5,
                program: "0.4.0".into(),
            })
            .unwrap(),
            vec![4, 4, 2, 2, 8, 5],
        ),
        (
            "`HelloReply::Locked`: tag, length and letters of the program version.",
            encode_hello_reply(&HelloReply::Locked {
                program: "0.1.0".into(),
            })
            .unwrap(),
            vec![4, 8, 5],
        ),
        (
            "`LockReply::Lesson`: tag, length and letters of the name.",
            encode_lock_reply(&LockReply::Lesson {
                name: "Hall".into(),
            })
            .unwrap(),
            vec![4, 8, 4],
        ),
        (
            "`LockAsk::Passphrase`: tag, element (here 0 to 31).",
            encode_lock_ask(&LockAsk::Passphrase {
                element: core::array::from_fn(|at| u8::try_from(at).expect("below 32")),
            })
            .unwrap(),
            vec![4, 32],
        ),
        (
            "`LockReply::Wait` of 20 s: tag, seconds.",
            encode_lock_reply(&LockReply::Wait { seconds: 20 }).unwrap(),
            vec![4, 4],
        ),
        (
            "`LockReply::Line`: tag, 18 zero bits, at most 25 s.",
            encode_lock_reply(&LockReply::Line {
                zero_bits: 18,
                seconds: 25,
            })
            .unwrap(),
            vec![4, 1, 4],
        ),
        (
            "`LockAsk::Work` with two shares: tag, how many, shares.",
            encode_lock_ask(&LockAsk::Work {
                shares: vec![7, 258],
            })
            .unwrap(),
            vec![4, 8, 8, 8],
        ),
        (
            "`ClientFrame::Join` of Ada, without a key: tag, length and letters of the name, no key, \
             a new one.",
            client(ClientFrame::Join {
                name: "Ada".into(),
                key: None,
                new_key: 0x0102_0304_0506_0708_090a_0b0c_0d0e_0f10,
            }),
            vec![4, 8, 3, 1, 16],
        ),
        (
            "`ClientFrame::ClockAsk` at 1 s: tag, microseconds.",
            client(ClientFrame::ClockAsk { t1_us: 1_000_000 }),
            vec![4, 8],
        ),
        (
            "`ClientFrame::Answer` to call 3, the first: string 1 fret 4, after 2.5 s, give or take \
             83 ms: tag, call, serial, tag of the place, string, fret, from the screen, \
             response there, microseconds, uncertainty.",
            client(ClientFrame::Answer {
                call: 3,
                serial: 1,
                answer: Answer::Place {
                    place: Place { string: 1, fret: 4 },
                },
                source: Source::Screen,
                response_us: Some(2_500_000),
                uncertainty_us: 83_000,
            }),
            vec![4, 4, 4, 4, 1, 1, 4, 1, 8, 8],
        ),
        (
            "`HostFrame::Call` number 3 of a tone of 440 Hz, banjo, seed 7, starting at 12 s: tag, \
             call, tone there, hertz, voice, seed, start, not on asking, not you, no caller, no \
             answers held, not found, no target told, none held to be named.",
            host(HostFrame::Call {
                notice: CallNotice {
                    call: 3,
                    tone: Some(Tone {
                        frequency_hz: 440.0,
                        voice: Voice::Banjo,
                        pluck_seed: 7,
                    }),
                    start_us: 12_000_000,
                    on_asking: false,
                    you_call: false,
                    caller: None,
                    answers_held: 0,
                    found: false,
                    target: None,
                    held: Vec::new(),
                },
            }),
            vec![4, 4, 1, 8, 4, 4, 8, 1, 1, 1, 4, 1, 1, 8],
        ),
        (
            "`HostFrame::Marked`: call 3, serial 1, missed by a semitone, low; no calls closed, \
             two tries, no median yet: tag, call, serial, tag of the mark, kind there, kind, side \
             there, side, seven counts, no median.",
            host(HostFrame::Marked {
                call: 3,
                serial: 1,
                mark: Mark::Missed {
                    kind: Some(MissKind::Neighbour),
                    side: Some(Side::Low),
                },
                tally: Tally {
                    calls: 0,
                    found: 0,
                    found_first: 0,
                    hearings: 0,
                    tries: 2,
                    played: 0,
                    sung: 0,
                    median_us: None,
                },
            }),
            vec![4, 4, 4, 4, 1, 4, 1, 4, 4, 4, 4, 4, 4, 4, 4, 1],
        ),
        (
            "`HostFrame::Reveal` of call 3, F#4 (MIDI 66) at 1/4 and 2/7, one mark, right: tag, call, \
             MIDI number, count of places, each string and fret, count of marks, serial, mark.",
            host(HostFrame::Reveal {
                call: 3,
                midi: 66,
                places: vec![Place { string: 1, fret: 4 }, Place { string: 2, fret: 7 }],
                marks: vec![NumberedMark {
                    serial: 1,
                    mark: Mark::Right,
                }],
            }),
            vec![4, 4, 1, 8, 1, 1, 1, 1, 8, 4, 4],
        ),
    ]
}
