//! Laying a track out in time.

use core::time::Duration;

use fifthpeg_core::{Neck, Pitch, Position, Reach};

use super::pattern;
use super::settings::{GAPS, MAX_CALLS, TrackError, TrackLength, TrackSettings};
use crate::message::Voice;
use crate::picker::Picker;

/// Silence before the first sound.
pub const LEAD_IN: Duration = Duration::from_secs(2);
/// From the note that ends a call to what comes next.
pub const REST: Duration = Duration::from_millis(3500);
/// From one open string to the next, and to the first call.
const TUNING_STEP: Duration = Duration::from_secs(3);
/// The longest that one note sounds; a note ends sooner where the next begins.
const RING: Duration = Duration::from_millis(2400);
/// Weights become whole numbers up to this, so that a last bit changes no pick.
const FINE: f64 = 1e6;

/// What a sound of a track is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TrackPart {
    /// An open string, to tune to.
    Tuning,
    /// The call.
    Call,
    /// The call once more, in the gap.
    Again,
    /// A tone of the answer pattern.
    Answer,
    /// The note again, which ends the call.
    Note,
}

/// One sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cue {
    /// When it starts, in whole milliseconds from the track's start.
    pub at: Duration,
    /// How long it may sound; it never reaches into the next.
    pub lasts: Duration,
    /// Which note.
    pub pitch: Pitch,
    /// In which voice.
    pub voice: Voice,
    /// What for.
    pub part: TrackPart,
    /// The call it belongs to, counted from 1; `None` for tuning.
    pub call: Option<u16>,
}

/// One call, and where it lies in the track.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TrackCall {
    /// Counted from 1.
    pub number: u16,
    /// The note.
    pub pitch: Pitch,
    /// Where the answer is played: the easiest place in the reach.
    pub place: Position,
    /// When it sounds.
    pub at: Duration,
    /// When the time to search is over.
    pub answer_at: Duration,
    /// When the note sounds again.
    pub note_at: Duration,
}

/// Everything that sounds on a track, in order of time. The same arguments give
/// the same plan.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackPlan {
    /// What it was seeded with.
    pub seed: u64,
    /// The calls.
    pub calls: Vec<TrackCall>,
    /// The sounds.
    pub cues: Vec<Cue>,
    /// The whole, from the first silence to the last.
    pub length: Duration,
    pluck_base: u32,
}

impl TrackPlan {
    /// Plans a track. Notes are picked by the rule of [`Picker`], so with three
    /// notes or more none comes twice running; with two, one may.
    ///
    /// With `weights`, only the notes that have one above nought are called,
    /// and the more often the greater it is; the rule evens them out somewhat.
    /// Weights of one note add up. Without any, every note of the reach is called
    /// alike.
    ///
    /// # Errors
    /// [`TrackError`] for settings out of bounds, weights that are negative, not
    /// finite or outside the reach, or fewer than two notes.
    pub fn new(
        neck: &Neck,
        reach: &Reach,
        settings: &TrackSettings,
        seed: u64,
        weights: &[(Pitch, f64)],
    ) -> Result<TrackPlan, TrackError> {
        if !GAPS.contains(&settings.gap) {
            return Err(TrackError::Gap { gap: settings.gap });
        }
        let (most, until) = match settings.length {
            TrackLength::Calls(calls @ 1..=MAX_CALLS) => (calls, Duration::MAX),
            TrackLength::Calls(calls) => return Err(TrackError::Calls { calls }),
            TrackLength::Within(time) => (MAX_CALLS, time),
        };
        let (pitches, likings) = likings(reach, weights)?;
        let mut picker = Picker::new(seed);
        let mut plan = TrackPlan {
            seed,
            calls: Vec::new(),
            cues: Vec::new(),
            length: LEAD_IN,
            pluck_base: picker.pluck_seed(),
        };
        if settings.strings_first {
            plan.tuning(neck, settings.voice);
        }
        for number in 1..=most {
            let index = picker.pick_by_liking(&pitches, &likings);
            let Some(pitch) = index.and_then(|index| pitches.get(index)).copied() else {
                return Err(TrackError::OneNote);
            };
            let before = (plan.cues.len(), plan.length);
            plan.call(neck, reach, settings, number, pitch);
            if plan.length > until {
                if number == 1 {
                    return Err(TrackError::TooShort {
                        needed: plan.length,
                    });
                }
                plan.cues.truncate(before.0);
                plan.calls.pop();
                plan.length = before.1;
                break;
            }
            picker.remember(pitch);
        }
        plan.damp();
        Ok(plan)
    }

    /// The seed of a cue's pluck: one for each note, so that each sounds the
    /// same throughout and need be made only once.
    pub fn pluck_seed(&self, cue: &Cue) -> u32 {
        self.pluck_base.wrapping_add(u32::from(cue.pitch.midi()))
    }

    fn sound(
        &mut self,
        at: Duration,
        pitch: Pitch,
        voice: Voice,
        part: TrackPart,
        call: Option<u16>,
    ) {
        self.cues.push(Cue {
            at,
            lasts: RING,
            pitch,
            voice,
            part,
            call,
        });
    }

    fn tuning(&mut self, neck: &Neck, voice: Voice) {
        let mut open: Vec<Pitch> = neck
            .numbered_strings()
            .filter_map(|(number, _)| neck.pitch_at(neck.open_position(number)?))
            .collect();
        open.sort_unstable();
        for pitch in open {
            self.sound(self.length, pitch, voice, TrackPart::Tuning, None);
            self.length += TUNING_STEP;
        }
    }

    fn call(
        &mut self,
        neck: &Neck,
        reach: &Reach,
        settings: &TrackSettings,
        number: u16,
        pitch: Pitch,
    ) {
        let Some(place) = pattern::easiest_place(neck, reach, pitch) else {
            return;
        };
        let (at, call) = (self.length, Some(number));
        self.sound(at, pitch, settings.voice, TrackPart::Call, call);
        if settings.second_hearing {
            let half = Duration::from_millis(settings.gap.as_millis() as u64 / 2);
            self.sound(at + half, pitch, settings.voice, TrackPart::Again, call);
        }
        let answer_at = at + settings.gap;
        let mut note_at = answer_at;
        for (pitch, until_next) in pattern::tones(settings.answer, neck, place) {
            self.sound(
                note_at,
                pitch,
                settings.answer_voice,
                TrackPart::Answer,
                call,
            );
            note_at += until_next;
        }
        self.sound(note_at, pitch, settings.voice, TrackPart::Note, call);
        self.length = note_at + REST;
        self.calls.push(TrackCall {
            number,
            pitch,
            place,
            at,
            answer_at,
            note_at,
        });
    }

    /// Ends every note where the next begins.
    fn damp(&mut self) {
        let mut next = self.length;
        for cue in self.cues.iter_mut().rev() {
            cue.lasts = cue.lasts.min(next - cue.at);
            next = cue.at;
        }
    }
}

/// The notes that may be called, from low to high, and how much each is liked.
fn likings(reach: &Reach, weights: &[(Pitch, f64)]) -> Result<(Vec<Pitch>, Vec<u32>), TrackError> {
    let mut summed: Vec<(Pitch, f64)> = reach.pitches().iter().map(|p| (*p, 0.0)).collect();
    for (pitch, weight) in weights.iter().copied() {
        if !weight.is_finite() || weight < 0.0 {
            return Err(TrackError::Weight { pitch, weight });
        }
        match summed.iter_mut().find(|(known, _)| *known == pitch) {
            Some((_, sum)) => *sum += weight,
            None => return Err(TrackError::OutsideReach { pitch }),
        }
    }
    if weights.is_empty() {
        for (_, weight) in &mut summed {
            *weight = 1.0;
        }
    }
    summed.retain(|(_, weight)| *weight > 0.0);
    if summed.len() < 2 {
        return Err(TrackError::OneNote);
    }
    let greatest = summed.iter().map(|(_, weight)| *weight).fold(0.0, f64::max);
    Ok(summed
        .into_iter()
        // The least liking is still some.
        .map(|(pitch, weight)| (pitch, (weight / greatest * FINE).round().max(1.0) as u32))
        .unzip())
}
