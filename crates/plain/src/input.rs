//! Where commands come from: a script first, then standard input.

use std::io::{BufRead, Read};
use std::path::Path;

use fifthpeg_core::Cause;
use fifthpeg_core::text;
use fifthpeg_front::failure::Failure;
use tokio::sync::mpsc;

/// Longest line that is taken, in bytes.
const MAX_LINE_BYTES: u64 = 4096;

/// Largest script, in bytes.
const MAX_SCRIPT_BYTES: u64 = 1 << 20;

/// One line of input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InputLine {
    /// The line, or why it cannot be used.
    pub text: Result<String, String>,
    /// Its number in the script, counted from 1, if it came from one.
    pub script_line: Option<usize>,
}

/// Lines as they come; `None` at the end of all input.
pub struct LineInput {
    script: std::vec::IntoIter<InputLine>,
    stdin: mpsc::Receiver<InputLine>,
}

impl LineInput {
    /// Reads the script, if there is one, and checks every line of it with
    /// `check` before anything starts; then follows standard input.
    ///
    /// # Errors
    /// When the script cannot be read, or a line of it makes no sense.
    pub fn open(
        script: Option<&Path>,
        check: impl Fn(&str) -> Result<(), Cause>,
    ) -> Result<Self, Failure> {
        let lines = match script {
            Some(path) => read_script(path, check)?,
            None => Vec::new(),
        };
        let (sender, stdin) = mpsc::channel(16);
        // A thread of its own, because reading standard input cannot be
        // interrupted; it ends with the program.
        std::thread::spawn(move || follow(std::io::stdin().lock(), &sender));
        Ok(Self {
            script: lines.into_iter(),
            stdin,
        })
    }

    /// The next line.
    pub async fn next(&mut self) -> Option<InputLine> {
        match self.script.next() {
            Some(line) => Some(line),
            None => self.stdin.recv().await,
        }
    }
}

fn read_script(
    path: &Path,
    check: impl Fn(&str) -> Result<(), Cause>,
) -> Result<Vec<InputLine>, Failure> {
    let shown = path.display();
    let text = fifthpeg_front::files::read_text(path, MAX_SCRIPT_BYTES)?;
    let mut lines = Vec::new();
    // Some editors begin a file with a mark of its encoding.
    let text = text.trim_start_matches('\u{feff}');
    for (index, line) in text.lines().enumerate() {
        let number = index + 1;
        check(line).map_err(|why| {
            Failure::usage(why).told(|why| format!("{shown}, line {number}: {why}"))
        })?;
        lines.push(InputLine {
            text: Ok(line.to_owned()),
            script_line: Some(number),
        });
    }
    Ok(lines)
}

fn follow(mut from: impl BufRead, to: &mpsc::Sender<InputLine>) {
    while let Some(text) = read_bounded(&mut from) {
        let line = InputLine {
            text,
            script_line: None,
        };
        if to.blocking_send(line).is_err() {
            return;
        }
    }
}

/// One line of at most [`MAX_LINE_BYTES`]; `None` at the end. The rest of a
/// longer one is skipped, and it is refused.
fn read_bounded(from: &mut impl BufRead) -> Option<Result<String, String>> {
    let mut bytes = Vec::new();
    let read = from
        .by_ref()
        .take(MAX_LINE_BYTES)
        .read_until(b'\n', &mut bytes)
        .ok()?;
    if read == 0 {
        return None;
    }
    if bytes.last() != Some(&b'\n') && bytes.len() as u64 == MAX_LINE_BYTES {
        skip_line(from);
        return Some(Err(format!(
            "that line is longer than {MAX_LINE_BYTES} signs: type a shorter one"
        )));
    }
    while matches!(bytes.last(), Some(b'\n' | b'\r')) {
        bytes.pop();
    }
    Some(String::from_utf8(bytes).map_err(|error| {
        let line = String::from_utf8_lossy(error.as_bytes()).into_owned();
        format!(
            "\"{}\" is not UTF-8 text: type it again in plain letters",
            text::shown(&line)
        )
    }))
}

fn skip_line(from: &mut impl BufRead) {
    loop {
        let (used, done) = match from.fill_buf() {
            Ok([]) | Err(_) => return,
            Ok(buffer) => match buffer.iter().position(|b| *b == b'\n') {
                Some(at) => (at + 1, true),
                None => (buffer.len(), false),
            },
        };
        from.consume(used);
        if done {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_of_a_script_that_makes_no_sense_says_where_and_keeps_what_was_wrong() {
        use std::error::Error;

        let script = std::env::temp_dir().join(format!("fifthpeg-script-{}", std::process::id()));
        std::fs::write(&script, "call\npause soon\n").expect("written");
        let read = read_script(&script, |line| {
            crate::table::read_line(crate::host_lines::host_commands(), line).map(drop)
        });
        std::fs::remove_file(&script).expect("removed");
        let failure = read.expect_err("no number");
        let said = failure.to_string();
        assert!(said.contains(", line 2: \"soon\" is no number"), "{said}");
        let source = failure.source().and_then(|e| e.downcast_ref());
        let wrong: Option<&std::num::ParseFloatError> = source;
        assert!(wrong.is_some(), "{failure:?}");
    }

    #[test]
    fn long_and_broken_lines_are_refused_and_the_next_is_read() {
        let mut input = vec![b'x'; 10_000];
        input.extend_from_slice(b"\ncall\r\n\xff\xfe\nend");
        let mut from = std::io::Cursor::new(input);
        assert!(matches!(read_bounded(&mut from), Some(Err(why)) if why.contains("longer")));
        assert_eq!(read_bounded(&mut from), Some(Ok("call".to_owned())));
        assert!(matches!(read_bounded(&mut from), Some(Err(why)) if why.contains("UTF-8")));
        assert_eq!(read_bounded(&mut from), Some(Ok("end".to_owned())));
        assert_eq!(read_bounded(&mut from), None);
    }
}
