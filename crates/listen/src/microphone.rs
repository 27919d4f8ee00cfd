//! What is known of the microphone.

use fifthpeg_core::{HeardNote, Pitch, Spelling};
use fifthpeg_sound::{Listened, Room, RoomTrouble};

/// How the microphone fares.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum MicrophoneState {
    /// None was asked for.
    #[default]
    Off,
    /// It listens; what it is.
    Listening(String),
    /// The room is being measured: so much is done, 0 to 1.
    Measuring(f64),
    /// It does not work; why, and what to do.
    Trouble(String),
}

/// What is known of the microphone.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Microphone {
    /// How it fares.
    pub state: MicrophoneState,
    /// How loud it is now, in dB re full scale.
    pub level_db: Option<f64>,
    /// What the room is like, in words.
    pub room: Option<String>,
    /// The last note it heard.
    pub heard: Option<Pitch>,
    device: String,
    /// Nothing at all was heard while the room was measured.
    seemed_muted: bool,
}

impl Microphone {
    /// Takes what the listener tells.
    pub fn take(&mut self, listened: &Listened) {
        match listened {
            Listened::Started { describe, .. } => {
                self.device.clone_from(describe);
                self.state = MicrophoneState::Listening(describe.clone());
            }
            Listened::Calibrating { done } => self.state = MicrophoneState::Measuring(*done),
            Listened::Room { room } => {
                self.room = Some(room_words(room));
                self.seemed_muted = matches!(room.trouble(), Some(RoomTrouble::Silent));
                self.state = MicrophoneState::Listening(self.device.clone());
            }
            Listened::Level { level_db } => self.level_db = Some(*level_db),
            Listened::Note(HeardNote::Pluck { pitch, .. }) => {
                self.heard = Some(*pitch);
                // What was heard since is not muted.
                if std::mem::take(&mut self.seemed_muted) {
                    self.room = None;
                }
            }
            Listened::Trouble { sentence } => {
                self.level_db = None;
                self.state = MicrophoneState::Trouble(sentence.clone());
            }
            Listened::Back => self.state = MicrophoneState::Listening(self.device.clone()),
            _ => {}
        }
    }

    /// The last note it heard, by name.
    pub fn heard_name(&self, spelling: Spelling) -> Option<String> {
        self.heard.map(|pitch| pitch.name(spelling).to_string())
    }

    /// How it fares, in a few words.
    pub fn words(&self) -> String {
        match &self.state {
            MicrophoneState::Off => {
                "no microphone is listened to; --microphone turns one on".to_owned()
            }
            MicrophoneState::Listening(device) => format!("listening: {device}"),
            MicrophoneState::Measuring(_) => "measuring the room: keep quiet".to_owned(),
            MicrophoneState::Trouble(why) => format!("trouble: {why}"),
        }
    }
}

/// What a measured room is like, and what to do about it.
pub fn room_words(room: &Room) -> String {
    match room.trouble() {
        Some(RoomTrouble::Silent) => format!("muted? {}", RoomTrouble::Silent),
        Some(RoomTrouble::TooLoud) => format!("very loud: {}", RoomTrouble::TooLoud),
        Some(trouble) => trouble.to_string(),
        None => format!(
            "quiet enough: its noise is {:.0} dB below the loudest",
            -room.noise_db
        ),
    }
}
