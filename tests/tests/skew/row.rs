//! Students in a row, each with a sink of its own, all on one sample clock.
//!
//! Each terminal's sink is one channel of one null sink (`module-remap-sink`),
//! and the recorder takes that sink's monitor with all its channels. So a sample
//! of one channel and the sample beside it of another left at the same moment by
//! construction. Recording the monitors of separate null sinks would not do: each
//! hands its sound over in blocks of its own, when its own timer wakes it, and a
//! loopback or a combined sink between them resamples to hide just what is to be
//! seen here. What a terminal goes by stays its own: process, connection, buffers,
//! clock estimate, and the latency that the sound server reports for its stream.

use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::phones::play;
use fifthpeg_tests::{Hall, Process, SETTINGS, program};
use std::cell::RefCell;
use std::collections::VecDeque;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::sync::{Arc, Condvar, Mutex};
use std::time::{Duration, Instant};

pub const RATE_HZ: f64 = 48_000.0;
pub const NAMES: [&str; 4] = ["Mia", "Ivo", "Ruth", "Ben"];
/// Kept of the recording: more than any call lasts.
const KEPT_FRAMES: usize = 48_000 * 20;

pub struct Row {
    hall: Hall,
    log: RefCell<File>,
}

impl Row {
    /// `None`, once said plainly, when this machine has no PulseAudio.
    pub fn start(name: &str) -> Option<Row> {
        let hall = Hall::start_with_log(name, "debug")?;
        let map = channels().join(",");
        hall.pactl(&[
            "load-module",
            "module-null-sink",
            "sink_name=row",
            "rate=48000",
            &format!("channels={}", NAMES.len()),
            &format!("channel_map={map}"),
        ]);
        for (name, channel) in NAMES.iter().zip(channels()) {
            hall.pactl(&[
                "load-module",
                "module-remap-sink",
                &format!("sink_name={name}"),
                "master=row",
                "channels=1",
                &format!("master_channel_map={channel}"),
                "channel_map=mono",
                "remix=no",
            ]);
        }
        let log = File::open(hall.dir().join("log")).expect("the sound server's log");
        Some(Row {
            hall,
            log: RefCell::new(log),
        })
    }

    /// The terminal of one of [`NAMES`].
    pub fn student(&self, name: &str, address: &str, settings: Option<&Path>) -> Process {
        let mut command = self.hall.command(program());
        command
            .args(["join", address, "--as", name, "--plain"])
            .args(["--passphrase", PASSPHRASE])
            .env("PULSE_SINK", name);
        if let Some(settings) = settings {
            command.env(SETTINGS, settings);
        }
        Process::start(name, &mut command)
    }

    /// A page of one of [`NAMES`], which answers each call.
    #[allow(dead_code)] // Only where the page is tested.
    pub fn page(&self, name: &str, link: &str) -> Process {
        let mut node = self.hall.command("node");
        node.env("PULSE_SINK", name);
        let variables = [("NAME", name), ("SOUND", "yes"), ("PLACE", "1/0")];
        let scenes = ["open", "in", "welcomed", "answers-each", "over"];
        play(node, (link, &self.dir()), &variables, &scenes)
    }

    /// `fifthpeg listen` at the output of one of [`NAMES`], with settings kept in a
    /// folder.
    pub fn listen(&self, name: &str, settings: &Path) -> Process {
        let mut command = self.hall.command(program());
        command
            .args(["listen", "--plain", "--microphone", "none"])
            .env("PULSE_SINK", name)
            .env(SETTINGS, settings);
        Process::start("listen", &mut command)
    }

    /// How often a terminal was starved since this was asked last: it did not refill
    /// its queue in time, so that the sound server went on with silence.
    pub fn starved(&self) -> usize {
        let mut told = Vec::new();
        let read = self.log.borrow_mut().read_to_end(&mut told);
        read.expect("the sound server's log");
        let told = String::from_utf8_lossy(&told);
        told.matches("due to end of underrun").count()
    }

    /// A folder that goes with the row.
    pub fn dir(&self) -> PathBuf {
        self.hall.dir().to_owned()
    }

    /// Records every channel from now on.
    pub fn record(&self) -> Recorder {
        let mut parec = self
            .hall
            .command("parec")
            .args(["--device=row.monitor", "--format=float32le"])
            .args(["--rate=48000", "--latency-msec=20"])
            .arg(format!("--channels={}", NAMES.len()))
            .arg(format!("--channel-map={}", channels().join(",")))
            .stdout(Stdio::piped())
            .spawn()
            .expect("parec runs");
        let mut pipe = parec.stdout.take().expect("a pipe");
        let tape: Arc<(Mutex<Tape>, Condvar)> = Arc::default();
        let shared = Arc::clone(&tape);
        std::thread::spawn(move || {
            let (mut held, mut block) = (Vec::new(), [0u8; 65_536]);
            while let Ok(count @ 1..) = pipe.read(&mut block) {
                held.extend_from_slice(&block[..count]);
                let whole = held.len() / FRAME_BYTES * FRAME_BYTES;
                let mut tape = shared.0.lock().expect("the tape");
                for bytes in held
                    .drain(..whole)
                    .collect::<Vec<u8>>()
                    .chunks_exact(FRAME_BYTES)
                {
                    tape.take(bytes);
                }
                shared.1.notify_all();
            }
        });
        Recorder { parec, tape }
    }
}

fn channels() -> Vec<String> {
    (0..NAMES.len()).map(|n| format!("aux{n}")).collect()
}

const FRAME_BYTES: usize = 4 * NAMES.len();

pub type Frame = [f32; NAMES.len()];

/// The latest of the recording.
#[derive(Default)]
struct Tape {
    frames: VecDeque<Frame>,
    /// How many came before the first that is kept.
    forgotten: u64,
}

impl Tape {
    fn take(&mut self, bytes: &[u8]) {
        let mut frame = Frame::default();
        for (x, four) in frame.iter_mut().zip(bytes.chunks_exact(4)) {
            *x = f32::from_le_bytes([four[0], four[1], four[2], four[3]]);
        }
        self.frames.push_back(frame);
        if self.frames.len() > KEPT_FRAMES {
            self.frames.pop_front();
            self.forgotten += 1;
        }
    }

    fn end(&self) -> u64 {
        self.forgotten + self.frames.len() as u64
    }
}

/// A recorder, reading all the while.
pub struct Recorder {
    parec: Child,
    tape: Arc<(Mutex<Tape>, Condvar)>,
}

impl Recorder {
    /// How many frames were recorded so far.
    pub fn position(&self) -> u64 {
        self.tape.0.lock().expect("the tape").end()
    }

    /// Waits for the first frame from `from` on that satisfies; `None` when time
    /// is up.
    pub fn wait_for(
        &self,
        from: u64,
        time: Duration,
        is_it: impl Fn(&Frame) -> bool,
    ) -> Option<u64> {
        let deadline = Instant::now() + time;
        let mut from = from;
        let mut tape = self.tape.0.lock().expect("the tape");
        loop {
            from = from.max(tape.forgotten);
            let begin = (from - tape.forgotten) as usize;
            if begin < tape.frames.len() {
                if let Some(at) = tape.frames.range(begin..).position(&is_it) {
                    return Some(from + at as u64);
                }
                from = tape.end();
            }
            let left = deadline.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return None;
            }
            tape = self.tape.1.wait_timeout(tape, left).expect("the tape").0;
        }
    }

    /// Waits until so much is recorded; whether it came.
    pub fn wait_until(&self, position: u64, time: Duration) -> bool {
        self.wait_for(position, time, |_| true).is_some()
    }

    /// A stretch of the recording, channel by channel.
    pub fn part(&self, from: u64, to: u64) -> Vec<Vec<f64>> {
        let tape = self.tape.0.lock().expect("the tape");
        let place = |at: u64| (at.saturating_sub(tape.forgotten) as usize).min(tape.frames.len());
        let frames = tape.frames.range(place(from)..place(to));
        (0..NAMES.len())
            .map(|n| frames.clone().map(|frame| f64::from(frame[n])).collect())
            .collect()
    }
}

impl Drop for Recorder {
    fn drop(&mut self) {
        let _ = self.parec.kill();
        let _ = self.parec.wait();
    }
}
