//! Listens for the microphone test, in a process of its own, because the sound
//! system is chosen by the environment.
//!
//! `hear samples INPUT FILE`: reads until standard input ends, or a line comes;
//! writes each block's samples to FILE (32-bit floats) and prints its first
//! frame, how many were lost before it, how many there are, its second of the
//! system's clock, and the uncertainty.
//!
//! `hear notes INPUT`: a listener on a banjo's neck; prints what it tells, and
//! follows `calibrate`, `sing` and `stop` from standard input.
//!
//! `hear loop OUTPUT INPUT`: the loop test's delay and uncertainty in
//! milliseconds, and its clearness in decibels.
//!
//! An error is one line on standard error.

use fifthpeg_core::{HeardNote, Pitch, Reference};
use fifthpeg_sound::{
    InputChoice, Level, ListenFor, ListenSettings, Listened, Listener, OutputChoice, loop_test,
    open, open_input,
};
use std::error::Error;
use std::fs::File;
use std::io::{BufRead, Write};
use std::process::ExitCode;
use std::sync::mpsc::{self, TryRecvError};
use std::time::{Duration, Instant, SystemTime};

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    let result = match args[..] {
        ["samples", input, file] => samples(input, file),
        ["notes", input] => notes(input),
        ["loop", output, input] => measure_loop(output, input),
        _ => Err("what to hear is missing".into()),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

/// Turns instants into seconds of the system's clock.
struct Clock(Instant, SystemTime);

impl Clock {
    fn new() -> Clock {
        Clock(Instant::now(), SystemTime::now())
    }

    fn seconds(&self, at: Instant) -> f64 {
        let begun = self.1.duration_since(SystemTime::UNIX_EPOCH);
        let begun = begun.expect("a clock after 1970").as_secs_f64();
        if at >= self.0 {
            begun + (at - self.0).as_secs_f64()
        } else {
            begun - (self.0 - at).as_secs_f64()
        }
    }
}

fn samples(input: &str, file: &str) -> Result<(), Box<dyn Error>> {
    let mut input = open_input(&input.parse::<InputChoice>()?)?;
    let mut file = File::create(file)?;
    let clock = Clock::new();
    println!("{}", input.describe());
    let (hang_up, line) = mpsc::channel();
    std::thread::spawn(move || {
        let _ = std::io::stdin().lock().lines().next();
        drop(hang_up);
    });
    let mut block = Vec::new();
    let mut bytes = Vec::new();
    while line.try_recv() == Err::<(), _>(TryRecvError::Empty) {
        let Some(captured) = input.read(&mut block, Duration::from_millis(50))? else {
            continue;
        };
        bytes.clear();
        bytes.extend(block.iter().flat_map(|x| x.to_le_bytes()));
        file.write_all(&bytes)?;
        println!(
            "{} {} {} {:.6} {:.6}",
            captured.first_frame,
            captured.lost_frames,
            block.len(),
            clock.seconds(captured.at),
            captured.uncertainty.as_secs_f64()
        );
    }
    Ok(())
}

fn notes(input: &str) -> Result<(), Box<dyn Error>> {
    let input = open_input(&input.parse::<InputChoice>()?)?;
    let clock = Clock::new();
    let settings = ListenSettings {
        // A banjo in open G, D3 to the 22nd fret.
        lowest: Pitch::new(50).ok_or("no such note")?,
        highest: Pitch::new(84).ok_or("no such note")?,
        reference: Reference::default(),
        what: ListenFor::Plucks,
    };
    let listener = Listener::start(input, settings, move |listened| tell(&clock, &listened))?;
    for line in std::io::stdin().lock().lines() {
        match line?.as_str() {
            "calibrate" => listener.calibrate(),
            "sing" => listener.set_singing(true),
            _ => break,
        }
    }
    listener.stop();
    println!("stopped");
    Ok(())
}

fn measure_loop(output: &str, input: &str) -> Result<(), Box<dyn Error>> {
    let mut output = open(&output.parse::<OutputChoice>()?)?;
    let mut input = open_input(&input.parse::<InputChoice>()?)?;
    let found = loop_test(output.as_mut(), input.as_mut(), Level::default())?;
    println!(
        "{:.2} {:.2} {:.1}",
        found.delay_ms,
        found.uncertainty.as_secs_f64() * 1000.0,
        found.clearness_db
    );
    output.finish()?;
    Ok(())
}

fn tell(clock: &Clock, listened: &Listened) {
    match listened {
        Listened::Started { describe, rate_hz } => println!("started {rate_hz} {describe}"),
        Listened::Note(HeardNote::Pluck {
            id,
            pitch,
            at,
            uncertainty,
            ..
        }) => println!(
            "pluck {id} {} {:.6} {:.6}",
            pitch.midi(),
            clock.seconds(*at),
            uncertainty.as_secs_f64()
        ),
        Listened::Note(HeardNote::Settled { id, cents, .. }) => println!("settled {id} {cents:.3}"),
        Listened::Note(HeardNote::Withdrawn { id, why }) => println!("withdrawn {id} {why:?}"),
        Listened::Note(HeardNote::Unsure { at, why }) => {
            println!("unsure {:.6} {why:?}", clock.seconds(*at))
        }
        Listened::Note(HeardNote::Sung {
            frequency_hz,
            spread_cents,
            at,
            lasted,
        }) => println!(
            "sung {frequency_hz:.3} {spread_cents:.1} {:.6} {:.3}",
            clock.seconds(*at),
            lasted.as_secs_f64()
        ),
        Listened::Level { level_db } => println!("level {level_db:.1}"),
        Listened::Calibrating { done } => println!("calibrating {done:.2}"),
        Listened::Room { room } => println!(
            "room {}",
            room.trouble()
                .map_or_else(|| "fine".to_owned(), |trouble| trouble.to_string())
        ),
        Listened::Trouble { sentence } => println!("trouble {sentence}"),
        Listened::Back => println!("back"),
        _ => {}
    }
}
