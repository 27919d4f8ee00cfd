//! Practice tracks: tones at times, written to sound files and to a Standard
//! MIDI File.
//!
//! The same tones give the same bytes. A track is made block by block and goes
//! to disk as it is made, so its length costs no memory; each tone that comes
//! again is rendered once.

mod midi;
mod samples;
mod write;

pub use midi::{MidiNote, MidiPart, MidiTrack, TICKS_PER_SECOND, midi_file};
pub use samples::{TRACK_RATE_HZ, TrackSamples, TrackTone};
pub use write::{SoundFiles, TrackWriteError, write_track};
