//! The neck that a command line asks for.

use std::path::Path;

use fifthpeg_core::{Capo, Neck, nearest_ready_name, ready_necks};

use crate::failure::Failure;
use crate::values::CapoArg;
use crate::{files, text};

/// Largest neck file, in bytes.
const MAX_NECK_FILE_BYTES: u64 = 256 * 1024;

/// The ready neck of this name, or the neck in this file; with its capo.
///
/// # Errors
/// One sentence for a name that is not known, a file that cannot be read or
/// used, or a capo that does not fit.
pub fn choose(name: &str, file: Option<&Path>, capo: Option<CapoArg>) -> Result<Neck, Failure> {
    let neck = match file {
        Some(path) => {
            let text = files::read_text(path, MAX_NECK_FILE_BYTES)?;
            Neck::from_toml(&text)
                .map_err(|error| Failure::Usage(format!("{}: {error}", path.display())))?
        }
        None => ready(name)?,
    };
    match capo {
        Some(CapoArg { fret, short }) => neck
            .with_capo(Capo { fret, short })
            .map_err(|error| Failure::Usage(format!("--capo: {error}"))),
        None => Ok(neck),
    }
}

fn ready(name: &str) -> Result<Neck, Failure> {
    Neck::ready(name).ok_or_else(|| {
        let names: Vec<&str> = ready_necks().iter().map(|ready| ready.name).collect();
        let hint = match nearest_ready_name(name) {
            Some(near) => format!("perhaps {near} was meant"),
            None => format!("choose {}", text::list_or(&names)),
        };
        Failure::Usage(format!(
            "there is no ready neck \"{}\": {hint}; fifthpeg neck --list tells about them",
            text::shown(name)
        ))
    })
}
