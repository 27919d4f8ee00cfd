//! Lines, and a question before what cannot be taken back.

use std::io::BufRead;

use fifthpeg_front::failure::Failure;
use fifthpeg_front::out;

pub use fifthpeg_front::out::say;
pub use fifthpeg_front::wrap::columns;

/// Asks; true for `yes`. Without anybody there to answer it is a failure, so
/// that no script goes on as if it had been done.
pub fn sure(yes: bool, question: &str) -> Result<bool, Failure> {
    if yes {
        return Ok(true);
    }
    out::ask(&format!(
        "{question} Type yes, or anything else to leave it:"
    ));
    let mut answer = String::new();
    let read = std::io::stdin().lock().read_line(&mut answer);
    if !matches!(read, Ok(1..)) {
        say(&[""])?;
        return Err(Failure::usage(
            "nobody answered, so nothing was changed: answer yes, or add --yes",
        ));
    }
    if answer.trim().eq_ignore_ascii_case("yes") {
        return Ok(true);
    }
    say(&["nothing was changed".to_owned()])?;
    Ok(false)
}
