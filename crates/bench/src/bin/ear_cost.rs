//! What listening costs: plays plucks and noise into an ear, and prints how much
//! of one core it takes in real time.
//!
//! `cargo run -p fifthpeg-bench --release --bin ear_cost`

use std::f64::consts::PI;
use std::time::Instant;

use fifthpeg_core::{Pitch, Reference};
use fifthpeg_ear::{Ear, EarSettings};

const SECONDS: usize = 60;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    println!(
        "{:>8} {:>18} {:>14} {:>8}",
        "rate_hz", "plucks a second", "% of one core", "plucks"
    );
    for rate_hz in [44_100u32, 48_000, 96_000] {
        for plucks_per_s in [0.0, 1.0, 4.0, 8.0] {
            let sound = sound(f64::from(rate_hz), plucks_per_s);
            let mut ear = Ear::new(EarSettings {
                sample_rate_hz: rate_hz,
                lowest: Pitch::new(50).ok_or("no such pitch")?,
                highest: Pitch::new(84).ok_or("no such pitch")?,
                reference: Reference::default(),
            })?;
            let mut heard = 0;
            let begun = (Instant::now(), processor_s());
            for block in sound.chunks(480) {
                ear.hear(block);
                while let Some(event) = ear.poll() {
                    heard += usize::from(matches!(event, fifthpeg_ear::Heard::Pluck(_)));
                }
            }
            let spent_s = match (begun.1, processor_s()) {
                (Some(from), Some(until)) => until - from,
                _ => begun.0.elapsed().as_secs_f64(),
            };
            let share = 100.0 * spent_s / SECONDS as f64;
            println!("{rate_hz:>8} {plucks_per_s:>18} {share:>14.2} {heard:>8}");
        }
    }
    Ok(())
}

/// Time this program spent on a processor, where Linux tells it.
fn processor_s() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/schedstat").ok()?;
    Some(text.split_whitespace().next()?.parse::<f64>().ok()? * 1e-9)
}

/// Plucks of open G, ringing into each other, over a little noise.
fn sound(rate_hz: f64, plucks_per_s: f64) -> Vec<f32> {
    let mut out: Vec<f32> = Vec::with_capacity(SECONDS * rate_hz as usize);
    let mut seed = 1u32;
    for _ in 0..SECONDS * rate_hz as usize {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        out.push((f64::from(seed >> 8) / f64::from(1 << 24) - 0.5) as f32 * 2e-4);
    }
    let count = (plucks_per_s * SECONDS as f64) as usize;
    for pluck in 0..count {
        let hz = [196.0, 246.94, 293.66, 392.0, 146.83][pluck % 5];
        let start = (pluck as f64 / plucks_per_s * rate_hz) as usize;
        let length = ((1.0 * rate_hz) as usize).min(out.len() - start);
        for i in 0..length {
            let t = i as f64 / rate_hz;
            let wave: f64 = (1..=12)
                .map(|n| {
                    let n = f64::from(n);
                    (2.0 * PI * hz * n * t).sin() * (-t * (3.0 + n)).exp() / n
                })
                .sum();
            out[start + i] += 0.1 * wave as f32;
        }
    }
    out
}
