//! Values on the command line, each with the one sentence that a wrong one gets.

use std::net::IpAddr;

use fifthpeg_core::text;
use fifthpeg_lesson::names::tidy;
use fifthpeg_lesson::setup::MAX_NAME_CHARS;

/// A fret for the capo, and perhaps one for the short string's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CapoArg {
    /// Fret of the capo, from the main nut.
    pub fret: u8,
    /// Tablature fret of the short string's own capo or hook.
    pub short: Option<u8>,
}

/// A capo: one fret, or two.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_capo(typed: &str) -> Result<CapoArg, String> {
    let wrong = || {
        format!(
            "\"{}\" is no capo: give a fret such as 2, or two such as 2,7",
            text::shown(typed)
        )
    };
    let fret = |word: &str| word.trim().parse::<u8>().map_err(|_| wrong());
    match typed.split_once(',') {
        Some((main, short)) => Ok(CapoArg {
            fret: fret(main)?,
            short: Some(fret(short)?),
        }),
        None => Ok(CapoArg {
            fret: fret(typed)?,
            short: None,
        }),
    }
}

/// The level of a file that is to be heard.
///
/// # Errors
/// One sentence for what is none, and for 0.
pub fn parse_heard_level(typed: &str) -> Result<u8, String> {
    match parse_level(typed)? {
        0 => Err("at level 0 nothing would be heard: give a whole number from 1 to 100".to_owned()),
        level => Ok(level),
    }
}

/// How loud, in percent.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_level(typed: &str) -> Result<u8, String> {
    whole(typed.trim_end_matches('%'), "level", 0, 100)
}

/// The frequency of A4 in hertz.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_a4(typed: &str) -> Result<f64, String> {
    typed
        .parse()
        .ok()
        .filter(|hz| (390.0..=470.0).contains(hz))
        .ok_or_else(|| {
            format!(
                "\"{}\" is no frequency for A4: give hertz from 390 to 470, such as 440",
                text::shown(typed)
            )
        })
}

/// A person's, lesson's or class's name.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_name(typed: &str) -> Result<String, String> {
    tidy(typed).map_err(|_| {
        format!(
            "\"{}\" cannot be a name: give 1 to {MAX_NAME_CHARS} letters on one line, such as Mia",
            text::shown(typed)
        )
    })
}

/// A whole number within bounds.
///
/// # Errors
/// One sentence, when it is none.
pub fn whole<T>(typed: &str, what: &str, least: T, most: T) -> Result<T, String>
where
    T: std::str::FromStr + PartialOrd + std::fmt::Display + Copy,
{
    typed
        .parse()
        .ok()
        .filter(|n| (least..=most).contains(n))
        .ok_or_else(|| {
            format!(
                "\"{}\" is no {what}: give a whole number from {least} to {most}",
                text::shown(typed)
            )
        })
}

/// A port.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_port(typed: &str) -> Result<u16, String> {
    whole(typed, "port", 0, u16::MAX)
}

/// A seed.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_seed(typed: &str) -> Result<u64, String> {
    whole(typed, "seed", 0, u64::MAX)
}

/// How many students there is room for.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_room(typed: &str) -> Result<u32, String> {
    whole(typed, "number of students", 1, 1000)
}

/// How long to be patient, in seconds.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_patience(typed: &str) -> Result<u16, String> {
    whole(typed, "number of seconds", 1, 3600)
}

/// How long to look, in seconds.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_look(typed: &str) -> Result<u16, String> {
    whole(typed, "number of seconds", 1, 60)
}

/// An address of this machine.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_bind(typed: &str) -> Result<IpAddr, String> {
    typed.parse().map_err(|_| {
        format!(
            "\"{}\" is no address of this machine: give one such as 192.168.1.20 or ::1",
            text::shown(typed)
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_capo_is_one_fret_or_two() {
        let capo = |fret, short| Ok(CapoArg { fret, short });
        assert_eq!(parse_capo("2"), capo(2, None));
        assert_eq!(parse_capo("2,7"), capo(2, Some(7)));
        for wrong in ["", "two", "2,", "2,7,9", "-1", "300"] {
            assert!(parse_capo(wrong).is_err(), "{wrong}");
        }
    }
}
