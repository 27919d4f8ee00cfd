//! The protocol page cannot drift from the types: it is made here from the very
//! text that defines them, and the test compares. To make it anew after a
//! change: `FIFTHPEG_WRITE_PROTOCOL=1 cargo test -p fifthpeg-wire protocol_page`.

use std::path::Path;

use fifthpeg_vocab::*;
use quote::ToTokens;

use crate::*;
use examples::{examples, hex};

mod examples;

/// What stands before the tables; the rest of the page is made.
const OPENING: &str = include_str!("page_opening.md");

/// Where the types are written, from the folder of crates.
const SOURCES: [&str; 11] = [
    "wire/src/hello.rs",
    "wire/src/lock.rs",
    "wire/src/frames.rs",
    "vocab/src/message.rs",
    "vocab/src/rules.rs",
    "vocab/src/choices.rs",
    "vocab/src/mark.rs",
    "vocab/src/sung.rs",
    "vocab/src/tally.rs",
    "vocab/src/refusal.rs",
    "core/src/neck.rs",
];

/// Every type that travels, in the order of the page.
const TYPES: [&str; 36] = [
    "Hello",
    "HelloReply",
    "UpdateSide",
    "LockAsk",
    "LockReply",
    "ClientFrame",
    "FromStudent",
    "AnswerNotice",
    "HostFrame",
    "KeyOffer",
    "Hall",
    "HallCall",
    "ToStudent",
    "Welcome",
    "LastCall",
    "Rules",
    "Mode",
    "Marking",
    "Telling",
    "Sounding",
    "Voice",
    "NeckDescription",
    "NeckString",
    "Capo",
    "CallNotice",
    "HeldMark",
    "Tone",
    "Answer",
    "Source",
    "Mark",
    "Miss",
    "MissKind",
    "Side",
    "SungMark",
    "Tally",
    "Progress",
];

/// What travels as something plainer; the page's opening says so too.
pub const PLAIN: [(&str, &str); 9] = [
    ("StudentId", "u32"),
    ("CallId", "u32"),
    ("SeatKey", "u128"),
    ("Moment", "u64"),
    ("Duration", "u64"),
    ("Pitch", "u8"),
    ("PitchClass", "u8"),
    ("Position", "(u8, u8)"),
    ("ReachSpec", "String"),
];

/// One field of a record or variant.
#[derive(Debug, Clone)]
pub struct Field {
    /// Its name, empty where it has none.
    pub name: String,
    /// Its type, without blanks.
    pub kind: String,
    doc: String,
    /// The name of its limit.
    bound: Option<String>,
}

/// One variant of a choice, its tag being its place.
#[derive(Debug, Clone)]
pub struct Variant {
    name: String,
    doc: String,
    /// Its fields.
    pub fields: Vec<Field>,
}

/// One type.
#[derive(Debug, Clone)]
pub struct Type {
    /// Its name.
    pub name: String,
    doc: String,
    /// The fields of a record.
    pub fields: Vec<Field>,
    /// The variants of a choice.
    pub variants: Vec<Variant>,
}

/// Every type that travels, as its text says.
pub fn types() -> Vec<Type> {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut found = Vec::new();
    for source in SOURCES {
        let text = std::fs::read_to_string(crates.join(source)).expect("the source is there");
        let file = syn::parse_file(&text).expect("it is Rust");
        for item in file.items {
            match item {
                syn::Item::Struct(item) => found.push(Type {
                    name: item.ident.to_string(),
                    doc: doc(&item.attrs),
                    fields: fields(&item.fields),
                    variants: Vec::new(),
                }),
                syn::Item::Enum(item) => found.push(Type {
                    name: item.ident.to_string(),
                    doc: doc(&item.attrs),
                    fields: Vec::new(),
                    variants: item.variants.iter().map(variant).collect(),
                }),
                _ => {}
            }
        }
    }
    let named = |name: &&str| found.iter().find(|t| t.name == **name).cloned();
    let names = TYPES.iter().chain(&["Refusal"]);
    names
        .map(|name| named(name).unwrap_or_else(|| panic!("{name} is in no source")))
        .collect()
}

fn variant(variant: &syn::Variant) -> Variant {
    Variant {
        name: variant.ident.to_string(),
        doc: doc(&variant.attrs),
        fields: fields(&variant.fields),
    }
}

fn fields(fields: &syn::Fields) -> Vec<Field> {
    let field = |field: &syn::Field| Field {
        name: field
            .ident
            .as_ref()
            .map(ToString::to_string)
            .unwrap_or_default(),
        kind: field.ty.to_token_stream().to_string().replace(' ', ""),
        doc: doc(&field.attrs),
        bound: bound_of(&field.attrs),
    };
    fields.iter().map(field).collect()
}

fn doc(attrs: &[syn::Attribute]) -> String {
    let line = |attr: &syn::Attribute| match &attr.meta {
        syn::Meta::NameValue(pair) if pair.path.is_ident("doc") => match &pair.value {
            syn::Expr::Lit(syn::ExprLit {
                lit: syn::Lit::Str(text),
                ..
            }) => Some(text.value().trim().to_owned()),
            _ => None,
        },
        _ => None,
    };
    let lines: Vec<String> = attrs.iter().filter_map(line).collect();
    // Links are for who reads the code.
    let text = lines.join(" ").replace("[`", "`").replace("`]", "`");
    text.replace("ToStudent::", "")
}

/// The limit that a field's `#[serde(with = ...)]` names.
fn bound_of(attrs: &[syn::Attribute]) -> Option<String> {
    let serde = attrs.iter().find(|a| a.path().is_ident("serde"))?;
    let text = serde.meta.to_token_stream().to_string().replace(' ', "");
    let with = text.split('"').nth(1)?;
    Some(match with {
        "Sentence" => "Text".to_owned(),
        "crate::written::reach" => "ReachText".to_owned(),
        "crate::written::friends" => "Friends".to_owned(),
        _ => with.split_once("::<")?.1.trim_end_matches('>').to_owned(),
    })
}

fn limit_of(bound: &str) -> Option<Limit> {
    use fifthpeg_core::neck::{Course, NeckName, Strings};
    use fifthpeg_vocab::written::{Friends, Held, Marks, Name, Places, ReachText, Text};
    Some(match bound {
        "ProgramBytes" => ProgramBytes::LIMIT,
        "Name" => Name::LIMIT,
        "Text" => Text::LIMIT,
        "ReachText" => ReachText::LIMIT,
        "NeckName" => NeckName::LIMIT,
        "Strings" => Strings::LIMIT,
        "Course" => Course::LIMIT,
        "Places" => Places::LIMIT,
        "Marks" => Marks::LIMIT,
        "Held" => Held::LIMIT,
        "Friends" => Friends::LIMIT,
        "Shares" => Shares::LIMIT,
        _ => return None,
    })
}

/// A choice's table: tag, word, meaning.
pub fn choice_rows(name: &str) -> Option<Vec<(u32, &'static str, &'static str)>> {
    fn rows<C: Choice>() -> Option<Vec<(u32, &'static str, &'static str)>> {
        Some(C::ALL.iter().map(|r| (r.tag, r.word, r.meaning)).collect())
    }
    match name {
        "Mode" => rows::<Mode>(),
        "Marking" => rows::<Marking>(),
        "Telling" => rows::<Telling>(),
        "Sounding" => rows::<Sounding>(),
        "Voice" => rows::<Voice>(),
        "Source" => rows::<Source>(),
        "Side" => rows::<Side>(),
        "Progress" => rows::<Progress>(),
        _ => None,
    }
}

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
fn every_list_and_text_has_a_limit() {
    for t in types() {
        let in_variants = t.variants.iter().flat_map(|v| &v.fields);
        for field in t.fields.iter().chain(in_variants) {
            let lengths = ["Vec", "String", "ReachSpec"];
            let has_length = lengths.iter().any(|kind| field.kind.contains(kind));
            let limit = field.bound.as_deref().and_then(limit_of);
            assert_eq!(has_length, limit.is_some(), "{}.{}", t.name, field.name);
            assert!(limit.is_none_or(|limit| LIMITS.contains(&limit)));
        }
    }
}

#[test]
fn every_choice_s_tags_count_from_nought_in_the_order_of_its_type() {
    for t in types() {
        let Some(rows) = choice_rows(&t.name) else {
            continue;
        };
        let tags: Vec<u32> = rows.iter().map(|(tag, ..)| *tag).collect();
        let expected: Vec<u32> = (0..).take(t.variants.len()).collect();
        assert_eq!(tags, expected, "{}", t.name);
    }
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
    for limit in LIMITS {
        line(&format!("| {} | {} |", limit.most, limit.of));
    }
    line("\n## Types");
    for t in types() {
        line(&format!("\n### {}\n\n{}", t.name, t.doc));
        if let Some(rows) = choice_rows(&t.name) {
            line("\n| tag | word | meaning |\n|---:|---|---|");
            for (tag, word, meaning) in rows {
                line(&format!("| {tag} | `{word}` | {meaning} |"));
            }
            continue;
        }
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
                    let name = match f.name.as_str() {
                        "" => String::new(),
                        name => format!("`{name}`"),
                    };
                    line(&format!("| | | {name} | {} | {} |", kind(f), f.doc));
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

fn kind(f: &Field) -> String {
    let bound = match f.bound.as_deref().and_then(limit_of) {
        Some(limit) if limit.of.starts_with("bytes") => format!(", at most {} bytes", limit.most),
        Some(limit) => format!(", at most {}", limit.most),
        None => String::new(),
    };
    // A box is a matter of this program's memory, not of the wire.
    let written = f
        .kind
        .replace("Box<Welcome>", "Welcome")
        .replace("Box<Rules>", "Rules");
    format!("`{written}`{bound}")
}
