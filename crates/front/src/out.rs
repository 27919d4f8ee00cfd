//! The one way out to standard output and standard error, but for plain mode's
//! lines (`fifthpeg_plain::say`) and the screens: what is said here cannot steer a
//! terminal, whatever a book, a file or a peer had in it.

use std::io::{ErrorKind, IsTerminal, Write};

use fifthpeg_core::text::one_line;

use crate::failure::Failure;
use crate::wrap::hanging;

/// Whether standard output is a terminal.
pub fn is_terminal() -> bool {
    std::io::stdout().is_terminal()
}

/// Says lines on standard output; on a terminal broken between words where one is
/// longer than the terminal is wide. What is to be copied is for [`document`].
///
/// # Errors
/// One sentence when they cannot be written. Whoever read along and has read
/// enough is no trouble.
pub fn say(lines: &[impl AsRef<str>]) -> Result<(), Failure> {
    let columns = is_terminal()
        .then(crossterm::terminal::size)
        .and_then(Result::ok)
        // Some terminals do not know how wide they are.
        .filter(|(columns, _)| *columns >= 20)
        .map_or(usize::MAX, |(columns, _)| usize::from(columns));
    let lines = lines.iter().map(|line| one_line(line.as_ref()));
    write_lines(lines.flat_map(|line| hanging(&line, columns)))
}

fn write_lines(lines: impl Iterator<Item = String>) -> Result<(), Failure> {
    let mut text = String::new();
    for line in lines {
        text.push_str(&line);
        text.push('\n');
    }
    write(text.as_bytes())
}

/// Gives out what was made, as it is: a page, a drawing, a command. On a terminal
/// nothing in it steers that.
///
/// # Errors
/// As [`say`].
pub fn document(made: &str) -> Result<(), Failure> {
    if is_terminal() {
        return write_lines(made.lines().map(one_line));
    }
    write(made.as_bytes())
}

fn write(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        // Whoever read along has read enough.
        Err(why) if why.kind() == ErrorKind::BrokenPipe => Ok(()),
        Err(why) => Err(Failure::runtime(why).told(|why| {
            format!("what was made could not be written ({why}): make room where it goes")
        })),
        Ok(()) => Ok(()),
    }
}

/// Asks on standard output, without a new line.
pub fn ask(question: &str) {
    let mut out = std::io::stdout().lock();
    // Nobody there to ask is noticed by the answer that does not come.
    let _ = write!(out, "{} ", one_line(question));
    let _ = out.flush();
}

/// A line on standard error. Nobody listening is no trouble.
pub fn note(sentence: &str) {
    let _ = writeln!(std::io::stderr(), "{}", one_line(sentence));
}

/// How far something is, on standard error: over the line before where that is
/// a terminal, else on a line of its own.
pub fn progress(line: &str, over: bool) {
    let mut err = std::io::stderr().lock();
    let line = one_line(line);
    let _ = if over {
        write!(err, "\r{line}")
    } else {
        writeln!(err, "{line}")
    };
    let _ = err.flush();
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    /// All that is built on this crate, and the crate itself.
    const FRONTS: [&str; 7] = [
        "cli", "front", "listen", "plain", "practice", "report", "screen",
    ];

    /// Files that may speak for themselves: this one, plain mode's lines, and
    /// the terminal that screens are drawn on.
    const SPEAK: [&str; 3] = [
        "front/src/out.rs",
        "plain/src/say.rs",
        "screen/src/guard.rs",
    ];

    fn look(folder: &Path, root: &Path, found: &mut Vec<String>) {
        for entry in std::fs::read_dir(folder).expect("the sources") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                look(&path, root, found);
                continue;
            }
            let name = path.strip_prefix(root).expect("below it").to_string_lossy();
            if SPEAK.contains(&name.as_ref()) {
                continue;
            }
            let text = std::fs::read_to_string(&path).expect("a source");
            let text = text.replace("Say::stdout()", "");
            let outs = ["stdout()", "println!", "print!(", "eprint"];
            let writes = |line: &&str| {
                outs.iter().any(|out| line.contains(out))
                    || (line.contains("stderr()") && !line.contains("is_terminal"))
            };
            found.extend(
                text.lines()
                    .filter(writes)
                    .map(|line| format!("{name}: {line}")),
            );
        }
    }

    /// Nothing is said past this module, so that nobody has to remember.
    #[test]
    fn everything_that_is_said_goes_through_here() {
        let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
        let mut found = Vec::new();
        for front in FRONTS {
            look(&crates.join(front).join("src"), &crates, &mut found);
        }
        assert!(found.is_empty(), "{}", found.join("\n"));
    }
}
