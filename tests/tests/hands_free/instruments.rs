//! What is played and sung in these tests.

use fifthpeg_sound::{Level, ToneSpec, Voice, render};
use std::f64::consts::{PI, TAU};
use std::path::Path;
use std::process::Command;

pub const RATE: f64 = 48_000.0;
/// Between two plucks.
const APART_S: f64 = 0.8;
/// Before the first, so that the sound system has settled.
const LEAD_S: f64 = 0.2;

/// Mono samples at 48 kHz, full scale 1.
pub struct Playing {
    pub samples: Vec<f32>,
    /// From the first pluck to the last, in samples.
    apart: f64,
}

impl Playing {
    /// Any sound.
    pub fn of(samples: Vec<f32>) -> Playing {
        Playing {
            samples,
            apart: 0.0,
        }
    }

    /// From the first pluck to the last.
    pub fn apart_s(&self) -> f64 {
        self.apart / RATE
    }
}

/// These notes on the project's own banjo.
pub fn own_banjo(notes: &[u8]) -> Playing {
    let step = (APART_S * RATE) as usize;
    let lead = (LEAD_S * RATE) as usize;
    let mut samples = vec![0f32; lead + step * notes.len() + RATE as usize];
    for (number, midi) in notes.iter().enumerate() {
        let tone = ToneSpec {
            frequency_hz: fifthpeg_measure::equal_temperament_hz(*midi),
            voice: Voice::Banjo,
            pluck_seed: 11 + number as u32,
            level: Level::from_percent(60).expect("a level"),
        };
        let from = lead + number * step;
        let rendered = render(&tone, RATE as u32).expect("a tone");
        for (into, x) in samples[from..].iter_mut().zip(rendered) {
            *into += x;
        }
    }
    Playing {
        samples,
        apart: (step * notes.len().saturating_sub(1)) as f64,
    }
}

/// These notes on the banjo of a General MIDI sound font, by fluidsynth: a
/// banjo that nobody here made. Program 106, "Banjo" (General MIDI System Level
/// 1, table 2; 105 counted from nought on the wire).
pub fn general_midi(dir: &Path, notes: &[u8]) -> Result<Playing, String> {
    let font = "/usr/share/sounds/sf2/TimGM6mb.sf2";
    if !Path::new(font).exists() {
        return Err("install the Debian package timgm6mb-soundfont".to_owned());
    }
    let (score, wav) = (dir.join("banjo.mid"), dir.join("banjo.wav"));
    std::fs::write(&score, midi_file(notes)).expect("the score is written");
    let out = Command::new("fluidsynth")
        .args(["-ni", "-q", "-r", "48000", "-g", "1", "-R", "0", "-C", "0"])
        .args(["-T", "wav", "-O", "s16", "-F"])
        .args([wav.as_os_str(), font.as_ref(), score.as_os_str()])
        .output()
        .map_err(|_| "install the Debian package fluidsynth".to_owned())?;
    assert!(out.status.success(), "fluidsynth: {out:?}");
    let mut reader = hound::WavReader::open(&wav).expect("what fluidsynth wrote");
    assert_eq!(f64::from(reader.spec().sample_rate), RATE);
    let channels = usize::from(reader.spec().channels);
    let samples: Vec<f32> = reader
        .samples::<i16>()
        .map(|x| f32::from(x.expect("a sample")) / 32_768.0)
        .collect();
    let mut mono: Vec<f32> = samples
        .chunks(channels)
        .map(|frame| frame.iter().sum::<f32>() / channels as f32)
        .collect();
    let peak = mono.iter().fold(0f32, |peak, x| peak.max(x.abs()));
    assert!(peak > 0.0, "fluidsynth rendered silence");
    for x in &mut mono {
        *x *= 0.5 / peak;
    }
    Ok(Playing {
        samples: mono,
        apart: APART_S * RATE * notes.len().saturating_sub(1) as f64,
    })
}

/// A standard MIDI file of one track (Standard MIDI Files 1.0): a tick is a
/// millisecond, at 500 ticks a crotchet and half a second each, so that its
/// length is whole samples.
fn midi_file(notes: &[u8]) -> Vec<u8> {
    let mut track: Vec<u8> = vec![0, 0xC0, 105];
    let mut wait = (LEAD_S * 1000.0) as u32;
    for note in notes {
        track.extend(variable_length(wait));
        track.extend([0x90, *note, 100]);
        let rings = (APART_S * 1000.0) as u32 - 20;
        track.extend(variable_length(rings));
        track.extend([0x80, *note, 0]);
        wait = 20;
    }
    track.extend(variable_length(1000));
    track.extend([0xFF, 0x2F, 0]);
    let mut file = b"MThd\x00\x00\x00\x06\x00\x00\x00\x01".to_vec();
    file.extend(500u16.to_be_bytes());
    file.extend(b"MTrk");
    file.extend((track.len() as u32).to_be_bytes());
    file.extend(track);
    file
}

/// Seven bits a byte, the highest first, all but the last marked.
fn variable_length(mut number: u32) -> Vec<u8> {
    let mut bytes = vec![(number & 0x7F) as u8];
    while number > 0x7F {
        number >>= 7;
        bytes.insert(0, (number & 0x7F) as u8 | 0x80);
    }
    bytes
}

/// A sung vowel of 1.6 s: glottal pulses (Rosenberg, JASA 49:583, 1971) through
/// the formants of an /a/ (Peterson and Barney, JASA 24:175, 1952), with a
/// vibrato of 5.5 Hz and 60 cents either way, which sung vibrato commonly is
/// (Prame, JASA 102:616, 1997). It swells and fades as a voice does.
pub fn voice(frequency_hz: f64) -> Playing {
    const LASTS_S: f64 = 1.6;
    let frames = (LASTS_S * RATE) as usize;
    let mut phase = 0.0;
    let pulses: Vec<f64> = (0..frames)
        .map(|n| {
            let time_s = n as f64 / RATE;
            let bend = 60.0 / 1200.0 * (TAU * 5.5 * time_s).sin();
            phase = (phase + frequency_hz * 2f64.powf(bend) / RATE) % 1.0;
            // Opens for two fifths of the period, closes in a sixth.
            match phase {
                p if p < 0.4 => 0.5 * (1.0 - (PI * p / 0.4).cos()),
                p if p < 0.56 => (PI * (p - 0.4) / 0.32).cos(),
                _ => 0.0,
            }
        })
        .collect();
    // The mouth radiates the flow's change.
    let flow = pulses.windows(2).map(|pair| pair[1] - pair[0]);
    let mut sound: Vec<f64> = flow.collect();
    for (formant_hz, width_hz) in [(730.0, 80.0), (1090.0, 90.0), (2440.0, 120.0)] {
        resonate(&mut sound, formant_hz, width_hz);
    }
    let peak = sound.iter().fold(0f64, |peak, x| peak.max(x.abs()));
    let fade = 0.12 * RATE;
    let edge = |n: f64| (n / fade).min(1.0);
    let mut samples = vec![0f32; (LEAD_S * RATE) as usize];
    samples.extend(sound.iter().enumerate().map(|(n, x)| {
        let n = n as f64;
        (0.3 * x / peak * edge(n) * edge(frames as f64 - n)) as f32
    }));
    samples.extend(vec![0f32; RATE as usize]);
    Playing::of(samples)
}

/// A resonance of two poles, in place.
fn resonate(sound: &mut [f64], frequency_hz: f64, width_hz: f64) {
    let radius = (-PI * width_hz / RATE).exp();
    let (a1, a2) = (
        2.0 * radius * (TAU * frequency_hz / RATE).cos(),
        -radius * radius,
    );
    let (mut y1, mut y2) = (0.0, 0.0);
    for x in sound {
        let y = *x + a1 * y1 + a2 * y2;
        (y1, y2) = (y, y1);
        *x = y;
    }
}

/// White noise of this level (root mean square, dB re full scale).
pub fn noise(level_db: f64, lasts_s: f64) -> Playing {
    // Marsaglia, "Xorshift RNGs", Journal of Statistical Software 8:14 (2003).
    let mut state = 2_463_534_242u32;
    let mut uniform = || {
        state ^= state << 13;
        state ^= state >> 17;
        state ^= state << 5;
        f64::from(state) / f64::from(u32::MAX) * 2.0 - 1.0
    };
    // A uniform number in -1..1 has a root mean square of 1/sqrt(3).
    let gain = 3f64.sqrt() * 10f64.powf(level_db / 20.0);
    let frames = (lasts_s * RATE) as usize;
    Playing::of((0..frames).map(|_| (gain * uniform()) as f32).collect())
}
