//! How much later than believed sound comes back: played by an output, heard by
//! an input.
//!
//! Output and input each say when a sample is in the air. Where a wireless
//! loudspeaker or a converter adds what no driver tells, both are wrong, and a
//! sound that is played and heard shows by how much in sum. A cable or a short
//! way through the air is needed: 3 ms a metre are the air's own.

use crate::listener::Positions;
use crate::{Captured, Input, Level, Output, SoundError};
use fifthpeg_ear::loop_test::LoopTest;
use std::time::{Duration, Instant};

/// The sweep's own peak is 20 dB below full scale; this makes it as loud as
/// meant at the usual level.
const GAIN: f32 = 4.0;
/// How far ahead the sweep is asked for.
const AHEAD: Duration = Duration::from_millis(500);
/// The input is heard this long first: its clock learns meanwhile.
const LEARN: Duration = Duration::from_secs(4);
/// And this long after the sweep has ended: the longest delay that is found.
const AFTER: Duration = Duration::from_millis(1200);

/// About how long all of it takes: hearing, the sweep, and what may come back.
pub const LOOP_TEST_TAKES: Duration = Duration::from_secs(7);

/// What the loop test found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoopResult {
    /// How much later than output and input say together the sound came back, in
    /// milliseconds; below zero if earlier.
    pub delay_ms: f64,
    /// How far that may be out, by the scatter of their figures.
    pub uncertainty: Duration,
    /// How far the sweep stood out of everything else, in dB.
    pub clearness_db: f64,
}

/// Plays a sweep of under a second and listens for it; takes about seven
/// seconds. Nobody should play meanwhile.
///
/// # Errors
/// [`SoundError::LoopNotHeard`] when the sweep does not come back clearly,
/// [`SoundError::LoopSilent`] when the output or the input is none, and what the
/// two report themselves.
pub fn loop_test(
    output: &mut dyn Output,
    input: &mut dyn Input,
    level: Level,
) -> Result<LoopResult, SoundError> {
    let rate_hz = output.sample_rate_hz().ok_or(SoundError::LoopSilent)?;
    let mut heard = Heard::new(input.rate_hz());
    if !heard.listen_until(input, Instant::now() + LEARN)? {
        return Err(SoundError::LoopSilent);
    }
    // What was heard so far only taught the clock.
    heard.samples.clear();
    heard.listen_until(input, Instant::now() + Duration::from_millis(100))?;
    let mut sweep = LoopTest::signal(rate_hz);
    for sample in &mut sweep {
        *sample *= GAIN;
    }
    let started = output.play_samples(&sweep, level, Instant::now() + AHEAD)?;
    let length = Duration::from_secs_f64(sweep.len() as f64 / f64::from(rate_hz));
    heard.listen_until(input, started.at + length + AFTER)?;

    let reference = LoopTest::signal(input.rate_hz());
    let found = LoopTest::find(&reference, &heard.samples).ok_or(SoundError::LoopNotHeard)?;
    let (at, uncertainty) = heard.positions.at(heard.begins as f64 + found.samples);
    let delay_s = if at >= started.at {
        (at - started.at).as_secs_f64()
    } else {
        -(started.at - at).as_secs_f64()
    };
    Ok(LoopResult {
        delay_ms: delay_s * 1000.0,
        uncertainty: uncertainty + started.uncertainty,
        clearness_db: found.clearness_db,
    })
}

/// What the input heard, in one piece: lost sound is silence.
struct Heard {
    positions: Positions,
    samples: Vec<f32>,
    /// The position of the first of them.
    begins: u64,
    block: Vec<f32>,
}

impl Heard {
    fn new(rate_hz: u32) -> Heard {
        Heard {
            positions: Positions::new(rate_hz),
            samples: Vec::new(),
            begins: 0,
            block: Vec::new(),
        }
    }

    /// Whether anything came at all.
    fn listen_until(&mut self, input: &mut dyn Input, end: Instant) -> Result<bool, SoundError> {
        let mut came = false;
        while Instant::now() < end {
            let wait = Duration::from_millis(50);
            if let Some(captured) = input.read(&mut self.block, wait)? {
                came = true;
                self.take(captured);
            }
        }
        Ok(came)
    }

    fn take(&mut self, captured: Captured) {
        self.positions.block(captured);
        if self.samples.is_empty() {
            self.begins = captured.first_frame;
        }
        // An input that lost more than this has lost the sweep.
        let gap = (captured.first_frame - self.begins) as usize - self.samples.len();
        let silence = gap.min(10 * self.block.len().max(48_000));
        self.samples.resize(self.samples.len() + silence, 0.0);
        self.samples.extend(&self.block);
    }
}
