//! A planned track into its files.

use std::path::{Path, PathBuf};

use fifthpeg_core::Reference;
use fifthpeg_front::drafts::{Drafts, Readable, not_written};
use fifthpeg_front::failure::Failure;
use fifthpeg_lesson::track::{Cue, TrackPart};
use fifthpeg_sound::ToneSpec;
use fifthpeg_sound::track::{
    MidiNote, MidiPart, MidiTrack, SoundFiles, TrackSamples, TrackTone, TrackWriteError, midi_file,
    write_track,
};
use fifthpeg_vocab::Choice;

use super::kinds::FileKind;
use super::practice::Practice;
use super::{html, page_text};

/// Where each kind of file goes: beside `name`, with its own ending. An ending
/// that `name` brings along is put in place of, not doubled.
pub fn paths(name: &Path, kinds: &[FileKind]) -> Vec<(FileKind, PathBuf)> {
    let brought = name.extension().is_some_and(|ending| {
        FileKind::ALL
            .iter()
            .any(|row| ending.eq_ignore_ascii_case(row.value.ending()))
    });
    let name = if brought {
        name.with_extension("")
    } else {
        name.to_owned()
    };
    let mut paths: Vec<(FileKind, PathBuf)> = Vec::new();
    for kind in kinds {
        let mut path = name.clone().into_os_string();
        path.push(".");
        path.push(kind.ending());
        if !paths.iter().any(|(known, _)| known == kind) {
            paths.push((*kind, path.into()));
        }
    }
    paths
}

/// Writes a track's files, and beside the first of them the neck file that it
/// needs, if any: all of them, or none. `go_on` is told how far it is,
/// from 0 to 1, and stops it by saying `false`.
///
/// # Errors
/// One sentence; then nothing is left behind.
pub fn write(
    practice: &Practice,
    paths: &[(FileKind, PathBuf)],
    replace: bool,
    mut go_on: impl FnMut(f64) -> bool,
) -> Result<(), Failure> {
    let mut all: Vec<PathBuf> = paths.iter().map(|(_, path)| path.clone()).collect();
    let beside = all.first().zip(practice.neck_file.as_ref());
    let neck = beside.map(|(first, (name, toml))| (first.with_file_name(name), toml));
    all.extend(neck.iter().map(|(path, _)| path.clone()));
    // Weights tell what somebody missed.
    let readable = match practice.weighted {
        true => Readable::ByMeAlone,
        false => Readable::ByAll,
    };
    let mut drafts = Drafts::open(&all, replace, readable)?;
    if let Some((path, toml)) = neck {
        drafts.write(&path, toml.as_bytes())?;
    }
    for (kind, path) in paths {
        match kind {
            FileKind::Midi => drafts.write(path, &midi(practice))?,
            FileKind::Html => drafts.write(path, html::page(practice).as_bytes())?,
            FileKind::Text => drafts.write(path, page_text::page(practice).as_bytes())?,
            FileKind::Wav | FileKind::Flac => {}
        }
    }
    let path_of = |wanted: FileKind| {
        let found = paths.iter().find(|(kind, _)| *kind == wanted);
        found.map(|(_, path)| path.as_path())
    };
    let (wav_path, flac_path) = (path_of(FileKind::Wav), path_of(FileKind::Flac));
    let mut wav = wav_path.and_then(|path| drafts.take(path));
    let mut flac = flac_path.and_then(|path| drafts.take(path));
    if wav.is_some() || flac.is_some() {
        let files = SoundFiles {
            wav: wav.as_mut(),
            flac: flac.as_mut(),
        };
        write_track(samples(practice), files, |done, of| {
            go_on(done as f64 / of.max(1) as f64)
        })
        .map_err(|error| match (error, wav_path, flac_path) {
            (TrackWriteError::Wav(why), Some(path), _)
            | (TrackWriteError::Flac(why), _, Some(path)) => not_written(path, why),
            (TrackWriteError::Stopped, _, _) => {
                Failure::runtime("stopped: no file was kept; start it again for a whole track")
            }
            (error, _, _) => Failure::runtime(error),
        })?;
    }
    for (path, file) in [(wav_path, wav), (flac_path, flac)] {
        if let (Some(path), Some(file)) = (path, file) {
            Drafts::give_back(path, file)?;
        }
    }
    drafts.publish()
}

fn samples(practice: &Practice) -> TrackSamples {
    // Frequencies outside its bounds are refused on the command line.
    let reference = Reference::new(practice.a4_hz).unwrap_or_default();
    let tone = |cue: &Cue| TrackTone {
        at: cue.at,
        lasts: cue.lasts,
        tone: ToneSpec {
            frequency_hz: cue.pitch.frequency_hz(reference),
            voice: cue.voice,
            pluck_seed: practice.plan.pluck_seed(cue),
            level: practice.level,
        },
    };
    let tones = practice.plan.cues.iter().map(tone).collect();
    TrackSamples::new(tones, practice.plan.length)
}

fn midi(practice: &Practice) -> Vec<u8> {
    let plan = &practice.plan;
    let settings = &practice.settings;
    let part = |name: &str, voice| MidiPart {
        name: name.to_owned(),
        voice,
    };
    let mut parts = vec![part("Calls", settings.voice)];
    if plan.cues.iter().any(|cue| cue.part == TrackPart::Answer) {
        parts.push(part("Answers", settings.answer_voice));
    }
    midi_file(&MidiTrack {
        title: format!("Practice track: {}", practice.title),
        parts,
        notes: plan
            .cues
            .iter()
            .map(|cue| MidiNote {
                part: usize::from(cue.part == TrackPart::Answer),
                at: cue.at,
                lasts: cue.lasts,
                note: cue.pitch.midi(),
            })
            .collect(),
        markers: plan
            .calls
            .iter()
            .map(|call| (call.at, format!("Call {}", call.number)))
            .collect(),
        a4_hz: practice.a4_hz,
        length: plan.length,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_ending_is_not_doubled() {
        let paths_of = |name: &str| -> Vec<String> {
            paths(
                Path::new(name),
                &[FileKind::Wav, FileKind::Midi, FileKind::Wav],
            )
            .into_iter()
            .map(|(_, path)| path.display().to_string())
            .collect()
        };
        assert_eq!(paths_of("out/mia"), ["out/mia.wav", "out/mia.mid"]);
        assert_eq!(paths_of("mia.WAV"), ["mia.wav", "mia.mid"]);
        assert_eq!(paths_of("week.3"), ["week.3.wav", "week.3.mid"]);
    }
}
