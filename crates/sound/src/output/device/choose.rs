//! Which device, in which format, and what to say when there is none.

use super::BUFFER;
use crate::{SAMPLE_RATES_HZ, SoundError};
use rodio::cpal::traits::{DeviceTrait, HostTrait};
use rodio::cpal::{self, BufferSize, ErrorKind, SupportedBufferSize, SupportedStreamConfig};

/// The usual device, or the one of that name (exactly, or holding it).
pub(super) fn find(name: &str) -> Result<cpal::Device, SoundError> {
    let host = cpal::default_host();
    if name.is_empty() {
        return host.default_output_device().ok_or(SoundError::NoDevice);
    }
    let about = |device: &cpal::Device| {
        let id = device
            .id()
            .map_or_else(|_| String::new(), |id| id.id().to_owned());
        let title = device
            .description()
            .map_or_else(|_| String::new(), |about| about.name().to_owned());
        (id, title)
    };
    let devices: Vec<(cpal::Device, String, String)> = host
        .output_devices()
        .map_err(told)?
        .map(|device| {
            let (id, title) = about(&device);
            (device, id, title)
        })
        .collect();
    let wanted = name.to_lowercase();
    let exact = devices
        .iter()
        .find(|(_, id, _)| id.eq_ignore_ascii_case(name));
    let holds = |text: &str| text.to_lowercase().contains(&wanted);
    exact
        .or_else(|| {
            devices
                .iter()
                .find(|(_, id, title)| holds(id) || holds(title))
        })
        .map(|(device, _, _)| device.clone())
        .ok_or_else(|| {
            let mut ids: Vec<&str> = devices.iter().map(|(_, id, _)| id.as_str()).collect();
            ids.dedup();
            if cfg!(target_os = "linux") && ids.iter().any(|id| worth_choosing(id)) {
                ids.retain(|id| worth_choosing(id));
            }
            SoundError::UnknownDevice {
                name: name.to_owned(),
                known: if ids.is_empty() {
                    "none".to_owned()
                } else {
                    ids.join(", ")
                },
            }
        })
}

/// Whether an ALSA name is one that a person would choose: ALSA also lists its
/// converters and its many ways to one card (names from memory).
fn worth_choosing(id: &str) -> bool {
    match id.split_once(':') {
        Some((way, _)) => matches!(way, "hw" | "plughw" | "sysdefault"),
        None => matches!(id, "default" | "sysdefault" | "pipewire" | "pulse"),
    }
}

/// The device's own choice, or the first of its formats at a rate that tones can
/// be rendered at.
pub(super) fn choose_format(device: &cpal::Device) -> Result<SupportedStreamConfig, SoundError> {
    let usual = device.default_output_config().map_err(told)?;
    if SAMPLE_RATES_HZ.contains(&usual.sample_rate()) {
        return Ok(usual);
    }
    device
        .supported_output_configs()
        .map_err(told)?
        .find_map(|range| range.try_with_standard_sample_rate())
        .ok_or(SoundError::SampleRate {
            sample_rate_hz: usual.sample_rate(),
        })
}

pub(super) fn wanted_buffer(format: &SupportedStreamConfig) -> BufferSize {
    let frames = (f64::from(format.sample_rate()) * BUFFER.as_secs_f64()) as u32;
    match format.buffer_size() {
        SupportedBufferSize::Range { min, max } if min < max => {
            BufferSize::Fixed(frames.clamp(*min, *max))
        }
        _ => BufferSize::Fixed(frames),
    }
}

pub(super) fn told(error: cpal::Error) -> SoundError {
    match error.kind() {
        ErrorKind::HostUnavailable | ErrorKind::DeviceNotAvailable => SoundError::NoDevice,
        _ => SoundError::Device {
            reason: told_reason(&error),
        },
    }
}

/// The sound system's reason, without a full stop, to stand in our sentence.
pub(super) fn told_reason(error: &cpal::Error) -> String {
    error.to_string().trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn converters_are_not_offered_as_devices() {
        for id in ["default", "pipewire", "pulse", "hw:CARD=PCH,DEV=0"] {
            assert!(worth_choosing(id), "{id}");
        }
        for id in ["null", "lavrate", "speex", "upmix", "dmix:CARD=PCH,DEV=0"] {
            assert!(!worth_choosing(id), "{id}");
        }
    }
}
