//! Who gets in, in lines.

use fifthpeg_front::OPEN;
use fifthpeg_host::{Host, Lock};

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
