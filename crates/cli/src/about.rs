//! What this program is: its version, where it was built from, and what is in it.

use std::env::consts;
use std::sync::LazyLock;

/// How a thing is found out.
type Said = fn() -> String;

/// What `--version` says beside the number, each with how it is found out.
const ABOUT: &[(&str, Said)] = &[
    ("commit", || commit().to_owned()),
    ("made for", || format!("{} {}", consts::OS, consts::ARCH)),
    ("sound", || SOUND.to_owned()),
    ("protocol", || fifthpeg_wire::PROTOCOL_NEWEST.to_string()),
    ("lesson book", || {
        format!("version {}", fifthpeg_book::schema::VERSION)
    }),
];

/// What there is to sound and hear with.
const SOUND: &str = if cfg!(target_env = "musl") {
    "WAV, FLAC and MIDI files; no loudspeaker or microphone"
} else if cfg!(target_os = "linux") {
    "loudspeaker and microphone by ALSA, whose library is loaded when it is wanted; WAV, FLAC and MIDI files"
} else {
    "loudspeaker and microphone; WAV, FLAC and MIDI files"
};

/// The commit that it was built from, where whoever built it noted that.
fn commit() -> &'static str {
    option_env!("FIFTHPEG_COMMIT").unwrap_or("not noted when it was built")
}

/// The version and what is built in, a line for each.
pub fn version() -> &'static str {
    static WORDS: LazyLock<String> = LazyLock::new(|| {
        let rows = ABOUT
            .iter()
            .map(|(what, said)| format!("\n{what}: {}", said()));
        env!("CARGO_PKG_VERSION").to_owned() + &rows.collect::<String>()
    });
    &WORDS
}
