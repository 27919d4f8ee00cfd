//! Ears outside the project against the program's own tone: every note of a
//! five-string banjo in every voice must be the note it is meant to be.
//!
//! Needs the Python packages aubio and librosa, which the test command installs.
//! Without them it says `SKIPPED`, or fails if `FIFTHPEG_REQUIRE_ALL=1`.

use fifthpeg_core::{Pitch, Reference};
use fifthpeg_sound::{Level, ToneSpec, Voice, render};
use fifthpeg_tests::{empty_folder, python_with, run_script, skip, table_rows};
use fifthpeg_vocab::Choice;
use std::collections::{BTreeMap, HashMap};
use std::fmt::Write;
use std::fs;
use std::path::Path;

/// D3 to C6.
const LOWEST: u8 = 50;
const HIGHEST: u8 = 84;

/// Source: aubio's and librosa's YIN (de Cheveigné and Kawahara, JASA 111, 2002)
/// and aubio's spectral YIN. librosa's pYIN is slow and stands in the table only.
const OUTSIDE_EARS: [&str; 3] = ["aubio yin", "aubio yinfft", "librosa yin"];

#[test]
fn outside_ears_hear_the_programs_own_tone() {
    let Some(python) = python_with("aubio, librosa") else {
        skip("Python has no aubio or librosa: they are not tried on the program's own tone");
        return;
    };
    let folder = empty_folder(env!("CARGO_TARGET_TMPDIR"), "own-tone");
    let mut manifest = "file,set,condition,onset_s,midi,cents\n".to_owned();
    let mut wanted = HashMap::new();
    for row in Voice::ALL {
        let voice = row.value;
        let file = format!("{}.wav", row.word);
        write_tones(&folder.join(&file), voice, |onset_s, midi| {
            writeln!(manifest, "{file},ours,clean,{onset_s:.5},{midi},0.0").expect("text");
            wanted.insert((file.clone(), format!("{onset_s:.5}")), midi);
        });
    }
    fs::write(folder.join("manifest.csv"), manifest).expect("the manifest is written");
    let out = folder.join("heard.csv");
    let [place, table] = [&folder, &out].map(|path| path.to_str().expect("a plain path"));
    let methods = OUTSIDE_EARS.join(",");
    run_script(
        &python,
        "judge_others.py",
        &[place, table, "--methods", &methods],
    );

    let mut right: BTreeMap<(String, String), usize> = BTreeMap::new();
    for row in table_rows(&out) {
        let [method, onsets, span, file, onset_s, midi, ..] = row.as_slice() else {
            panic!("cells are missing: {row:?}");
        };
        if onsets != "told" {
            continue;
        }
        let midi_wanted = wanted[&(file.clone(), onset_s.clone())];
        assert_eq!(
            midi.parse(),
            Ok(midi_wanted),
            "{method}, {span} ms, in {file} at {onset_s} s"
        );
        *right.entry((method.clone(), span.clone())).or_default() += 1;
    }
    // Each by the three spans of time that judge_others.py reads.
    assert_eq!(right.len(), 3 * OUTSIDE_EARS.len());
    assert!(
        right.values().all(|&count| count == wanted.len()),
        "{right:?}"
    );
}

/// Writes every note of a voice one after another, half a second each, and tells
/// each one's onset in seconds.
fn write_tones(path: &Path, voice: Voice, mut tell: impl FnMut(f64, u8)) {
    const RATE_HZ: u32 = 48_000;
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("a sound file");
    let length = RATE_HZ as usize / 2;
    for (place, midi) in (LOWEST..=HIGHEST).enumerate() {
        let pitch = Pitch::new(midi).expect("a MIDI number");
        let tone = ToneSpec {
            frequency_hz: pitch.frequency_hz(Reference::default()),
            voice,
            pluck_seed: u32::from(midi),
            level: Level::default(),
        };
        let mut samples = render(&tone, RATE_HZ).expect("a tone");
        samples.resize(length, 0.0);
        tell((place * length) as f64 / f64::from(RATE_HZ), midi);
        for (left, sample) in (1..=length).rev().zip(samples) {
            // The cut end is drawn down over 10 ms, so that it makes no click.
            let fade = (left as f32 / 480.0).min(1.0);
            writer
                .write_sample((sample * fade * 32_767.0) as i16)
                .expect("a sample");
        }
    }
    writer.finalize().expect("the file is complete");
}
