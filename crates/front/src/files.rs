//! Reading a file that somebody names, with a bound and a clear sentence.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use crate::failure::Failure;

/// The text of a file of at most `most_bytes`.
///
/// # Errors
/// When it cannot be opened, is too large, or is not text.
pub fn read_text(path: &Path, most_bytes: u64) -> Result<String, Failure> {
    let shown = path.display();
    let cannot = |why: std::io::Error| {
        let reason = reason(&why);
        Failure::usage(why).told(|_| {
            format!("{shown} cannot be read ({reason}): give the path of a text file that is there")
        })
    };
    let mut bytes = Vec::new();
    File::open(path)
        .map_err(cannot)?
        .take(most_bytes + 1)
        .read_to_end(&mut bytes)
        .map_err(cannot)?;
    if bytes.len() as u64 > most_bytes {
        return Err(Failure::usage(format!(
            "{shown} is larger than {most_bytes} bytes: give a shorter file"
        )));
    }
    String::from_utf8(bytes).map_err(|why| {
        let tell =
            |_: &str| format!("{shown} is not UTF-8 text: save it as plain text and try again");
        Failure::usage(why).told(tell)
    })
}

/// The reason in words, without the operating system's number.
fn reason(error: &std::io::Error) -> String {
    use std::io::ErrorKind;
    match error.kind() {
        ErrorKind::NotFound => "there is no such file".to_owned(),
        ErrorKind::PermissionDenied => "it may not be opened".to_owned(),
        ErrorKind::IsADirectory => "it is a folder".to_owned(),
        _ => error.to_string(),
    }
}
