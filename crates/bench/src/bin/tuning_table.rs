//! Prints how far each voice is from equal temperament, D2 to C7, in cents.
//!
//! `cargo run -p fifthpeg-bench --bin tuning_table`

use fifthpeg_measure::{cents, equal_temperament_hz, pitch, wide};
use fifthpeg_sound::{Level, ToneError, ToneSpec, Voice, render};
use fifthpeg_vocab::Choice;

const D2: u8 = 38;
const C7: u8 = 96;

fn main() -> Result<(), ToneError> {
    println!("Largest distance from equal temperament (A4 = 440 Hz), D2 to C7, every");
    println!("semitone, in cents; measured by phase regression / by spectrum peak.\n");
    println!(
        "{:>8} {:>18} {:>18} {:>18}",
        "voice", "44100 Hz", "48000 Hz", "96000 Hz"
    );
    for voice in Voice::ALL.iter().map(|row| row.value) {
        print!("{:>8}", voice.word());
        for rate_hz in [44_100, 48_000, 96_000] {
            let (mut by_phase, mut by_spectrum) = (0.0f64, 0.0f64);
            for midi in D2..=C7 {
                let wanted_hz = equal_temperament_hz(midi);
                let tone = ToneSpec {
                    frequency_hz: wanted_hz,
                    voice,
                    pluck_seed: u32::from(midi),
                    level: Level::default(),
                };
                let samples = wide(&render(&tone, rate_hz)?);
                let rate = f64::from(rate_hz);
                let phase_hz = pitch::by_phase_hz(&samples, rate, wanted_hz);
                let spectrum_hz = pitch::by_spectrum_hz(&samples, rate, wanted_hz);
                by_phase = by_phase.max(cents(wanted_hz, phase_hz).abs());
                by_spectrum = by_spectrum.max(cents(wanted_hz, spectrum_hz).abs());
            }
            print!(" {:>18}", format!("{by_phase:.4} / {by_spectrum:.4}"));
        }
        println!();
    }
    Ok(())
}
