//! Which sound device, in which format, and what to say when there is none.
//! Devices that play and devices that listen are found in one way.

use crate::{SAMPLE_RATES_HZ, SoundError, quiet, system};
use fifthpeg_core::Cause;
use rodio::cpal::traits::{DeviceTrait, HostTrait};
use rodio::cpal::{
    self, BufferSize, ErrorKind, StreamConfig, SupportedBufferSize, SupportedStreamConfig,
    SupportedStreamConfigRange,
};
use std::time::Duration;

/// What a device is wanted for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Use {
    /// To play.
    Play,
    /// To listen.
    Listen,
}

/// Devices that an ALSA system may have beside its cards (names from memory).
const SYSTEMS: [&str; 4] = ["default", "sysdefault", "pipewire", "pulse"];

/// The sound system. On Linux its library is loaded here, the first time.
fn host() -> Result<cpal::Host, SoundError> {
    if system::is_there() {
        Ok(cpal::default_host())
    } else {
        Err(SoundError::NoLibrary)
    }
}

impl Use {
    /// The usual device, or the one of that name (exactly, or holding it).
    pub(crate) fn find(self, name: &str) -> Result<cpal::Device, SoundError> {
        if name.is_empty() {
            let host = host()?;
            let usual = match self {
                Use::Play => host.default_output_device(),
                Use::Listen => host.default_input_device(),
            };
            return usual.ok_or_else(|| self.none_found());
        }
        let devices = self.all()?;
        let wanted = name.to_lowercase();
        let holds = |text: &str| text.to_lowercase().contains(&wanted);
        let exact = devices
            .iter()
            .find(|named| named.id.eq_ignore_ascii_case(name));
        exact
            .or_else(|| {
                devices
                    .iter()
                    .find(|named| holds(&named.id) || holds(&named.title))
            })
            .map(|named| named.device.clone())
            .ok_or_else(|| {
                let known = worth_telling(&devices);
                let known = if known.is_empty() {
                    "none".to_owned()
                } else {
                    known.join(", ")
                };
                let name = name.to_owned();
                match self {
                    Use::Play => SoundError::UnknownDevice { name, known },
                    Use::Listen => SoundError::UnknownMicrophone { name, known },
                }
            })
    }

    /// The names that can be asked for; empty if there are none to tell.
    pub(crate) fn names(self) -> Vec<String> {
        let listing = std::thread::spawn(move || {
            let _quiet = quiet::messages();
            self.all().map(|devices| worth_telling(&devices))
        });
        listing.join().ok().and_then(Result::ok).unwrap_or_default()
    }

    fn all(self) -> Result<Vec<Named>, SoundError> {
        let host = host()?;
        let devices: Vec<cpal::Device> = match self {
            Use::Play => host.output_devices().map(Iterator::collect),
            Use::Listen => host.input_devices().map(Iterator::collect),
        }
        .map_err(|error| self.told(&error))?;
        Ok(devices
            .into_iter()
            .map(|device| Named {
                id: device
                    .id()
                    .map_or_else(|_| String::new(), |id| id.id().to_owned()),
                title: title(&device),
                device,
            })
            .collect())
    }

    /// The device's own choice, at a rate that we can work with: `wanted_hz` in
    /// their order, then whatever else the device has.
    pub(crate) fn format(
        self,
        device: &cpal::Device,
        wanted_hz: &[u32],
    ) -> Result<SupportedStreamConfig, SoundError> {
        let usual = match self {
            Use::Play => device.default_output_config(),
            Use::Listen => device.default_input_config(),
        }
        .map_err(|error| self.told(&error))?;
        let ranges: Vec<_> = match self {
            Use::Play => device
                .supported_output_configs()
                .map_err(|error| self.told(&error))?
                .collect(),
            Use::Listen => device
                .supported_input_configs()
                .map_err(|error| self.told(&error))?
                .collect(),
        };
        choose(&usual, &ranges, wanted_hz).ok_or_else(|| {
            let sample_rate_hz = usual.sample_rate();
            match self {
                Use::Play => fifthpeg_tone::ToneError::SampleRate { sample_rate_hz }.into(),
                Use::Listen => SoundError::MicrophoneRate { sample_rate_hz },
            }
        })
    }

    fn none_found(self) -> SoundError {
        match self {
            Use::Play => SoundError::NoDevice,
            Use::Listen => SoundError::NoMicrophone,
        }
    }

    /// What the sound system refused, in our words.
    pub(crate) fn told(self, error: &cpal::Error) -> SoundError {
        let reason = told_reason(error);
        match (error.kind(), self) {
            (ErrorKind::HostUnavailable | ErrorKind::DeviceNotAvailable, _) => self.none_found(),
            (_, Use::Play) => SoundError::Device { reason },
            (ErrorKind::PermissionDenied, Use::Listen) => SoundError::MicrophoneDenied { reason },
            (ErrorKind::DeviceBusy, Use::Listen) => SoundError::MicrophoneBusy { reason },
            // A sound server that lets nobody in has no kind of its own.
            (_, Use::Listen) if reason.words().contains("refused") => {
                SoundError::MicrophoneDenied { reason }
            }
            (_, Use::Listen) => SoundError::Microphone { reason },
        }
    }
}

/// The usual format at a wanted rate, or as it is; or any other that the device
/// has; `None` if all its rates are out of our range.
fn choose(
    usual: &SupportedStreamConfig,
    ranges: &[SupportedStreamConfigRange],
    wanted_hz: &[u32],
) -> Option<SupportedStreamConfig> {
    let like_usual = |range: &&SupportedStreamConfigRange| {
        range.channels() == usual.channels() && range.sample_format() == usual.sample_format()
    };
    let wanted = wanted_hz.iter().find_map(|rate_hz| {
        ranges
            .iter()
            .filter(like_usual)
            .find_map(|range| range.try_with_sample_rate(*rate_hz))
    });
    wanted
        .or_else(|| {
            SAMPLE_RATES_HZ
                .contains(&usual.sample_rate())
                .then_some(*usual)
        })
        .or_else(|| {
            ranges
                .iter()
                .filter_map(|range| range.try_with_standard_sample_rate())
                .find(|format| SAMPLE_RATES_HZ.contains(&format.sample_rate()))
        })
        .or_else(|| {
            ranges
                .iter()
                .map(|range| range.with_max_sample_rate())
                .find(|format| SAMPLE_RATES_HZ.contains(&format.sample_rate()))
        })
}

struct Named {
    device: cpal::Device,
    id: String,
    title: String,
}

/// What the device calls itself, on one line.
pub(crate) fn title(device: &cpal::Device) -> String {
    device.description().map_or_else(
        |_| "default".to_owned(),
        |about| about.name().lines().collect::<Vec<_>>().join(", "),
    )
}

/// The names of devices that a person would choose, or of all if none is such.
fn worth_telling(devices: &[Named]) -> Vec<String> {
    let mut ids: Vec<String> = devices.iter().map(|named| named.id.clone()).collect();
    ids.dedup();
    if cfg!(target_os = "linux") && ids.iter().any(|id| worth_choosing(id)) {
        ids.retain(|id| worth_choosing(id));
    }
    ids
}

/// Whether an ALSA name is one that a person would choose: ALSA also lists its
/// converters and its many ways to one card (names from memory).
fn worth_choosing(id: &str) -> bool {
    match id.split_once(':') {
        Some((way, _)) => matches!(way, "hw" | "plughw" | "sysdefault"),
        None => SYSTEMS.contains(&id),
    }
}

/// Opens a device of that name on a thread of its own: there the sound system can be
/// kept quiet without touching the caller's thread, and even a panic in a driver comes
/// back as an error.
pub(crate) fn on_a_thread<T: Send + 'static>(
    name: String,
    failed: fn(Cause) -> SoundError,
    open: fn(&str) -> Result<T, SoundError>,
) -> Result<T, SoundError> {
    std::thread::Builder::new()
        .name("sound opening".to_owned())
        .spawn(move || {
            let _quiet = quiet::messages();
            open(&name)
        })
        .map_err(|error| failed(error.into()))?
        .join()
        .unwrap_or_else(|_| Err(failed("its driver failed".into())))
}

/// Builds a stream with buffers of about that length. Drivers that refuse it still open
/// with their own.
pub(crate) fn with_buffers<T>(
    format: &SupportedStreamConfig,
    wanted: Duration,
    build: impl Fn(StreamConfig) -> Result<T, cpal::Error>,
) -> Result<T, cpal::Error> {
    let config = |buffer_size| StreamConfig {
        channels: format.channels(),
        sample_rate: format.sample_rate(),
        buffer_size,
    };
    build(config(wanted_buffer(format, wanted))).or_else(|_| build(config(BufferSize::Default)))
}

/// What the sound system said of a stream that runs.
#[derive(Debug, Default)]
pub(crate) struct Complaints {
    /// What it last complained of.
    pub(crate) last: Option<Cause>,
    /// It said that the device is gone.
    pub(crate) gone: bool,
}

impl Complaints {
    /// Takes one in, by the sound system's thread, which then has to rest.
    pub(crate) fn take(&mut self, error: &cpal::Error) {
        self.last = Some(told_reason(error));
        self.gone |= matches!(
            error.kind(),
            ErrorKind::DeviceNotAvailable | ErrorKind::StreamInvalidated
        );
    }
}

/// How long the sound system's thread rests after a complaint: some drivers ask a dead
/// sound server again without a pause, which would keep a whole processor busy.
pub(crate) const COMPLAINT_PAUSE: Duration = Duration::from_millis(20);

/// The buffer length nearest to `wanted` that the device takes.
fn wanted_buffer(format: &SupportedStreamConfig, wanted: Duration) -> BufferSize {
    let frames = (f64::from(format.sample_rate()) * wanted.as_secs_f64()) as u32;
    match format.buffer_size() {
        SupportedBufferSize::Range { min, max } if min < max => {
            BufferSize::Fixed(frames.clamp(*min, *max))
        }
        _ => BufferSize::Fixed(frames),
    }
}

/// The sound system's reason, without a full stop, to stand in our sentence.
fn told_reason(error: &cpal::Error) -> Cause {
    Cause::told(error.to_string().trim_end_matches('.'), error.clone())
}

#[cfg(test)]
mod tests {
    use super::*;
    use rodio::cpal::SampleFormat;

    #[test]
    fn converters_are_not_offered_as_devices() {
        for id in ["default", "pipewire", "pulse", "hw:CARD=PCH,DEV=0"] {
            assert!(worth_choosing(id), "{id}");
        }
        for id in ["null", "lavrate", "speex", "upmix", "dmix:CARD=PCH,DEV=0"] {
            assert!(!worth_choosing(id), "{id}");
        }
    }

    #[test]
    fn rates_are_chosen_in_our_order_and_low_ones_refused() {
        let range = |channels, low, high| {
            SupportedStreamConfigRange::new(
                channels,
                low,
                high,
                SupportedBufferSize::Unknown,
                SampleFormat::I16,
            )
        };
        let chosen = |usual: SupportedStreamConfigRange, ranges: &[_], wanted: &[u32]| {
            choose(&usual.with_max_sample_rate(), ranges, wanted)
                .map(|format| (format.channels(), format.sample_rate()))
        };
        let wide = range(2, 8000, 192_000);
        assert_eq!(chosen(wide, &[wide], &[48_000, 44_100]), Some((2, 48_000)));
        let old = range(1, 11_025, 44_100);
        assert_eq!(chosen(old, &[old], &[48_000, 44_100]), Some((1, 44_100)));
        assert_eq!(chosen(wide, &[wide], &[]), Some((2, 192_000)));
        // Speech is its usual, and music is to be had.
        let (speech, music) = (range(1, 16_000, 16_000), range(6, 96_000, 96_000));
        assert_eq!(
            chosen(speech, &[speech, music], &[48_000]),
            Some((6, 96_000))
        );
        assert_eq!(chosen(speech, &[speech], &[48_000, 44_100]), None);
        let said = SoundError::MicrophoneRate {
            sample_rate_hz: 16_000,
        };
        assert!(said.to_string().contains("set it to 44100 or 48000"));
    }

    #[test]
    fn a_microphone_that_is_refused_says_what_to_do() {
        for (kind, begins) in [
            (ErrorKind::DeviceNotAvailable, "no microphone was found"),
            (ErrorKind::PermissionDenied, "this program may not listen"),
            (ErrorKind::DeviceBusy, "another program holds"),
            (ErrorKind::BackendError, "the microphone would not open"),
        ] {
            let said = Use::Listen.told(&cpal::Error::new(kind)).to_string();
            assert!(said.starts_with(begins) && said.contains(": "), "{said}");
        }
    }
}
