//! A track as a Standard MIDI File.
//!
//! Source of the format: "Standard MIDI Files 1.0" (RP-001, MIDI Manufacturers
//! Association). Type 1: the first track holds tempo and markers alone, each
//! part has a track and a channel of its own. 500 ticks to a quarter note of half
//! a second, so that a tick is a millisecond and nothing is rounded. Instruments
//! are those of General MIDI (level 1, the same association): 106 Banjo, 26
//! Acoustic Guitar (steel), 12 Vibraphone for the plain voice, counted from 1.
//! Where A4 is not 440 Hz the channels are tuned by registered parameters 1 and
//! 2 (MIDI 1.0 Detailed Specification: channel fine and coarse tuning).

use crate::Voice;
use midly::num::{u4, u7, u15, u24, u28};
use midly::{
    Format, Header, MetaMessage, MidiMessage, Smf, Timing, Track, TrackEvent, TrackEventKind,
};
use std::time::Duration;

/// Ticks in a second.
pub const TICKS_PER_SECOND: u32 = 1000;
const TICKS_PER_QUARTER: u16 = 500;
const MICROSECONDS_PER_QUARTER: u32 = 500_000;
/// The file states neither loudness nor touch of its own: a middling one.
const VELOCITY: u8 = 80;

/// One instrument of the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MidiPart {
    /// Its name, as players show it.
    pub name: String,
    /// Decides the instrument.
    pub voice: Voice,
}

/// One note.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MidiNote {
    /// Which of the parts plays it, counted from 0.
    pub part: usize,
    /// When it starts; held to the millisecond.
    pub at: Duration,
    /// How long it is held.
    pub lasts: Duration,
    /// MIDI note number, 0 to 127.
    pub note: u8,
}

/// What goes into the file.
#[derive(Debug, Clone, PartialEq)]
pub struct MidiTrack {
    /// The title.
    pub title: String,
    /// The parts, at most 16.
    pub parts: Vec<MidiPart>,
    /// The notes, in any order. One of a part that does not exist is left out.
    pub notes: Vec<MidiNote>,
    /// Words at moments.
    pub markers: Vec<(Duration, String)>,
    /// The frequency of A4, in hertz.
    pub a4_hz: f64,
    /// The whole.
    pub length: Duration,
}

/// The bytes of the file.
pub fn midi_file(track: &MidiTrack) -> Vec<u8> {
    let header = Header::new(
        Format::Parallel,
        Timing::Metrical(u15::from(TICKS_PER_QUARTER)),
    );
    let mut smf = Smf::new(header);
    smf.tracks.push(conductor(track));
    for (index, part) in track.parts.iter().enumerate().take(16) {
        smf.tracks.push(part_track(track, index, part));
    }
    let mut bytes = Vec::new();
    // Writing to memory fails only for events that cannot be told apart, such as
    // an end in mid-track; these are in order.
    let written = smf.write(&mut bytes);
    debug_assert!(written.is_ok());
    bytes
}

fn conductor(track: &MidiTrack) -> Track<'_> {
    let mut events = vec![
        (0, meta(MetaMessage::TrackName(track.title.as_bytes()))),
        (
            0,
            meta(MetaMessage::Tempo(u24::from(MICROSECONDS_PER_QUARTER))),
        ),
        // Four quarters to the bar, a click each quarter.
        (0, meta(MetaMessage::TimeSignature(4, 2, 24, 8))),
    ];
    let markers = track.markers.iter();
    events.extend(
        markers.map(|(at, words)| (ticks(*at), meta(MetaMessage::Marker(words.as_bytes())))),
    );
    in_order(events, track)
}

fn part_track<'a>(track: &'a MidiTrack, index: usize, part: &'a MidiPart) -> Track<'a> {
    let channel = index as u8;
    let send = |message| TrackEventKind::Midi {
        channel: u4::from(channel),
        message,
    };
    let mut events = vec![
        (0, meta(MetaMessage::TrackName(part.name.as_bytes()))),
        (
            0,
            send(MidiMessage::ProgramChange {
                program: u7::from(program(part.voice)),
            }),
        ),
    ];
    events.extend(tuning(track.a4_hz).into_iter().map(|(controller, value)| {
        let (controller, value) = (u7::from(controller), u7::from(value));
        (0, send(MidiMessage::Controller { controller, value }))
    }));
    // The end of a note before the start of the next at the same moment.
    let mut notes = Vec::new();
    for note in track.notes.iter().filter(|note| note.part == index) {
        let key = u7::from(note.note.min(127));
        let (from, to) = (ticks(note.at), ticks(note.at + note.lasts));
        let vel = u7::from(VELOCITY);
        notes.push((from, 1, send(MidiMessage::NoteOn { key, vel })));
        notes.push((
            to,
            0,
            send(MidiMessage::NoteOff {
                key,
                vel: u7::from(64),
            }),
        ));
    }
    notes.sort_by_key(|(at, order, _)| (*at, *order));
    events.extend(notes.into_iter().map(|(at, _, event)| (at, event)));
    in_order(events, track)
}

fn meta(message: MetaMessage<'_>) -> TrackEventKind<'_> {
    TrackEventKind::Meta(message)
}

/// Events at ticks as events with the ticks between them, and the end.
fn in_order<'a>(mut events: Vec<(u32, TrackEventKind<'a>)>, track: &MidiTrack) -> Track<'a> {
    events.sort_by_key(|(at, _)| *at);
    let last = events.last().map_or(0, |(at, _)| *at);
    events.push((ticks(track.length).max(last), meta(MetaMessage::EndOfTrack)));
    let mut before = 0;
    events
        .into_iter()
        .map(|(at, kind)| {
            let delta = u28::from(at - before);
            before = at;
            TrackEvent { delta, kind }
        })
        .collect()
}

/// Up to 2^28 - 1 ticks, which is three days.
fn ticks(time: Duration) -> u32 {
    let ticks = time.as_millis() * u128::from(TICKS_PER_SECOND) / 1000;
    u32::try_from(ticks).unwrap_or(u32::MAX).min((1 << 28) - 1)
}

/// The General MIDI program, counted from 0.
fn program(voice: Voice) -> u8 {
    match voice {
        Voice::Banjo => 105,
        Voice::Guitar => 25,
        Voice::Plain => 11,
    }
}

/// Controllers that tune a channel: registered parameter numbers by 101 and 100,
/// their values by 6 and 38.
fn tuning(a4_hz: f64) -> Vec<(u8, u8)> {
    let cents = 1200.0 * (a4_hz / 440.0).log2();
    if !cents.is_finite() || cents.abs() < 0.005 {
        return Vec::new();
    }
    let semitones = (cents / 100.0).round().clamp(-64.0, 63.0);
    // 8192 is in tune, and 8192 more a whole semitone up.
    let fine = (8192.0 + (cents - 100.0 * semitones) / 100.0 * 8192.0).round() as u16;
    let fine = fine.min(16_383);
    vec![
        (101, 0),
        (100, 1),
        (6, (fine >> 7) as u8),
        (38, (fine & 127) as u8),
        (101, 0),
        (100, 2),
        (6, (64.0 + semitones) as u8),
        (38, 0),
        // No parameter is meant from here on.
        (101, 127),
        (100, 127),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn track(a4_hz: f64) -> MidiTrack {
        let note = |part, at, lasts, note| MidiNote {
            part,
            at: Duration::from_millis(at),
            lasts: Duration::from_millis(lasts),
            note,
        };
        MidiTrack {
            title: "Practice".to_owned(),
            parts: [("Call", Voice::Banjo), ("Answer", Voice::Guitar)]
                .map(|(name, voice)| MidiPart {
                    name: name.to_owned(),
                    voice,
                })
                .to_vec(),
            notes: vec![
                note(0, 2000, 1000, 62),
                note(0, 3000, 1000, 62),
                note(1, 6500, 900, 55),
                note(7, 0, 1, 1),
            ],
            markers: vec![(Duration::from_secs(2), "1".to_owned())],
            a4_hz,
            length: Duration::from_secs(9),
        }
    }

    fn absolute<'a>(track: &'a Track<'a>) -> Vec<(u32, TrackEventKind<'a>)> {
        let mut at = 0;
        track
            .iter()
            .map(|event| {
                at += event.delta.as_int();
                (at, event.kind)
            })
            .collect()
    }

    #[test]
    fn it_reads_back_as_it_was_meant() {
        let bytes = midi_file(&track(440.0));
        let smf = Smf::parse(&bytes).expect("a MIDI file");
        assert_eq!(smf.header.format, Format::Parallel);
        assert_eq!(smf.tracks.len(), 3);
        let played: Vec<(u32, bool, u8)> = absolute(&smf.tracks[1])
            .into_iter()
            .filter_map(|(at, kind)| match kind {
                TrackEventKind::Midi { message, .. } => match message {
                    MidiMessage::NoteOn { key, .. } => Some((at, true, key.as_int())),
                    MidiMessage::NoteOff { key, .. } => Some((at, false, key.as_int())),
                    _ => None,
                },
                _ => None,
            })
            .collect();
        assert_eq!(
            played,
            [
                (2000, true, 62),
                (3000, false, 62),
                (3000, true, 62),
                (4000, false, 62)
            ]
        );
        for track in &smf.tracks {
            let last = absolute(track).pop();
            assert_eq!(last, Some((9000, meta(MetaMessage::EndOfTrack))));
        }
    }

    #[test]
    fn another_a4_tunes_the_channels() {
        assert!(tuning(440.0).is_empty());
        for (a4_hz, coarse, cents) in [
            (415.0, 63, -1.2706),
            (442.0, 64, 7.8514),
            (390.0, 62, -8.8353),
        ] {
            // Cents from outside (Python): 1200·log2(a4/440), less the whole semitones.
            let sent = tuning(a4_hz);
            let fine = f64::from(sent[2].1) * 128.0 + f64::from(sent[3].1);
            assert!(
                ((fine - 8192.0) / 81.92 - cents).abs() < 0.01,
                "{a4_hz}: {fine}"
            );
            assert_eq!(sent[6], (6, coarse));
        }
    }
}
