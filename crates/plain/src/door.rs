//! Who gets in, in lines.

use fifthpeg_front::{OPEN, qr};
use fifthpeg_host::{Host, Lock};

use crate::host_lines::PageLine;
use crate::say::{Say, Word};

/// Says in lines who gets in.
pub fn say(host: &Host, say: &mut Say) {
    match host.lock() {
        Lock::Open => say.say(Word::Lock, OPEN),
        Lock::Passphrase { key, passphrase } => {
            say.say(Word::Passphrase, passphrase.shown());
            say.say(
                Word::Lock,
                format!(
                    "locked and encrypted; this host's key is {}",
                    key.fingerprint()
                ),
            );
        }
    }
}

const NO_PAGE: &str = "there is no page for phones: this program was built without it \
                       (scripts/build-page builds it)";

/// Says how a phone gets in.
///
/// # Errors
/// One sentence, where there is no page, or no new words can be made.
pub fn say_page(host: &Host, line: PageLine, say: &mut Say) -> Result<(), String> {
    if line == PageLine::New {
        host.renew_page_words().map_err(|e| e.to_string())?;
    }
    let invite = host.invite().ok_or(NO_PAGE)?;
    if let PageLine::Code { on_light } = line {
        let rows = qr::half_blocks(&invite.link, on_light);
        for row in rows.ok_or("the link is too long for a code")? {
            say.say(Word::Page, row);
        }
        return Ok(());
    }
    say.say(Word::Page, &invite.address);
    if let Some(words) = &invite.words {
        say.say(Word::Page, format!("words {words}"));
    }
    if let Some(fingerprint) = &invite.fingerprint {
        say.say(Word::Page, format!("fingerprint {fingerprint}"));
    }
    Ok(())
}
