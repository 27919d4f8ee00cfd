//! A room with a student in it: the tones of the lesson go to the left channel
//! of one sink, as headphones would, an instrument to the right one, which alone
//! the student's microphone hears. Both are recorded on one clock.

use super::instruments::{Playing, RATE};
use fifthpeg_measure::pitch;
use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::phones::play;
use fifthpeg_tests::pty::Pty;
use fifthpeg_tests::{Hall, Process, program};
use std::io::{Read, Write};
use std::path::PathBuf;
use std::process::{Child, Stdio};
use std::thread::JoinHandle;
use std::time::Duration;

pub struct Room {
    hall: Hall,
}

impl Room {
    /// `None`, once said plainly, when this machine has no PulseAudio.
    pub fn start(name: &str) -> Option<Room> {
        let hall = Hall::start(name)?;
        let load = |module: &[&str]| {
            let args: Vec<&str> = ["load-module"].iter().chain(module).copied().collect();
            hall.pactl(&args)
        };
        for (sink, channel) in [("phones", "front-left"), ("strings", "front-right")] {
            load(&[
                "module-remap-sink",
                &format!("sink_name={sink}"),
                "master=hall",
                "channels=1",
                &format!("master_channel_map={channel}"),
                "channel_map=mono",
                "remix=no",
            ]);
        }
        load(&[
            "module-remap-source",
            "source_name=room",
            "master=hall.monitor",
            "channels=1",
            "master_channel_map=front-right",
            "channel_map=mono",
            "remix=no",
        ]);
        Some(Room { hall })
    }

    /// A folder that goes with the room.
    pub fn dir(&self) -> PathBuf {
        self.hall.dir().to_owned()
    }

    fn join(&self, name: &str, address: &str, arguments: &[&str], places: [&str; 2]) -> Process {
        let mut command = self.hall.command(program());
        command
            .args(["join", address, "--as", name, "--plain"])
            .args(["--passphrase", PASSPHRASE])
            .args(["--microphone", "microphone"])
            .args(arguments)
            .envs([("PULSE_SINK", places[0]), ("PULSE_SOURCE", places[1])]);
        let mut student = Process::start(name, &mut command);
        student.wait_for("joined ");
        student
    }

    /// A student who plays, with headphones on.
    pub fn student(&self, name: &str, address: &str, arguments: &[&str]) -> Process {
        self.join(name, address, arguments, ["phones", "room"])
    }

    /// The same at a page, over https.
    #[allow(dead_code)] // Only where the page is tested.
    pub fn page(&self, name: &str, link: &str) -> Process {
        // Chromium opens no monitor of a sink by itself.
        self.hall.pactl(&["set-default-source", "room"]);
        let mut node = self.hall.command("node");
        node.envs([("PULSE_SINK", "phones"), ("PULSE_SOURCE", "room")]);
        let variables = [("NAME", name), ("SOUND", "yes")];
        let scenes = ["open", "in", "welcomed", "over-https", "go-on", "listens"];
        let scenes = [&scenes[..], &["stays"]].concat();
        play(node, (link, &self.dir()), &variables, &scenes)
    }

    /// The same on a screen of 80 by 24.
    pub fn screen(&self, name: &str, address: &str) -> Pty {
        let command = self.hall.command("");
        let text = |text: &std::ffi::OsStr| text.to_str().expect("text").to_owned();
        let hall: Vec<(String, String)> = command
            .get_envs()
            .filter_map(|(name, value)| Some((text(name), text(value?))))
            .collect();
        let mut variables: Vec<(&str, &str)> =
            hall.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
        variables.extend([("PULSE_SINK", "phones"), ("PULSE_SOURCE", "room")]);
        let arguments = ["join", address, "--as", name, "--headphones"];
        let more = ["--microphone", "microphone", "--passphrase", PASSPHRASE];
        let arguments = [&arguments[..], &more].concat();
        Pty::start(name, program(), &arguments, &variables, (80, 24))
    }

    /// A student whose speakers stand beside the microphone.
    pub fn student_by_speakers(&self, name: &str, address: &str, arguments: &[&str]) -> Process {
        self.join(name, address, arguments, ["hall", "hall.monitor"])
    }

    /// A student whose sound server lets nobody in.
    pub fn student_denied(&self, name: &str, address: &str, arguments: &[&str]) -> Process {
        let mut command = self.hall.command(program());
        command
            .args(["join", address, "--as", name, "--plain"])
            .args(["--passphrase", PASSPHRASE])
            .args(arguments)
            .env("PULSE_SERVER", "unix:/dev/null/nowhere")
            .env("ALSA_CONFIG_PATH", "/dev/null");
        let mut student = Process::start(name, &mut command);
        student.wait_for("joined ");
        student
    }

    /// A host who plays.
    pub fn host(&self, arguments: &[&str]) -> (Process, String) {
        let mut command = self.hall.command(program());
        command
            .args(["host", "--plain", "--no-announce", "--bind", "127.0.0.1"])
            .args(["--port", "0", "--output", "none"])
            .args(["--microphone", "microphone", "--passphrase", PASSPHRASE])
            .args(arguments)
            .env("PULSE_SOURCE", "room");
        let mut host = Process::start("host", &mut command);
        let line = host.wait_for("address ");
        let address = line.trim_start_matches("address ").to_owned();
        (host, address)
    }

    /// Takes the microphone away, with the whole sound system: of a source that
    /// goes alone, PulseAudio moves the listeners to another.
    pub fn unplug(&self) {
        self.hall.pactl(&["exit"]);
    }

    /// Plays on the instrument, to the end.
    pub fn play(&self, playing: &Playing) {
        self.begin_at(playing, "strings").end();
    }

    /// Plays where speakers and microphone are one.
    pub fn play_by_speakers(&self, playing: &Playing) {
        self.begin_at(playing, "hall").end();
    }

    /// Begins to play on the instrument.
    pub fn begin(&self, playing: &Playing) -> Player {
        self.begin_at(playing, "strings")
    }

    fn begin_at(&self, playing: &Playing, sink: &str) -> Player {
        let mut pacat = self
            .hall
            .command("pacat")
            .args(["--playback", "--format=float32le", "--rate=48000"])
            .args(["--channels=1", "--latency-msec=50"])
            .arg(format!("--device={sink}"))
            .stdin(Stdio::piped())
            .spawn()
            .expect("pacat runs");
        let mut pipe = pacat.stdin.take().expect("a pipe");
        let bytes: Vec<u8> = playing
            .samples
            .iter()
            .flat_map(|x| x.to_le_bytes())
            .collect();
        // It may be stopped before the end.
        let writer = std::thread::spawn(move || drop(pipe.write_all(&bytes)));
        Player { pacat, writer }
    }

    /// Plays two plucks of the C4 that was called: the answer as the host is told of it, and
    /// when it came by the recording, in seconds after the call's tone.
    pub fn answer_to(
        &self,
        recorder: Recorder,
        host: &mut Process,
        playing: &Playing,
    ) -> (String, f64) {
        self.play(playing);
        let answer = host.wait_for("answer Mia");
        let [phones, strings] = recorder.stop();
        assert!(answer.starts_with("answer Mia C4 right"), "{answer}");
        assert!(answer.ends_with(", played"), "{answer}");
        let onset = |samples: &[f64]| pitch::onset_s(samples, RATE, 0.05).expect("a sound");
        let second = onset(&strings) + playing.apart_s();
        (answer, second - onset(&phones))
    }

    /// Records both channels from now on.
    pub fn record(&self) -> Recorder {
        let mut parec = self
            .hall
            .command("parec")
            .args(["--device=hall.monitor", "--format=float32le"])
            .args(["--rate=48000", "--channels=2", "--latency-msec=20"])
            .stdout(Stdio::piped())
            .spawn()
            .expect("parec runs");
        let mut pipe = parec.stdout.take().expect("a pipe");
        let (running, runs) = std::sync::mpsc::channel();
        let reader = std::thread::spawn(move || {
            let (mut bytes, mut block) = (Vec::new(), [0u8; 65_536]);
            while let Ok(count @ 1..) = pipe.read(&mut block) {
                bytes.extend_from_slice(&block[..count]);
                let _ = running.send(());
            }
            bytes
        });
        runs.recv_timeout(Duration::from_secs(10))
            .expect("parec records");
        Recorder { parec, reader }
    }
}

/// Something that plays.
pub struct Player {
    pacat: Child,
    writer: JoinHandle<()>,
}

impl Player {
    /// Waits for its end.
    pub fn end(mut self) {
        self.writer.join().expect("it is written");
        assert!(self.pacat.wait().expect("pacat ends").success());
    }

    /// Ends it now.
    pub fn stop(mut self) {
        self.pacat.kill().expect("pacat ends");
        self.pacat.wait().expect("pacat has ended");
        self.writer.join().expect("it is written");
    }
}

/// A recorder, reading all the while.
pub struct Recorder {
    parec: Child,
    reader: JoinHandle<Vec<u8>>,
}

impl Recorder {
    /// The left channel and the right one.
    pub fn stop(mut self) -> [Vec<f64>; 2] {
        self.parec.kill().expect("parec ends");
        self.parec.wait().expect("parec has ended");
        let bytes = self.reader.join().expect("the reader ends");
        let mut channels = [Vec::new(), Vec::new()];
        for frame in bytes.chunks_exact(8) {
            for (channel, x) in channels.iter_mut().zip(frame.chunks_exact(4)) {
                channel.push(f64::from(f32::from_le_bytes([x[0], x[1], x[2], x[3]])));
            }
        }
        channels
    }
}

/// Time and uncertainty, in seconds, from "answer Mia C4 right, 5.74 s +/- 0.01 s,
/// played".
pub fn time_of(answer: &str) -> (f64, f64) {
    let mut figures = answer
        .split([' ', ','])
        .filter(|word| word.contains('.'))
        .map(|word| word.parse::<f64>().expect(answer));
    (figures.next().expect(answer), figures.next().expect(answer))
}
