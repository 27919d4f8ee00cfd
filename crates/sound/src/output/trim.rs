//! What an output is later than it says.
//!
//! A sound system tells when a sample leaves as far as it knows. What lies beyond
//! (a wireless link, a television's picture processing, a converter) nobody tells;
//! where somebody has measured it, it is a [`Trim`], and [`Trimmed`] puts it right.

use super::{Output, Started};
use crate::{Level, SoundError, ToneSpec};
use std::time::{Duration, Instant};

/// The trims that make sense, in milliseconds: slower than any wireless link
/// (common practice, no source), and a little to the other side, for a driver that
/// tells too much.
pub const TRIMS_MS: std::ops::RangeInclusive<f64> = -200.0..=1000.0;
/// What a trim that was typed may be out. An estimate, no source.
const TYPED_WITHIN_MS: f64 = 10.0;

/// How much later than an output says its sound leaves it, in milliseconds; below
/// nought if earlier. Tones are asked for that much sooner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trim {
    later_ms: f64,
    within_ms: f64,
}

impl Trim {
    /// That of an output that is as late as it says.
    pub const NONE: Trim = Trim {
        later_ms: 0.0,
        within_ms: 0.0,
    };

    /// A trim that was measured, and how far it may be out, both in milliseconds.
    ///
    /// # Errors
    /// [`SoundError::Trim`] outside [`TRIMS_MS`].
    pub fn measured(later_ms: f64, within_ms: f64) -> Result<Trim, SoundError> {
        if TRIMS_MS.contains(&later_ms) && (0.0..=*TRIMS_MS.end()).contains(&within_ms) {
            Ok(Trim {
                later_ms,
                within_ms,
            })
        } else {
            Err(SoundError::Trim)
        }
    }

    /// A trim by hand: taken to be right within 10 ms.
    ///
    /// # Errors
    /// [`SoundError::Trim`] outside [`TRIMS_MS`].
    pub fn typed(later_ms: f64) -> Result<Trim, SoundError> {
        Trim::measured(
            later_ms,
            if later_ms == 0.0 {
                0.0
            } else {
                TYPED_WITHIN_MS
            },
        )
    }

    /// How much later sound leaves than the output says, in milliseconds.
    pub fn later_ms(&self) -> f64 {
        self.later_ms
    }

    /// How far that may be out, in milliseconds.
    pub fn within_ms(&self) -> f64 {
        self.within_ms
    }

    fn later(&self, at: Instant) -> Instant {
        moved(at, self.later_ms)
    }

    fn sooner(&self, at: Instant) -> Instant {
        moved(at, -self.later_ms)
    }
}

fn moved(at: Instant, ms: f64) -> Instant {
    let by = Duration::from_secs_f64(ms.abs() / 1000.0);
    if ms >= 0.0 {
        at + by
    } else {
        at.checked_sub(by).unwrap_or(at)
    }
}

/// An output whose trim is known. Tones leave when they should, if they are asked
/// for far enough ahead; what it tells of their start has the trim in it, and its
/// uncertainty too.
///
/// A trim belongs to one device: while another one stands in its place (it was
/// pulled out, and the system gave the next), the trim rests.
pub struct Trimmed {
    inner: Box<dyn Output>,
    trim: Trim,
    device: Option<String>,
}

impl Trimmed {
    /// Puts an output right.
    pub fn new(inner: Box<dyn Output>, trim: Trim) -> Trimmed {
        Trimmed {
            device: inner.device_name(),
            inner,
            trim,
        }
    }

    fn with(
        &mut self,
        at: Instant,
        play: impl FnOnce(&mut dyn Output, Instant) -> Result<Started, SoundError>,
    ) -> Result<Started, SoundError> {
        if self.inner.device_name() != self.device {
            return play(&mut *self.inner, at);
        }
        let started = play(&mut *self.inner, self.trim.sooner(at))?;
        if !started.audible {
            return Ok(started);
        }
        Ok(Started {
            at: self.trim.later(started.at),
            uncertainty: started.uncertainty
                + Duration::from_secs_f64(self.trim.within_ms / 1000.0),
            audible: true,
        })
    }
}

impl Output for Trimmed {
    fn play(&mut self, tone: &ToneSpec, at: Instant) -> Result<Started, SoundError> {
        self.with(at, |inner, at| inner.play(tone, at))
    }

    fn sample_rate_hz(&self) -> Option<u32> {
        self.inner.sample_rate_hz()
    }

    fn play_samples(
        &mut self,
        samples: &[f32],
        level: Level,
        at: Instant,
    ) -> Result<Started, SoundError> {
        self.with(at, |inner, at| inner.play_samples(samples, level, at))
    }

    fn device_name(&self) -> Option<String> {
        self.inner.device_name()
    }

    fn set_trim(&mut self, trim: Trim) -> bool {
        self.device = self.inner.device_name();
        self.trim = trim;
        true
    }

    fn describe(&self) -> String {
        self.inner.describe()
    }

    fn finish(self: Box<Self>) -> Result<(), SoundError> {
        self.inner.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Voice;
    use std::sync::{Arc, Mutex};

    /// Notes what it is asked for, and says that it did just that.
    struct Noting {
        asked: Arc<Mutex<Vec<Instant>>>,
        name: Arc<Mutex<String>>,
        audible: bool,
    }

    impl Output for Noting {
        fn play(&mut self, _: &ToneSpec, at: Instant) -> Result<Started, SoundError> {
            self.asked.lock().unwrap().push(at);
            Ok(Started {
                at,
                uncertainty: Duration::from_millis(5),
                audible: self.audible,
            })
        }

        fn device_name(&self) -> Option<String> {
            Some(self.name.lock().unwrap().clone())
        }

        fn describe(&self) -> String {
            "noting".to_owned()
        }

        fn finish(self: Box<Self>) -> Result<(), SoundError> {
            Ok(())
        }
    }

    type Asked = Arc<Mutex<Vec<Instant>>>;

    fn noting(audible: bool) -> (Noting, Asked, Arc<Mutex<String>>) {
        let (asked, name): (Asked, _) = (Arc::default(), Arc::new(Mutex::new("hall".to_owned())));
        let output = Noting {
            asked: Arc::clone(&asked),
            name: Arc::clone(&name),
            audible,
        };
        (output, asked, name)
    }

    fn tone() -> ToneSpec {
        ToneSpec {
            frequency_hz: 440.0,
            voice: Voice::Banjo,
            pluck_seed: 1,
            level: Level::default(),
        }
    }

    #[test]
    fn a_late_output_is_asked_sooner_and_tells_when_sound_really_leaves() {
        let (output, asked, _) = noting(true);
        let trim = Trim::measured(143.0, 6.0).unwrap();
        let mut output = Trimmed::new(Box::new(output), trim);
        let at = Instant::now() + Duration::from_secs(1);
        let started = output.play(&tone(), at).unwrap();
        let sooner = at - asked.lock().unwrap()[0];
        assert_eq!(sooner, Duration::from_millis(143));
        assert_eq!(started.at, at);
        assert_eq!(started.uncertainty, Duration::from_millis(11));
    }

    #[test]
    fn below_nought_is_the_other_way_and_silence_has_no_trim() {
        let at = Instant::now() + Duration::from_secs(1);
        let (output, asked, _) = noting(true);
        let mut output = Trimmed::new(Box::new(output), Trim::typed(-20.0).unwrap());
        assert_eq!(output.play(&tone(), at).unwrap().at, at);
        assert_eq!(asked.lock().unwrap()[0] - at, Duration::from_millis(20));
        let (output, ..) = noting(false);
        let mut output = Trimmed::new(Box::new(output), Trim::typed(50.0).unwrap());
        let started = output.play(&tone(), at).unwrap();
        assert_eq!(started.uncertainty, Duration::from_millis(5));
    }

    #[test]
    fn the_trim_rests_while_another_device_stands_in() {
        let at = Instant::now() + Duration::from_secs(1);
        let (output, asked, name) = noting(true);
        let mut output = Trimmed::new(Box::new(output), Trim::typed(50.0).unwrap());
        *name.lock().unwrap() = "another".to_owned();
        output.play(&tone(), at).unwrap();
        assert_eq!(asked.lock().unwrap()[0], at);
    }

    #[test]
    fn trims_that_make_no_sense_are_refused() {
        for ms in [f64::NAN, f64::INFINITY, -201.0, 1001.0] {
            assert!(matches!(Trim::typed(ms), Err(SoundError::Trim)), "{ms}");
        }
        assert!(Trim::measured(10.0, -1.0).is_err());
        assert_eq!(Trim::typed(0.0).unwrap().within_ms(), 0.0);
    }
}
