//! When a terminal does not listen because a tone of the lesson sounds: its
//! own, or one in the room. Otherwise the tone of the call would find the note
//! for the student.
//!
//! - What this terminal sounds is known from its output: from the start it
//!   reports, for as long as the tone lasts. From the order until the report
//!   the tone is taken to sound as ordered.
//! - What others sound in the same room is known where the host names an
//!   instant for it: the start of a call, its sounding again for everyone, and
//!   the host's speakers. A terminal without sound of its own does not listen then,
//!   too. What a neighbour's terminal sounds for the neighbour alone is not
//!   known here: several players in one room want headphones.
//!
//! A pluck is left out if its onset may lie in such a span. Whoever declares
//! headphones hears the tones of terminals there, and is taken to sit among
//! others with headphones: then only the host's speakers count.

use core::time::Duration;

use super::sound::SoundId;
use crate::Moment;
use crate::message::Voice;

/// The longest that one tone keeps a terminal from listening, whatever is said of its
/// length: a guitar's tone is the longest there is, and by then it is faint.
pub const LONGEST_MUTE: Duration = Duration::from_millis(2500);

/// What a room adds to the end of a tone before it is quiet: a hall of a small
/// village rings for a second or more, but falls by 20 dB in about a third of
/// that (common practice, no source).
pub const AFTERSOUND: Duration = Duration::from_millis(150);

/// What other terminals may be off by when all sound a call at one instant:
/// each goes by a clock estimate of its own, of which this terminal knows
/// nothing. Over a LAN it is a few milliseconds; this covers a bad radio link.
pub const OTHERS_ALLOWANCE: Duration = Duration::from_millis(100);

/// Spans that are kept. Tones older than these have long died away.
const KEPT: usize = 64;

/// How long a tone of this voice sounds at most, where no output says it.
pub const fn longest_tone(voice: Voice) -> Duration {
    match voice {
        Voice::Banjo => Duration::from_millis(1400),
        Voice::Guitar => Duration::from_millis(2400),
        Voice::Plain => Duration::from_millis(1200),
    }
}

/// Who sounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum By {
    /// This terminal, under this order.
    This(SoundId),
    /// The other terminals in the room.
    Others,
    /// The host's speakers.
    Speakers,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Span {
    by: By,
    from: Moment,
    until: Moment,
}

impl Span {
    fn new(by: By, start: Moment, off: Duration, lasts: Duration) -> Self {
        let lasts = (lasts + AFTERSOUND + off).min(LONGEST_MUTE);
        Self {
            by,
            from: start - off,
            until: start + lasts,
        }
    }
}

/// The spans in which tones sound.
#[derive(Debug, Clone, Default)]
pub(super) struct MuteWindows {
    spans: Vec<Span>,
}

impl MuteWindows {
    /// This terminal is about to sound a tone.
    pub fn ordered(&mut self, id: SoundId, at: Moment, voice: Voice) {
        self.add(Span::new(
            By::This(id),
            at,
            Duration::ZERO,
            longest_tone(voice),
        ));
    }

    /// It did, or will, at `started`, give or take `off`.
    pub fn sounded(&mut self, id: SoundId, started: Moment, off: Duration, lasts: Duration) {
        self.silent(id);
        self.add(Span::new(By::This(id), started, off, lasts));
    }

    /// Nothing was or will be heard of it.
    pub fn silent(&mut self, id: SoundId) {
        self.spans.retain(|s| s.by != By::This(id));
    }

    /// Others sound a tone in the room from `start` on, give or take `off`.
    pub fn in_the_room(&mut self, by: By, start: Moment, off: Duration, voice: Voice) {
        self.add(Span::new(by, start, off, longest_tone(voice)));
    }

    /// Whether a tone may have sounded at any moment from `from` to `until`.
    pub fn between(&self, from: Moment, until: Moment, headphones: bool) -> bool {
        self.audible(headphones)
            .any(|s| s.from <= until && from < s.until)
    }

    /// The next moment after `now` at which a span begins or ends.
    pub fn next_change(&self, now: Moment, headphones: bool) -> Option<Moment> {
        let ends = self.audible(headphones).flat_map(|s| [s.from, s.until]);
        ends.filter(|at| *at > now).min()
    }

    /// When the last tone that is heard here has ended: the own ones, the host's,
    /// and without headphones what others sound.
    pub fn heard_until(&self, headphones: bool) -> Option<Moment> {
        let heard = |s: &&Span| !headphones || s.by != By::Others;
        self.spans.iter().filter(heard).map(|s| s.until).max()
    }

    fn audible(&self, headphones: bool) -> impl Iterator<Item = &Span> {
        let heard = move |s: &&Span| !headphones || s.by == By::Speakers;
        self.spans.iter().filter(heard)
    }

    fn add(&mut self, span: Span) {
        if self.spans.len() == KEPT {
            self.spans.remove(0);
        }
        self.spans.push(span);
    }
}
