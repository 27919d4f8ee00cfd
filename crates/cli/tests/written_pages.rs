//! The project's pages, held against the program: what they tell people to type is understood, and where they
//! lead there is something.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use clap::Parser;
use clap::error::ErrorKind;
use pulldown_cmark::{
    CodeBlockKind, Event, HeadingLevel, Options, Parser as Markdown, Tag, TagEnd,
};

use fifthpeg_cli::args::Cli;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// Every page of the project, with its text.
fn pages() -> Vec<(PathBuf, String)> {
    let folders = ["", "docs", "crates/wire", "crates/plain"];
    let entries = folders.iter().flat_map(|folder| {
        let folder = root().join(folder);
        std::fs::read_dir(&folder).unwrap_or_else(|why| panic!("{}: {why}", folder.display()))
    });
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let paths = paths.filter(|path| path.extension().is_some_and(|ending| ending == "md"));
    let read = |path: PathBuf| {
        let text = std::fs::read_to_string(&path).expect("a page");
        (path, text)
    };
    paths.map(read).collect()
}

/// What a page has for whoever leads or types: links, anchors of headings, commands of shell blocks.
#[derive(Default)]
struct Found {
    links: Vec<String>,
    anchors: BTreeSet<String>,
    commands: Vec<String>,
}

fn look_through(text: &str) -> Found {
    let mut found = Found::default();
    let (mut heading, mut shell) = (None, false);
    for event in Markdown::new_ext(text, Options::ENABLE_TABLES) {
        match event {
            Event::Start(Tag::Link { dest_url, .. }) => found.links.push(dest_url.into_string()),
            Event::Start(Tag::Heading { level, .. }) if level <= HeadingLevel::H6 => {
                heading = Some(String::new());
            }
            Event::End(TagEnd::Heading(_)) => {
                found
                    .anchors
                    .extend(heading.take().map(|words| anchor(&words)));
            }
            Event::Start(Tag::CodeBlock(CodeBlockKind::Fenced(of))) => shell = &*of == "sh",
            Event::End(TagEnd::CodeBlock) => shell = false,
            Event::Text(words) if shell => {
                let lines = words.lines().map(str::trim);
                let ours = lines.filter(|line| line.starts_with("fifthpeg "));
                found.commands.extend(ours.map(str::to_owned));
            }
            Event::Code(words) => {
                // One that names what is to be put in is no command yet.
                let whole = words.starts_with("fifthpeg ") && !words.split(' ').any(is_a_stand_in);
                found.commands.extend(whole.then(|| words.to_string()));
                if let Some(heading) = &mut heading {
                    heading.push_str(&words);
                }
            }
            Event::Text(words) => {
                if let Some(heading) = &mut heading {
                    heading.push_str(&words);
                }
            }
            _ => {}
        }
    }
    found
}

fn is_a_stand_in(word: &str) -> bool {
    word.len() > 1 && word.chars().all(|sign| sign.is_ascii_uppercase())
}

/// The name by which pages on the web lead to a heading.
fn anchor(heading: &str) -> String {
    let kept = heading
        .chars()
        .filter(|sign| sign.is_alphanumeric() || " -_".contains(*sign));
    kept.map(|sign| {
        if sign == ' ' {
            '-'
        } else {
            sign.to_ascii_lowercase()
        }
    })
    .collect()
}

#[test]
fn every_link_between_pages_leads_somewhere() {
    let mut looked_at = 0;
    for (path, text) in pages() {
        for link in look_through(&text).links {
            if link.contains("://") {
                continue;
            }
            let (file, part) = link.split_once('#').unwrap_or((&link, ""));
            let target = if file.is_empty() {
                path.clone()
            } else {
                path.with_file_name(file)
            };
            assert!(target.exists(), "{}: {link} leads nowhere", path.display());
            if !part.is_empty() {
                let text = std::fs::read_to_string(&target).expect("a page");
                let there = look_through(&text).anchors.contains(part);
                assert!(there, "{}: {link}: no such heading", path.display());
            }
            looked_at += 1;
        }
    }
    assert!(looked_at > 30, "{looked_at} links were found");
}

#[test]
fn every_command_that_a_page_tells_is_understood() {
    let (mut tried, mut wrong) = (0, Vec::new());
    for (path, text) in pages() {
        // There the program's name begins labels of keys.
        if path.ends_with("PROTOCOL.md") {
            continue;
        }
        for command in look_through(&text).commands {
            // Without what a shell takes for itself.
            let typed = command.split(" #").next().unwrap_or_default();
            let typed = typed.split(" > ").next().unwrap_or_default();
            let words = shell_words::split(typed).expect("words of a shell");
            match Cli::try_parse_from(&words) {
                Ok(_) => {}
                // Help and version are answers, and a command that wants more is mentioned by its name.
                Err(why) if !why.use_stderr() || wants_more(why.kind()) => {}
                Err(why) => wrong.push(format!("{}: {command}: {why}", path.display())),
            }
            tried += 1;
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(tried > 40, "{tried} commands were found");
}

fn wants_more(kind: ErrorKind) -> bool {
    use ErrorKind::{
        DisplayHelpOnMissingArgumentOrSubcommand, MissingRequiredArgument, MissingSubcommand,
    };
    matches!(
        kind,
        MissingRequiredArgument | MissingSubcommand | DisplayHelpOnMissingArgumentOrSubcommand
    )
}

/// The first page is for somebody who has no time.
#[test]
fn the_readme_is_short() {
    let text = std::fs::read_to_string(root().join("README.md")).expect("README.md");
    assert!(
        text.lines().count() <= 130,
        "README.md has grown beyond 130 lines"
    );
}

/// What people write, without tables, and without what a program draws.
fn written_lines(text: &str) -> usize {
    let mut made = false;
    let mut lines = 0;
    for line in text.lines() {
        made |= line.starts_with("<!-- screen:") || line.starts_with("<!-- record:");
        lines += usize::from(!made && !line.starts_with('|'));
        made &= line != "```";
    }
    lines
}

/// One person has to be able to hold them all.
#[test]
fn the_pages_together_are_short() {
    const MOST: usize = 858;
    let by_hand = |(path, _): &(PathBuf, String)| {
        let in_docs = path.parent().is_some_and(|at| at.ends_with("docs"));
        let names = ["README.md", "DEVELOPERS.md"];
        let named = names.iter().any(|name| path.ends_with(name));
        (in_docs && !path.ends_with("limits.md")) || named
    };
    let lines: Vec<(PathBuf, usize)> = pages()
        .into_iter()
        .filter(by_hand)
        .map(|(path, text)| (path, written_lines(&text)))
        .collect();
    assert!(lines.len() > 8, "{lines:?}");
    let together: usize = lines.iter().map(|(_, lines)| lines).sum();
    assert!(together <= MOST, "{together} lines in all: {lines:?}");
}
