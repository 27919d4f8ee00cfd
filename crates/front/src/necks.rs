//! The neck that a command line asks for.

use std::path::Path;

use fifthpeg_core::neck_file::LONGEST_FILE_BYTES;
use fifthpeg_core::{Capo, Neck, nearest_ready_name, ready_necks, text};

use crate::failure::Failure;
use crate::files;
use crate::values::CapoArg;

/// The ready neck of this name, or the neck in this file; with its capo.
///
/// # Errors
/// One sentence for a name that is not known, a file that cannot be read or
/// used, or a capo that does not fit.
pub fn choose(name: &str, file: Option<&Path>, capo: Option<CapoArg>) -> Result<Neck, Failure> {
    let neck = match file {
        Some(path) => {
            let text = files::read_text(path, LONGEST_FILE_BYTES as u64)?;
            Neck::from_toml(&text).map_err(|error| {
                Failure::usage(error).told(|error| format!("{}: {error}", path.display()))
            })?
        }
        None => ready(name)?,
    };
    match capo {
        Some(CapoArg { fret, short }) => neck
            .with_capo(Capo {
                fret,
                short: short_capo(&neck, fret, short),
            })
            .map_err(|error| Failure::usage(error).told(|error| format!("--capo: {error}"))),
        None => Ok(neck),
    }
}

/// Where a short string's own capo goes: where asked for, nowhere for 0, and
/// otherwise as many frets past its peg as the main capo is past the nut, so
/// that the tuning stays (common practice, no source).
fn short_capo(neck: &Neck, fret: u8, asked: Option<u8>) -> Option<u8> {
    let pegs = neck.description().strings.iter().map(|s| s.first_fret);
    match asked {
        Some(0) => None,
        Some(short) => Some(short),
        None => pegs
            .max()
            .filter(|peg| *peg > 0)
            .map(|peg| peg.saturating_add(fret)),
    }
}

fn ready(name: &str) -> Result<Neck, Failure> {
    Neck::ready(name).ok_or_else(|| {
        let names: Vec<&str> = ready_necks().iter().map(|ready| ready.name).collect();
        let hint = match nearest_ready_name(name) {
            Some(near) => format!("perhaps {near} was meant"),
            None => format!("choose {}", text::list_or(&names)),
        };
        Failure::usage(format!(
            "there is no ready neck \"{}\": {hint}; fifthpeg neck --list tells about them",
            text::shown(name)
        ))
    })
}
