//! Writes what the ear goes by when it decides whether a pluck may answer, for
//! `tests/reference/ear/teach.py`.
//!
//! `ear_portraits FOLDER OUT.csv` lets an ear hear each file of
//! `FOLDER/manifest.csv` (as `ear_judge` reads it) and writes a line for each
//! onset: file, onset in seconds, MIDI number, and the numbers of its portrait.

use std::collections::BTreeMap;
use std::error::Error;
use std::fs;
use std::io::Write;
use std::path::Path;

use fifthpeg_core::{Pitch, Reference};
use fifthpeg_ear::{Ear, EarSettings};

fn main() -> Result<(), Box<dyn Error>> {
    let places: Vec<String> = std::env::args().skip(1).collect();
    let [folder, out] = places.as_slice() else {
        return Err("say which folder to hear and which file to write".into());
    };
    let text = fs::read_to_string(Path::new(folder).join("manifest.csv"))?;
    // The neck of each file: the banjo's, or more if it has notes beyond it.
    let mut necks: BTreeMap<&str, (u8, u8)> = BTreeMap::new();
    for line in text.lines().skip(1) {
        let fields: Vec<&str> = line.split(',').collect();
        let neck = necks.entry(fields[0]).or_insert((50, 84));
        if let Some(midi) = fields.get(4).and_then(|midi| midi.trim().parse().ok()) {
            *neck = (neck.0.min(midi), neck.1.max(midi));
        }
    }
    let mut out = std::io::BufWriter::new(fs::File::create(out)?);
    for (name, neck) in necks {
        hear(&Path::new(folder).join(name), name, neck, &mut out)?;
    }
    Ok(())
}

fn hear(
    path: &Path,
    name: &str,
    neck: (u8, u8),
    out: &mut impl Write,
) -> Result<(), Box<dyn Error>> {
    let mut reader = hound::WavReader::open(path)?;
    let rate_hz = reader.spec().sample_rate;
    let samples: Vec<f32> = reader
        .samples::<i16>()
        .map(|sample| sample.map(|sample| f32::from(sample) / 32_768.0))
        .collect::<Result<_, _>>()?;
    let pitch = |midi| Pitch::new(midi).ok_or("no such note");
    let mut ear = Ear::new(EarSettings {
        sample_rate_hz: rate_hz,
        lowest: pitch(neck.0)?,
        highest: pitch(neck.1)?,
        reference: Reference::default(),
    })?;
    // So short that one block never settles two onsets.
    for block in samples.chunks(64) {
        ear.hear(block);
        if let Some((onset, near, portrait)) = ear.take_portrait() {
            write!(
                out,
                "{name},{:.4},{}",
                onset / f64::from(rate_hz),
                near.midi()
            )?;
            for number in portrait {
                write!(out, ",{number:.4}")?;
            }
            writeln!(out)?;
        }
        while ear.poll().is_some() {}
    }
    Ok(())
}
