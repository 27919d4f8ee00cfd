//! A track into sound files, block by block.

use super::samples::{TRACK_RATE_HZ, TrackSamples};
use crate::SoundError;
use flac_codec::encode::{FlacSampleWriter, Options};
use hound::{SampleFormat, WavSpec, WavWriter};
use std::io::{self, Seek, Write};

/// Frames made at a time; also the FLAC block, the size its format calls usual
/// (RFC 9639, section 4.1).
const BLOCK: usize = 4096;
const BITS: u16 = 16;

/// Where a track is written: one channel, 16 bits, [`TRACK_RATE_HZ`]. Buffered
/// writers are best; whoever lends them flushes them.
#[derive(Debug)]
pub struct SoundFiles<'w, W> {
    /// As WAV.
    pub wav: Option<&'w mut W>,
    /// As FLAC (RFC 9639): the same samples, smaller.
    pub flac: Option<&'w mut W>,
}

/// Why a track was not written.
#[derive(Debug, thiserror::Error)]
pub enum TrackWriteError {
    /// A tone could not be made.
    #[error(transparent)]
    Sound(#[from] SoundError),
    /// The WAV file did not take it.
    #[error("the WAV file could not be written ({0}): make room, or choose another place for it")]
    Wav(#[source] io::Error),
    /// The FLAC file did not take it.
    #[error("the FLAC file could not be written ({0}): make room, or choose another place for it")]
    Flac(#[source] io::Error),
    /// It was asked to stop.
    #[error("stopped before the track was whole")]
    Stopped,
}

/// Writes a track. `go_on` is told after every block how many frames are done,
/// and of how many; when it says `false`, writing stops.
///
/// # Errors
/// [`TrackWriteError`]; what was written until then is no whole file.
pub fn write_track<W: Write + Seek>(
    mut track: TrackSamples,
    files: SoundFiles<'_, W>,
    mut go_on: impl FnMut(u64, u64) -> bool,
) -> Result<(), TrackWriteError> {
    let spec = WavSpec {
        channels: 1,
        sample_rate: TRACK_RATE_HZ,
        bits_per_sample: BITS,
        sample_format: SampleFormat::Int,
    };
    let frames = track.frames();
    let wav = files.wav.map(|file| WavWriter::new(file, spec));
    let mut wav = wav.transpose().map_err(wav_error)?;
    let flac = files.flac.map(|file| {
        let options = Options::fast()
            .block_size(BLOCK as u16)
            .map_err(io::Error::other)?;
        FlacSampleWriter::new(file, options, TRACK_RATE_HZ, BITS.into(), 1, Some(frames))
            .map_err(io::Error::from)
    });
    let mut flac = flac.transpose().map_err(TrackWriteError::Flac)?;

    let mut block = vec![0.0; BLOCK];
    let mut whole = Vec::with_capacity(BLOCK);
    loop {
        let count = track.read(&mut block)?;
        if count == 0 {
            break;
        }
        whole.clear();
        whole.extend(
            block[..count]
                .iter()
                .map(|x| (x * f32::from(i16::MAX)).round() as i32),
        );
        if let Some(wav) = &mut wav {
            let mut samples_writer = wav.get_i16_writer(count as u32);
            for sample in &whole {
                samples_writer.write_sample(*sample as i16);
            }
            samples_writer.flush().map_err(wav_error)?;
        }
        if let Some(flac) = &mut flac {
            flac.write(&whole)
                .map_err(|error| TrackWriteError::Flac(error.into()))?;
        }
        if !go_on(track.position(), frames) {
            return Err(TrackWriteError::Stopped);
        }
    }
    if let Some(wav) = wav {
        wav.finalize().map_err(wav_error)?;
    }
    if let Some(flac) = flac {
        flac.finalize()
            .map_err(|error| TrackWriteError::Flac(error.into()))?;
    }
    Ok(())
}

fn wav_error(error: hound::Error) -> TrackWriteError {
    TrackWriteError::Wav(match error {
        hound::Error::IoError(error) => error,
        other => io::Error::other(other),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::track::TrackTone;
    use crate::{Level, ToneSpec, Voice};
    use std::io::{Cursor, SeekFrom};
    use std::time::Duration;

    fn track() -> TrackSamples {
        let tone = |at_s, hz| TrackTone {
            at: Duration::from_secs(at_s),
            lasts: Duration::from_secs(2),
            tone: ToneSpec {
                frequency_hz: hz,
                voice: Voice::Banjo,
                pluck_seed: 3,
                level: Level::default(),
            },
        };
        TrackSamples::new(
            vec![tone(0, 196.0), tone(1, 247.0), tone(3, 196.0)],
            Duration::from_millis(4321),
        )
    }

    fn written() -> (Vec<u8>, Vec<u8>) {
        let (mut wav, mut flac) = (Cursor::new(Vec::new()), Cursor::new(Vec::new()));
        let files = SoundFiles {
            wav: Some(&mut wav),
            flac: Some(&mut flac),
        };
        let mut told = Vec::new();
        write_track(track(), files, |done, of| {
            told.push((done, of));
            true
        })
        .expect("memory takes it");
        assert_eq!(told.last(), Some(&(207_408, 207_408)));
        assert!(told.windows(2).all(|pair| pair[0].0 < pair[1].0));
        (wav.into_inner(), flac.into_inner())
    }

    #[test]
    fn both_files_hold_the_same_samples_and_come_out_alike_twice() {
        let (wav, flac) = written();
        assert_eq!((wav.clone(), flac.clone()), written());
        let mut wav = hound::WavReader::new(Cursor::new(wav)).expect("a WAV file");
        let wav: Vec<i32> = wav.samples().map(|x| x.expect("a sample")).collect();
        assert_eq!(wav.len(), 207_408);
        let mut reader =
            flac_codec::decode::FlacSampleReader::new(Cursor::new(flac)).expect("a FLAC file");
        let mut unpacked = Vec::new();
        reader.read_to_end(&mut unpacked).expect("whole");
        assert!(unpacked == wav, "the files differ");
    }

    #[test]
    fn it_stops_when_told() {
        let mut wav = Cursor::new(Vec::new());
        let files = SoundFiles {
            wav: Some(&mut wav),
            flac: None,
        };
        let stopped = write_track(track(), files, |done, _| done < 50_000);
        assert!(matches!(stopped, Err(TrackWriteError::Stopped)));
    }

    /// A disk with room for so many bytes.
    struct Small(Cursor<Vec<u8>>, usize);

    impl Write for Small {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            if self.0.position() as usize + bytes.len() > self.1 {
                return Err(io::ErrorKind::StorageFull.into());
            }
            self.0.write(bytes)
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    impl Seek for Small {
        fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
            self.0.seek(to)
        }
    }

    #[test]
    fn a_full_disk_is_told_with_the_file_that_found_it() {
        let full = |wav: usize, flac: usize| {
            let mut wav = Small(Cursor::new(Vec::new()), wav);
            let mut flac = Small(Cursor::new(Vec::new()), flac);
            let files = SoundFiles {
                wav: Some(&mut wav),
                flac: Some(&mut flac),
            };
            write_track(track(), files, |_, _| true).expect_err("there is no room")
        };
        for (wav, flac) in [(10, usize::MAX), (100_000, usize::MAX)] {
            match full(wav, flac) {
                TrackWriteError::Wav(why) => assert_eq!(why.kind(), io::ErrorKind::StorageFull),
                other => panic!("{other}"),
            }
        }
        for flac in [10, 40_000] {
            match full(usize::MAX, flac) {
                TrackWriteError::Flac(why) => assert_eq!(why.kind(), io::ErrorKind::StorageFull),
                other => panic!("{other}"),
            }
        }
    }
}
