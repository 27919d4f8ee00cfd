//! Judges the ear on a folder of recordings with known notes.
//!
//! `ear_judge FOLDER [EVENTS.csv] [--set NAME] [--show]` reads
//! `FOLDER/manifest.csv` (header `file,set,condition,onset_s,midi,cents`; a line
//! for each target onset, or one with empty fields for a file without any), lets
//! an ear hear each file as a stream, writes all events, and prints a summary.
//! The last column of an event, `may_answer`, is `yes` or `no` for a pluck, with the
//! reason in `why` where it is `no`, and empty where the file ended before.
//! A target is found when a pluck has its onset within 50 ms of the true one,
//! and right when the note is the same. `--show` prints each target missed.

use std::collections::BTreeMap;
use std::error::Error;
use std::fs;
use std::io::Write;
use std::path::Path;

use fifthpeg_core::{Pitch, Reference};
use fifthpeg_ear::{Ear, EarSettings, Heard};

const NEAR_S: f64 = 0.05;
const BLOCK: usize = 480;

#[derive(Clone)]
struct Target {
    onset_s: f64,
    midi: i32,
    cents: Option<f64>,
}

#[derive(Default)]
struct File {
    set: String,
    condition: String,
    targets: Vec<Target>,
}

#[derive(Default, Clone)]
struct Event {
    kind: &'static str,
    onset_s: f64,
    midi: Option<i32>,
    cents: f64,
    level_db: f64,
    decided_s: Option<f64>,
    settled_cents: Option<f64>,
    why: String,
    may_answer: &'static str,
}

#[derive(Default)]
struct Tally {
    files: usize,
    targets: usize,
    right: usize,
    octave: usize,
    wrong: usize,
    unsure: usize,
    missed: usize,
    extra: usize,
    withdrawn: usize,
    spoken_s: f64,
    latencies_ms: Vec<f64>,
    onset_ms: Vec<f64>,
    cents_off: Vec<f64>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let (mut places, mut only, mut show) = (Vec::new(), None, false);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--set" => only = words.next(),
            "--show" => show = true,
            _ => places.push(word),
        }
    }
    let folder = places.first().ok_or("say which folder to judge")?;
    let folder = Path::new(folder);
    let files = manifest(folder)?;
    let mut out = match places.get(1) {
        Some(path) => Some(std::io::BufWriter::new(fs::File::create(path)?)),
        None => None,
    };
    if let Some(out) = &mut out {
        writeln!(
            out,
            "file,kind,onset_s,midi,cents,level_db,decided_s,settled_cents,why,may_answer"
        )?;
    }
    let ranges = ranges(&files);
    let mut tallies: BTreeMap<(String, String), Tally> = BTreeMap::new();
    for (name, file) in &files {
        if only.as_ref().is_some_and(|only| *only != file.set) {
            continue;
        }
        let (events, length_s) = hear(&folder.join(name), ranges[&file.set])?;
        if let Some(out) = &mut out {
            for event in &events {
                write_event(out, name, event)?;
            }
        }
        let tally = tallies
            .entry((file.set.clone(), file.condition.clone()))
            .or_default();
        tally.spoken_s += length_s;
        count(tally, name, file, &events, show);
    }
    print(&tallies);
    Ok(())
}

fn manifest(folder: &Path) -> Result<BTreeMap<String, File>, Box<dyn Error>> {
    let text = fs::read_to_string(folder.join("manifest.csv"))?;
    let mut files: BTreeMap<String, File> = BTreeMap::new();
    for line in text.lines().skip(1).filter(|line| !line.trim().is_empty()) {
        let fields: Vec<&str> = line.split(',').map(str::trim).collect();
        let field = |i: usize| fields.get(i).copied().unwrap_or("");
        let file = files.entry(field(0).to_owned()).or_default();
        file.set = field(1).to_owned();
        file.condition = field(2).to_owned();
        if !field(3).is_empty() && !field(4).is_empty() {
            file.targets.push(Target {
                onset_s: field(3).parse()?,
                midi: field(4).parse::<f64>()?.round() as i32,
                cents: field(5).parse().ok(),
            });
        }
    }
    Ok(files)
}

/// The neck of each set: the banjo's 22 frets (D3 to C6), or more if a set has
/// notes beyond them.
fn ranges(files: &BTreeMap<String, File>) -> BTreeMap<String, (i32, i32)> {
    let mut ranges = BTreeMap::new();
    for file in files.values() {
        let range = ranges.entry(file.set.clone()).or_insert((50, 84));
        for target in &file.targets {
            range.0 = target.midi.min(range.0);
            range.1 = target.midi.max(range.1);
        }
    }
    ranges
}

fn hear(path: &Path, range: (i32, i32)) -> Result<(Vec<Event>, f64), Box<dyn Error>> {
    let mut reader = hound::WavReader::open(path)?;
    let spec = reader.spec();
    let channels = usize::from(spec.channels);
    let samples: Vec<f32> = match spec.sample_format {
        hound::SampleFormat::Float => reader.samples::<f32>().collect::<Result<_, _>>()?,
        hound::SampleFormat::Int => {
            let full = (1i64 << (spec.bits_per_sample - 1)) as f32;
            reader
                .samples::<i32>()
                .map(|sample| sample.map(|sample| sample as f32 / full))
                .collect::<Result<_, _>>()?
        }
    };
    let mono: Vec<f32> = samples
        .chunks(channels)
        .map(|frame| frame.iter().sum::<f32>() / channels as f32)
        .collect();
    let rate = f64::from(spec.sample_rate);
    let pitch = |midi: i32| Pitch::new(midi as u8).ok_or("no such note");
    let mut ear = Ear::new(EarSettings {
        sample_rate_hz: spec.sample_rate,
        lowest: pitch(range.0)?,
        highest: pitch(range.1)?,
        reference: Reference::default(),
    })?;
    let mut events: Vec<Event> = Vec::new();
    let mut places = BTreeMap::new();
    for block in mono.chunks(BLOCK) {
        ear.hear(block);
        while let Some(heard) = ear.poll() {
            match heard {
                Heard::Pluck(pluck) => {
                    places.insert(pluck.id, events.len());
                    events.push(Event {
                        kind: "pluck",
                        onset_s: pluck.onset / rate,
                        midi: Some(i32::from(pluck.pitch.midi())),
                        cents: pluck.cents,
                        level_db: pluck.level_db,
                        decided_s: Some(pluck.decided_at as f64 / rate),
                        ..Event::default()
                    });
                }
                Heard::Settled(settled) => {
                    events[places[&settled.id]].settled_cents = Some(settled.cents);
                }
                Heard::MayAnswer { id, .. } => events[places[&id]].may_answer = "yes",
                Heard::MayNotAnswer { id, why } => {
                    let event = &mut events[places[&id]];
                    event.may_answer = "no";
                    event.why = why.to_string();
                }
                Heard::Withdrawn { id, why } => {
                    let event = &mut events[places[&id]];
                    event.kind = "withdrawn";
                    event.why = why.to_string();
                }
                Heard::Unsure {
                    onset,
                    level_db,
                    why,
                } => events.push(Event {
                    kind: "unsure",
                    onset_s: onset / rate,
                    level_db,
                    why: why.to_string(),
                    ..Event::default()
                }),
                _ => {}
            }
        }
    }
    Ok((events, mono.len() as f64 / rate))
}

fn count(tally: &mut Tally, name: &str, file: &File, events: &[Event], show: bool) {
    tally.files += 1;
    tally.withdrawn += events.iter().filter(|e| e.kind == "withdrawn").count();
    let mut used = vec![false; events.len()];
    for target in &file.targets {
        tally.targets += 1;
        let nearest = |kind: &str| {
            (0..events.len())
                .filter(|&i| {
                    events[i].kind == kind
                        && !used[i]
                        && (events[i].onset_s - target.onset_s).abs() <= NEAR_S
                })
                .min_by(|&a, &b| {
                    let off = |i: usize| (events[i].onset_s - target.onset_s).abs();
                    off(a).total_cmp(&off(b))
                })
        };
        let (event, word) = if let Some(i) = nearest("pluck") {
            used[i] = true;
            let event = &events[i];
            let midi = event.midi.unwrap_or(0);
            if let Some(decided_s) = event.decided_s {
                tally
                    .latencies_ms
                    .push((decided_s - target.onset_s) * 1000.0);
            }
            tally
                .onset_ms
                .push((event.onset_s - target.onset_s).abs() * 1000.0);
            if midi == target.midi {
                tally.right += 1;
                if let (Some(settled), Some(cents)) = (event.settled_cents, target.cents) {
                    tally.cents_off.push((settled - cents).abs());
                }
                continue;
            }
            tally.wrong += 1;
            if (midi - target.midi) % 12 == 0 {
                tally.octave += 1;
            }
            (Some(i), "wrong")
        } else if let Some(i) = nearest("unsure").or(nearest("withdrawn")) {
            tally.unsure += 1;
            (Some(i), "unsure")
        } else {
            tally.missed += 1;
            (None, "missed")
        };
        if show {
            let heard = event.map(|i| {
                let e = &events[i];
                format!(
                    "{} {:?} at {:.3} level {:.1} {}",
                    e.kind, e.midi, e.onset_s, e.level_db, e.why
                )
            });
            println!(
                "{word} {name} {} at {:.3}: {}",
                target.midi,
                target.onset_s,
                heard.unwrap_or_default()
            );
        }
    }
    for (event, used) in events.iter().zip(&used) {
        if event.kind == "pluck" && !used {
            tally.extra += 1;
            if show {
                println!(
                    "extra {name} {:?} at {:.3} level {:.1}",
                    event.midi, event.onset_s, event.level_db
                );
            }
        }
    }
}

fn print(tallies: &BTreeMap<(String, String), Tally>) {
    println!(
        "{:<12} {:<18} {:>5} {:>7} {:>6} {:>6} {:>6} {:>6} {:>6} {:>5} {:>6} {:>6} {:>6} {:>6} {:>7}",
        "set",
        "condition",
        "notes",
        "right%",
        "wrong",
        "octave",
        "unsure",
        "missed",
        "extra",
        "drawn",
        "min",
        "med ms",
        "p95 ms",
        "on ms",
        "cents"
    );
    for ((set, condition), tally) in tallies {
        let share = 100.0 * tally.right as f64 / tally.targets.max(1) as f64;
        println!(
            "{set:<12} {condition:<18} {:>5} {share:>7.2} {:>6} {:>6} {:>6} {:>6} {:>6} {:>5} {:>6.1} {:>6.1} {:>6.1} {:>6.1} {:>7.2}",
            tally.targets,
            tally.wrong,
            tally.octave,
            tally.unsure,
            tally.missed,
            tally.extra,
            tally.withdrawn,
            tally.spoken_s / 60.0,
            part(&tally.latencies_ms, 0.5),
            part(&tally.latencies_ms, 0.95),
            part(&tally.onset_ms, 0.5),
            part(&tally.cents_off, 0.5),
        );
    }
}

/// The value below which a share of all values lies.
fn part(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = (share * sorted.len() as f64) as usize;
    sorted
        .get(at.min(sorted.len().saturating_sub(1)))
        .copied()
        .unwrap_or(f64::NAN)
}

fn write_event(out: &mut impl Write, name: &str, event: &Event) -> std::io::Result<()> {
    let number = |value: Option<f64>| value.map(|v| format!("{v:.4}")).unwrap_or_default();
    writeln!(
        out,
        "{name},{},{:.5},{},{:.1},{:.1},{},{},{},{}",
        event.kind,
        event.onset_s,
        event.midi.map(|midi| midi.to_string()).unwrap_or_default(),
        event.cents,
        event.level_db,
        number(event.decided_s),
        number(event.settled_cents),
        event.why,
        event.may_answer
    )
}
