//! `fifthpeg check`: one machine before a class, a line for each thing that a lesson
//! needs, with what to do. What is said names nobody: no devices, files or machines by
//! name, and of addresses only those that mean nothing outside the room.

mod firewall;
mod network;
mod sound;
mod storage;

use fifthpeg_core::text::plain_json;
use fifthpeg_front::failure::Failure;
use fifthpeg_front::out;
use serde_json::json;

use crate::args::check::{CheckArgs, CheckForm};

/// How a thing stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// As it should be.
    Good,
    /// A lesson can be held; there is something to know.
    Note,
    /// Something that a lesson needs is missing.
    Fails,
}

impl State {
    fn word(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Note => "note",
            Self::Fails => "fails",
        }
    }
}

/// What was found, and what to do about it.
#[derive(Debug)]
struct Finding {
    state: State,
    found: String,
    to_do: Option<String>,
}

impl Finding {
    fn good(found: impl Into<String>) -> Self {
        Self {
            state: State::Good,
            found: found.into(),
            to_do: None,
        }
    }

    fn note(found: impl Into<String>, to_do: impl Into<String>) -> Self {
        Self {
            state: State::Note,
            found: found.into(),
            to_do: Some(to_do.into()),
        }
    }

    fn fails(found: impl Into<String>, to_do: impl Into<String>) -> Self {
        Self {
            state: State::Fails,
            ..Self::note(found, to_do)
        }
    }

    /// From one of our own sentences, which ends with what to do behind its last colon.
    fn from_sentence(state: State, sentence: &str) -> Self {
        let (found, to_do) = match sentence.rsplit_once(": ") {
            Some((found, to_do)) => (found, Some(to_do.to_owned())),
            None => (sentence, None),
        };
        Self {
            state,
            found: found.to_owned(),
            to_do,
        }
    }

    fn line(&self, what: &str) -> String {
        let Self { found, to_do, .. } = self;
        let to_do = to_do.iter().map(|to_do| format!(": {to_do}"));
        format!(
            "{what:<10} {:<5} {found}{}",
            self.state.word(),
            to_do.collect::<String>()
        )
    }
}

/// How one thing is looked at.
type Look = fn(&CheckArgs) -> Finding;

/// Everything that is looked at, in order.
const CHECKS: &[(&str, Look)] = &[
    ("sound", sound::output),
    ("microphone", sound::microphone),
    ("network", |_| network::addresses()),
    ("port", |_| network::port()),
    ("discovery", |_| network::discovery()),
    ("firewall", |_| firewall::firewall()),
    ("book", |_| storage::book()),
    ("disk", |_| storage::disk()),
    ("clock", |_| storage::clock()),
];

/// Looks at this machine, or from it at another one, and says what was found.
///
/// # Errors
/// When something that a lesson needs is missing, or what was asked for makes no sense.
pub fn run(args: &CheckArgs) -> Result<(), Failure> {
    let mut found = Vec::new();
    if let Some(address) = &args.reach {
        found.push(("reach", network::reach(address)?));
    } else {
        sound::choices(args)?;
    }
    let as_text = args.form == CheckForm::Text;
    for (what, finding) in &found {
        tell(as_text, what, finding)?;
    }
    for (what, look) in CHECKS.iter().filter(|_| args.reach.is_none()) {
        let finding = look(args);
        // Each as it is known: some take seconds.
        tell(as_text, what, &finding)?;
        found.push((what, finding));
    }
    let failed = found
        .iter()
        .filter(|(_, f)| f.state == State::Fails)
        .count();
    if args.form == CheckForm::Json {
        let checks = found.iter().map(|(what, finding)| {
            json!({
                "check": what,
                "state": finding.state.word(),
                "found": finding.found,
                "to_do": finding.to_do,
            })
        });
        let all = json!({
            "version": env!("CARGO_PKG_VERSION"),
            "ready": failed == 0,
            "checks": checks.collect::<Vec<_>>(),
        });
        out::document(&plain_json(&format!("{all:#}\n")))?;
    }
    match failed {
        0 => Ok(()),
        1 => Err(Failure::runtime(
            "one thing is missing: do what its line says, then check again",
        )),
        some => Err(Failure::runtime(format!(
            "{some} things are missing: do what their lines say, then check again"
        ))),
    }
}

fn tell(as_text: bool, what: &str, finding: &Finding) -> Result<(), Failure> {
    if as_text {
        out::say(&[finding.line(what)])?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_says_what_how_and_what_to_do() {
        let finding = Finding::fails("no sound device was found", "plug one in");
        assert_eq!(
            finding.line("sound"),
            "sound      fails no sound device was found: plug one in"
        );
        assert_eq!(
            Finding::good("all is well").line("disk"),
            "disk       good  all is well"
        );
        let ours = Finding::from_sentence(State::Note, "a sound (it says: no): plug it in: there");
        assert_eq!(ours.found, "a sound (it says: no): plug it in");
        assert_eq!(ours.to_do.as_deref(), Some("there"));
    }
}
