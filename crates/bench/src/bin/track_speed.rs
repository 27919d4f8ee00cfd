//! Prints how many times faster than it plays a track is written, on one core:
//! `cargo run -p fifthpeg-bench --release --bin track_speed`
//!
//! Three tracks of calls and answers over two octaves, each written to a WAV and
//! a FLAC file in the system's folder for temporary files. The tones are those
//! of a track of `fifthpeg track`; the answer sheet takes next to nothing.

use std::error::Error;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::time::{Duration, Instant};

use fifthpeg_sound::track::{SoundFiles, TRACK_RATE_HZ, TrackSamples, TrackTone, write_track};
use fifthpeg_sound::{Level, ToneSpec, Voice};

/// From one call to the next.
const CALL_MS: u64 = 14_000;

fn main() -> Result<(), Box<dyn Error>> {
    println!(
        "{:>10} {:>10} {:>14} {:>12} {:>12}",
        "minutes", "written", "times faster", "WAV MB", "FLAC MB"
    );
    for minutes in [5, 15, 60] {
        let length = Duration::from_secs(60 * minutes);
        let folder = std::env::temp_dir();
        let name = |end| folder.join(format!("track-speed-{}.{end}", std::process::id()));
        let paths = ["wav", "flac"].map(name);
        let started = Instant::now();
        let mut wav = BufWriter::new(File::create(&paths[0])?);
        let mut flac = BufWriter::new(File::create(&paths[1])?);
        let files = SoundFiles {
            wav: Some(&mut wav),
            flac: Some(&mut flac),
        };
        write_track(TrackSamples::new(tones(length), length), files, |_, _| true)?;
        wav.flush()?;
        flac.flush()?;
        let took = started.elapsed();
        let size = |n: usize| {
            paths[n]
                .metadata()
                .map_or(0.0, |file| file.len() as f64 / 1e6)
        };
        println!(
            "{minutes:>10} {:>8.2} s {:>14.0} {:>12.1} {:>12.1}",
            took.as_secs_f64(),
            length.as_secs_f64() / took.as_secs_f64(),
            size(0),
            size(1),
        );
        for path in paths {
            std::fs::remove_file(path)?;
        }
    }
    println!("one channel, 16 bits, {TRACK_RATE_HZ} Hz, one thread");
    Ok(())
}

fn tones(length: Duration) -> Vec<TrackTone> {
    let calls = length.as_millis() as u64 / CALL_MS;
    let tone = |at_ms: u64, lasts_ms: u64, note: u64, voice| TrackTone {
        at: Duration::from_millis(at_ms),
        lasts: Duration::from_millis(lasts_ms),
        tone: ToneSpec {
            frequency_hz: 146.83 * (note as f64 / 12.0).exp2(),
            voice,
            pluck_seed: note as u32,
            level: Level::default(),
        },
    };
    (0..calls)
        .flat_map(|call| {
            let (at, note) = (call * CALL_MS, call * 7 % 25);
            [
                tone(at, 2400, note, Voice::Banjo),
                tone(at + 4000, 2400, note, Voice::Banjo),
                tone(at + 8000, 900, note / 5 * 5, Voice::Guitar),
                tone(at + 8900, 1600, note, Voice::Guitar),
                tone(at + 10_500, 2400, note, Voice::Banjo),
            ]
        })
        .collect()
}
