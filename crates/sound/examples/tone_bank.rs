//! Writes every note of a range in every voice, each as raw 32-bit samples, and
//! an index, so that pitch methods from outside can be tried on our own tone.
//!
//! `cargo run -p fifthpeg-sound --example tone_bank -- FOLDER LOWEST HIGHEST`,
//! the notes as MIDI numbers.

use fifthpeg_sound::{Level, ToneSpec, Voice, render};
use fifthpeg_vocab::Choice;
use std::error::Error;
use std::fs;
use std::path::PathBuf;

const RATE_HZ: u32 = 48_000;
/// Plucks of each note in each voice.
const PLUCKS: u32 = 2;

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let usage = "give a folder, and the lowest and the highest note as MIDI numbers";
    let folder = PathBuf::from(args.next().ok_or(usage)?);
    let lowest: u8 = args.next().ok_or(usage)?.parse()?;
    let highest: u8 = args.next().ok_or(usage)?.parse()?;
    fs::create_dir_all(&folder)?;
    let mut rows = Vec::new();
    for midi in lowest..=highest {
        for voice in Voice::ALL.iter().map(|row| row.value) {
            for pluck in 0..PLUCKS {
                let tone = ToneSpec {
                    frequency_hz: 440.0 * ((f64::from(midi) - 69.0) / 12.0).exp2(),
                    voice,
                    pluck_seed: 1000 * pluck + u32::from(midi),
                    level: Level::default(),
                };
                let bytes: Vec<u8> = render(&tone, RATE_HZ)?
                    .into_iter()
                    .flat_map(f32::to_le_bytes)
                    .collect();
                let file = format!("{}-{midi}-{pluck}.raw", voice.word());
                fs::write(folder.join(&file), bytes)?;
                rows.push(format!("{{\"file\":\"{file}\",\"midi\":{midi}}}"));
            }
        }
    }
    let index = format!(
        "{{\"rate_hz\":{RATE_HZ},\"tones\":[\n{}\n]}}\n",
        rows.join(",\n")
    );
    fs::write(folder.join("index.json"), index)?;
    Ok(())
}
