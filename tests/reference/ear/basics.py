"""What every part of the ear's test material needs: sound files, levels,
noises, moving a sound in pitch.

Sound is a numpy array of float64, full scale 1.0. Levels are in decibels
relative to full scale; a full-scale sine is -3.01 dB.
"""

import wave
from dataclasses import dataclass

import numpy as np

# How long after its onset a note's level is taken over, in seconds. Every
# "dB below the note" in the material refers to it.
LEVEL_SPAN_S = 0.25


@dataclass
class Note:
    """One plucked note alone. `onset` is the sample at which it begins to rise;
    `cents` is how far its fundamental lies from `midi`, settled."""

    samples: np.ndarray
    onset: int
    midi: int
    cents: float


def frequency_hz(midi, cents=0.0):
    """Equal temperament at A4 = 440 Hz."""
    return 440.0 * 2.0 ** ((midi - 69 + cents / 100.0) / 12.0)


def gain(decibels):
    return 10.0 ** (decibels / 20.0)


def rms(samples):
    return float(np.sqrt(np.mean(np.square(samples))))


def note_rms(note, rate):
    """Level of a note: over its first quarter of a second."""
    return rms(note.samples[note.onset : note.onset + int(LEVEL_SPAN_S * rate)])


def scaled(note, factor):
    return Note(note.samples * factor, note.onset, note.midi, note.cents)


def fade_out(samples, end, length):
    """The sound up to `end`, its last `length` samples drawn down to nothing, as
    a finger on the string does."""
    end = min(end, len(samples))
    out = samples[:end].copy()
    length = min(length, end)
    out[end - length :] *= 0.5 + 0.5 * np.cos(np.pi * (np.arange(length) + 1) / length)
    return out


def add(mix, samples, at):
    """Adds `samples` to `mix` from sample `at` on; what does not fit is lost."""
    begin, end = max(at, 0), min(at + len(samples), len(mix))
    if end > begin:
        mix[begin:end] += samples[begin - at : end - at]


def noise(kind, length, rng):
    """White, pink (-3 dB an octave) or brown (-6 dB) noise of RMS 1, over the
    whole band; pink and brown are flat below 20 Hz of a 48 kHz file."""
    if kind == "white":
        return rng.standard_normal(length)
    slope = {"pink": 0.5, "brown": 1.0}[kind]
    # Long sounds are shaped in pieces of a power of two, and joined with a
    # crossfade that keeps the power.
    piece, lap = 1 << 19, 1 << 12
    out = np.zeros(length + piece)
    ramp = np.sin(0.5 * np.pi * (np.arange(lap) + 0.5) / lap)
    bins = np.arange(piece // 2 + 1) / piece
    shape = np.maximum(bins, 20.0 / 48_000.0) ** -slope
    shape[0] = 0.0
    for begin in range(0, length, piece - lap):
        part = np.fft.irfft(np.fft.rfft(rng.standard_normal(piece)) * shape, piece)
        part /= rms(part)
        part[:lap] *= ramp
        part[-lap:] *= ramp[::-1]
        out[begin : begin + piece] += part
    return out[:length]


def band(samples, rate, low_hz, high_hz):
    """What of a sound lies in a band, with soft edges a quarter octave wide."""
    spectrum = np.fft.rfft(samples)
    octaves = np.log2(np.maximum(np.fft.rfftfreq(len(samples), 1.0 / rate), 1e-3))
    rise = np.clip((octaves - np.log2(low_hz)) / 0.25 + 0.5, 0.0, 1.0)
    fall = np.clip((np.log2(high_hz) - octaves) / 0.25 + 0.5, 0.0, 1.0)
    return np.fft.irfft(spectrum * rise * fall, len(samples))


def sampled_at(samples, positions):
    """Values between samples, by a windowed sinc of 32 taps. `positions` may run
    at any and at a changing speed near that of the original."""
    taps = 32
    padded = np.concatenate([np.zeros(taps), samples, np.zeros(taps)])
    whole = np.floor(positions).astype(int)
    part = positions - whole
    offsets = np.arange(-taps // 2 + 1, taps // 2 + 1)
    index = np.clip(whole[:, None] + offsets[None, :] + taps, 0, len(padded) - 1)
    distance = offsets[None, :] - part[:, None]
    window = 0.5 + 0.5 * np.cos(2.0 * np.pi * distance / taps)
    kernel = np.sinc(distance) * window
    return np.sum(padded[index] * kernel, axis=1)


def shifted(note, cents):
    """The note moved in pitch by playing it faster or slower."""
    speed = 2.0 ** (cents / 1200.0)
    positions = np.arange(int((len(note.samples) - 1) / speed)) * speed
    samples = sampled_at(note.samples, positions)
    return Note(samples, round(note.onset / speed), note.midi, note.cents + cents)


def resampled(samples, rate_from, rate_to):
    """Another sample rate, through the spectrum."""
    length = round(len(samples) * rate_to / rate_from)
    spectrum = np.fft.rfft(samples)
    wanted = np.zeros(length // 2 + 1, complex)
    kept = min(len(spectrum), len(wanted))
    wanted[:kept] = spectrum[:kept]
    return np.fft.irfft(wanted, length) * (length / len(samples))


def write_wav(path, samples, rate):
    """Mono, 16 bit, with dither of one step so that soft sounds stay sounds."""
    if np.max(np.abs(samples), initial=0.0) >= 1.0:
        raise ValueError(f"{path} would clip")
    dither = np.random.default_rng(len(samples)).uniform(-0.5, 0.5, len(samples))
    steps = np.rint(samples * 32767.0 + dither).clip(-32768, 32767).astype("<i2")
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes(steps.tobytes())


def read_wav(path):
    """Samples of a mono or stereo 16-bit file, and its rate."""
    with wave.open(str(path), "rb") as source:
        if source.getsampwidth() != 2:
            raise ValueError(f"{path} is not 16 bit")
        data = np.frombuffer(source.readframes(source.getnframes()), "<i2")
        samples = data.reshape(-1, source.getnchannels()).mean(axis=1) / 32768.0
        return samples, source.getframerate()
