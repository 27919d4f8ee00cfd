//! A hall with a host and phones, for the tests of the page.

use std::path::{Path, PathBuf};
use std::process::Command;

use fifthpeg_core::{Pitch, Reference};
use fifthpeg_sound::{Level, ToneSpec, Voice, render};

use crate::machines::{Addresses, Machines};
use crate::net::PASSPHRASE;
use crate::process::BOOKS;
use crate::{Hall as SoundSystem, PLACES, Process, program, skip, temporary};

const CHROMIUM: &str = "/usr/bin/chromium";

fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}

/// A host whose key is kept in that folder, so that it is the same when it starts again.
pub fn start(machines: &Machines, folder: &Path, arguments: &[&str]) -> Process {
    let mut command = machines.on("host", program());
    command.args(["host", "--plain", "--output", "none", "--reach", "twelve"]);
    command.args(["--name", "Village hall"]).args(arguments);
    if !arguments.contains(&"--open") {
        command.args(["--passphrase", PASSPHRASE]);
    }
    let mut host = Process::start("host", command.env(BOOKS, folder).env(PLACES, folder));
    host.wait_for("address ");
    host
}

/// Whether there is a browser here, and what drives it; said if not.
pub fn can_be_tried() -> bool {
    let tools = root().join("target/pages-tools/node_modules/playwright-core");
    let can = Path::new(CHROMIUM).exists() && tools.exists();
    if !can {
        skip(
            "the page is not tried: Chromium and playwright-core are needed (scripts/test brings both)",
        );
    }
    can
}

/// The link that a host in plain mode gives phones; `None`, and said, where it has no page.
pub fn link_of(host: &mut Process) -> Option<String> {
    host.type_line("page");
    host.type_line("pause 0.1");
    host.wait_for("waited pause");
    let said = host.lines();
    let of = |start: &str| said.iter().find_map(|line| line.strip_prefix(start));
    let Some(address) = of("page http") else {
        skip("the page is not tried: this program was built without it (scripts/build-page)");
        return None;
    };
    let words = of("page words ").map(|words| format!("#{}", words.replace(' ', "-")));
    Some(format!("http{address}{}", words.unwrap_or_default()))
}

/// A phone that plays these scenes, where `node` runs.
pub fn play(
    mut node: Command,
    (link, folder): (&str, &Path),
    variables: &[(&str, &str)],
    scenes: &[&str],
) -> Process {
    node.current_dir(root().join("target/pages-tools"))
        .arg(root().join("scripts/page/play.mjs"))
        .arg(link)
        .arg(folder)
        .args(scenes)
        .env("CHROMIUM", CHROMIUM)
        .envs(variables.iter().copied());
    Process::start("the phone", &mut node)
}

/// A hall with a host, and a link to its page.
pub struct Hall {
    /// The machines: `host`, and `mia` with the phones.
    pub machines: Machines,
    /// The host.
    pub host: Process,
    /// What the code of the host leads to.
    pub link: String,
    /// Where pictures go.
    pub folder: PathBuf,
}

impl Hall {
    /// `None`, and said, where something is missing.
    pub fn open(test: &str, arguments: &[&str]) -> Option<Self> {
        if !can_be_tried() {
            return None;
        }
        let machines = Machines::build(Addresses::FourAlone)?;
        let folder = temporary(test);
        let mut host = start(&machines, &folder, arguments);
        let link = link_of(&mut host)?;
        Some(Self {
            machines,
            host,
            link,
            folder,
        })
    }

    /// A phone that plays these scenes.
    pub fn phone(&self, link: &str, variables: &[(&str, &str)], scenes: &[&str]) -> Process {
        let node = self.machines.on("mia", "node");
        play(node, (link, &self.folder), variables, scenes)
    }

    /// One with Firefox, which taps through a whole lesson; `None`, and said, where there is none.
    /// Without a sound system Firefox has no audio clock.
    pub fn firefox(&self, sound: &SoundSystem) -> Option<Process> {
        const FIREFOX: &str = "/usr/bin/firefox";
        if !Path::new(FIREFOX).exists() {
            skip("the page is not tried in Firefox: the package firefox-esr is missing");
            return None;
        }
        let mut phone = self.machines.on("mia", "node");
        phone
            .arg(root().join("scripts/page/firefox.mjs"))
            .args([&self.link, &self.folder.display().to_string()])
            .env("FIREFOX", FIREFOX)
            .envs(
                sound
                    .command("")
                    .get_envs()
                    .filter_map(|(name, value)| Some((name, value?))),
            );
        Some(Process::start("Firefox", &mut phone))
    }
}

/// What the microphone hears: a string plucked every 0.8 seconds, over and over.
pub fn plucked(folder: &Path, note: &str) -> String {
    const RATE_HZ: u32 = 48_000;
    let pitch: Pitch = note.parse().expect("a note");
    let tone = ToneSpec {
        frequency_hz: pitch.frequency_hz(Reference::default()),
        voice: Voice::Banjo,
        pluck_seed: 1,
        level: Level::from_percent(100).expect("a level"),
    };
    let mut samples = render(&tone, RATE_HZ).expect("a tone");
    samples.resize(RATE_HZ as usize * 4 / 5, 0.0);
    let path = folder.join("plucked.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&path, spec).expect("a sound file");
    for sample in samples {
        let sample = (sample * f32::from(i16::MAX)) as i16;
        writer.write_sample(sample).expect("room on the disk");
    }
    writer.finalize().expect("room on the disk");
    path.to_str().expect("a path in Unicode").to_owned()
}

/// Among friends, the host having called a note and found it: the turn is Mia's, who calls the
/// next from a phone, and the host finds that as well by this answer.
pub fn turn_goes_to_mia(host: &mut Process, phone: &mut Process, answer: &str) {
    host.type_line("pick 1/0");
    // Everyone has found it, so it is shown and the turn passes by itself.
    host.wait_for("turn Mia");
    host.wait_for("call 2 sounding, called by Mia");
    phone.wait_for("called by me");
    host.type_line(&format!("answer {answer}"));
    host.wait_for(&format!("mark {answer} right"));
    phone.wait_for("all found");
}

/// The phone has played its scenes.
///
/// # Panics
/// With what it said, if it has not.
pub fn ended_well(mut phone: Process) {
    let (code, lines, errors) = phone.finish();
    assert_eq!(code, Some(0), "{}\n{errors}", lines.join("\n"));
}
