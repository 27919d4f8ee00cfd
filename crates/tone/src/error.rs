//! Why a tone cannot be made.

/// Why a tone cannot be made, in one sentence with what to do.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ToneError {
    /// A frequency outside [`FREQUENCIES_HZ`](crate::FREQUENCIES_HZ).
    #[error(
        "a tone of {frequency_hz} Hz cannot be sounded: choose one between {:.1} and {:.0} Hz",
        crate::FREQUENCIES_HZ.start(),
        crate::FREQUENCIES_HZ.end()
    )]
    Frequency {
        /// What was asked for, in hertz.
        frequency_hz: f64,
    },
    /// A sample rate outside [`SAMPLE_RATES_HZ`](crate::SAMPLE_RATES_HZ).
    #[error(
        "a sample rate of {sample_rate_hz} Hz is not supported: set the sound device to 44100 or 48000 Hz"
    )]
    SampleRate {
        /// What was asked for, in hertz.
        sample_rate_hz: u32,
    },
}
