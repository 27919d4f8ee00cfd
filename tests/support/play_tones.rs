//! Plays tones for the recording test: `play-tones OUTPUT HZ@MS...`, each at its
//! milliseconds from now and asked for shortly before. Prints the output it
//! opened, then for each tone the second of the system's clock at which it
//! starts, and the uncertainty; an error as one line. `play-tones patient
//! OUTPUT HZ@MS...` goes on after an error, and says `played` for each tone.

use fifthpeg_sound::{Level, OutputChoice, ToneSpec, Voice, open};
use std::error::Error;
use std::process::ExitCode;
use std::time::{Duration, Instant, SystemTime};

/// How long before its time a tone is asked for.
const AHEAD: Duration = Duration::from_millis(250);

fn main() -> ExitCode {
    match play() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn play() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1).peekable();
    let patient = args.next_if(|arg| arg == "patient").is_some();
    let choice: OutputChoice = args.next().ok_or("an output is missing")?.parse()?;
    let mut output = open(&choice)?;
    println!("{}", output.describe());
    let (begun, begun_s) = (Instant::now(), SystemTime::now());
    for (seed, arg) in (0..).zip(args) {
        let (hz, ms) = arg.split_once('@').ok_or("a tone is written HZ@MS")?;
        let tone = ToneSpec {
            frequency_hz: hz.parse()?,
            voice: Voice::Banjo,
            pluck_seed: seed,
            level: Level::from_percent(100)?,
        };
        let wanted = begun + Duration::from_millis(ms.parse()?);
        std::thread::sleep((wanted - AHEAD).saturating_duration_since(Instant::now()));
        let started = match output.play(&tone, wanted) {
            Err(error) if patient => {
                println!("{error}");
                continue;
            }
            started => started?,
        };
        if patient {
            println!("played {hz}");
            continue;
        }
        let at = begun_s + (started.at - begun);
        println!(
            "{:.6} {:.6}",
            at.duration_since(SystemTime::UNIX_EPOCH)?.as_secs_f64(),
            started.uncertainty.as_secs_f64()
        );
    }
    std::thread::sleep(Duration::from_secs(2));
    output.finish()?;
    Ok(())
}
