//! What a track is made from: a neck, a reach and notes; as they are typed, or
//! as the lesson book has them for one student.

use std::path::PathBuf;

use fifthpeg_core::{Capo, Neck, Reach, ReachSpec, ReachStep, ready_necks};
use fifthpeg_front::failure::Failure;
use fifthpeg_front::necks;
use fifthpeg_front::values::CapoArg;
use fifthpeg_lesson::message::Voice;

/// What a track is made from.
#[derive(Debug, Clone)]
pub struct TrackSource {
    /// The neck.
    pub neck: Neck,
    /// How a command line asks for it.
    pub neck_choice: NeckWords,
    /// Where calls are picked from, as asked for.
    pub spec: ReachSpec,
    /// The same on this neck.
    pub reach: Reach,
    /// The notes as typed, with weights or without; none for all alike.
    pub notes: Vec<String>,
    /// The voice of calls, if no other is asked for.
    pub voice: Voice,
    /// The frequency of A4 in hertz, if no other is asked for.
    pub a4_hz: f64,
}

/// How a command line asks for a neck.
#[derive(Debug, Clone, PartialEq)]
pub enum NeckWords {
    /// A ready one.
    Ready {
        /// Its name.
        name: String,
        /// The capo.
        capo: Option<CapoArg>,
    },
    /// One in a file.
    File {
        /// The file.
        file: PathBuf,
        /// The capo put on besides.
        capo: Option<CapoArg>,
    },
    /// One that has to be written down beside the track.
    Beside {
        /// Its neck file.
        toml: String,
    },
}

impl TrackSource {
    /// What is typed: a neck, perhaps a reach and notes.
    ///
    /// # Errors
    /// One sentence for a neck or reach that is none.
    pub fn typed(
        neck_choice: NeckWords,
        neck: Neck,
        reach: Option<&str>,
        notes: &[String],
    ) -> Result<TrackSource, Failure> {
        let spec = match reach {
            Some(typed) => reach_spec(typed)?,
            None if notes.is_empty() => ReachStep::OctaveLow.into(),
            None => ReachStep::WholeNeck.into(),
        };
        Ok(TrackSource {
            reach: resolved(&neck, &spec)?,
            neck,
            neck_choice,
            spec,
            notes: notes.to_vec(),
            voice: Voice::Banjo,
            a4_hz: 440.0,
        })
    }
}

/// A reach as typed after `--reach`.
///
/// # Errors
/// One sentence for what is none.
pub fn reach_spec(typed: &str) -> Result<ReachSpec, Failure> {
    typed
        .parse()
        .map_err(|error| Failure::usage(error).told(|error| format!("--reach: {error}")))
}

/// A reach on a neck.
///
/// # Errors
/// One sentence for one that is not there.
pub fn resolved(neck: &Neck, spec: &ReachSpec) -> Result<Reach, Failure> {
    Reach::resolve(neck, spec)
        .map_err(|error| Failure::usage(error).told(|error| format!("--reach: {error}")))
}

impl NeckWords {
    /// For a neck from the book: by name if it is a ready one.
    pub fn of(neck: &Neck) -> NeckWords {
        let bare = neck.without_capo();
        let short_strings = neck.numbered_strings().any(|(_, s)| s.first_fret > 0);
        let capo = neck.capo().map(|Capo { fret, short }| CapoArg {
            fret,
            short: short.or(short_strings.then_some(0)),
        });
        let ready = ready_necks().iter().find(|ready| ready.neck() == bare);
        ready
            // A capo that cannot be typed makes it a neck of its own.
            .filter(|ready| necks::choose(ready.name, None, capo).is_ok_and(|typed| typed == *neck))
            .map_or_else(
                || NeckWords::Beside {
                    toml: neck.to_toml(),
                },
                |ready| NeckWords::Ready {
                    name: ready.name.to_owned(),
                    capo,
                },
            )
    }

    /// The options for a track whose files are called `track`.
    pub fn options(&self, track: &str) -> Vec<(&'static str, String)> {
        let (mut options, capo) = match self {
            NeckWords::Ready { name, capo } => (vec![("--neck", name.clone())], *capo),
            NeckWords::File { file, capo } => {
                let name = file.file_name().unwrap_or_default();
                (vec![("--neck-file", name.to_string_lossy().into())], *capo)
            }
            NeckWords::Beside { .. } => (vec![("--neck-file", beside(track))], None),
        };
        if let Some(capo) = capo {
            let short = capo.short.map_or_else(String::new, |s| format!(",{s}"));
            options.push(("--capo", format!("{}{short}", capo.fret)));
        }
        options
    }
}

/// What the neck file beside a track is called.
pub fn beside(track: &str) -> String {
    format!("{track}-neck.toml")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_neck_can_be_asked_for_again() {
        let mut necks: Vec<Neck> = ready_necks().iter().map(|ready| ready.neck()).collect();
        let banjo = Neck::ready("banjo-open-g").expect("it comes with the program");
        for (fret, short) in [(2, Some(7)), (2, None), (3, Some(9)), (0, Some(7))] {
            necks.extend(banjo.with_capo(Capo { fret, short }));
        }
        assert!(necks.len() >= ready_necks().len() + 3);
        let mut own = banjo.description().clone();
        own.strings.truncate(4);
        own.name = "four strings".to_owned();
        necks.push(Neck::build(own).expect("a neck"));
        for neck in necks {
            let again = match NeckWords::of(&neck) {
                NeckWords::Ready { name, capo } => necks::choose(&name, None, capo),
                NeckWords::Beside { toml } => Neck::from_toml(&toml).map_err(Failure::usage),
                NeckWords::File { .. } => panic!("there is no file"),
            };
            assert_eq!(again, Ok(neck));
        }
    }
}
