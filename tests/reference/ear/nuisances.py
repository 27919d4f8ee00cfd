"""Sounds in which nobody plays a note: noises of a room, knocks and claps, and
speech. Whatever a method names in them, it invents.

Each builder gives about `length_s` seconds, with pauses, at levels from -40 to
-12 dB full scale, as `(samples, what)`.
"""

import pathlib
import subprocess
import tempfile

import numpy as np

from basics import add, band, fade_out, gain, noise, read_wav, resampled, rms

VOICES = ["en-gb", "en-us", "en-gb-scotland", "de", "fr-fr", "it", "es", "pl"]
# Male and female variants that espeak-ng forms by formula.
VARIANTS = ["", "+m3", "+m7", "+f2", "+f4", "+croak", "+whisper"]
SAID = {
    "en": [
        "Ruth, could you close the window, please? There is a draught.",
        "Let us hear that one again, and sing it before you look for it.",
        "I think it is higher than the last one. No, wait! Lower.",
        "Who has the fifth string in tune? Ivo, will you give us a G?",
        "The kettle is on, we stop in ten minutes for tea and biscuits.",
        "One, two, three, four. Good. And once more, all together.",
    ],
    "de": ["Ich glaube, der Ton liegt eine Quinte höher. Hör doch noch einmal hin!"],
    "fr-fr": ["Écoute bien la note, puis cherche-la doucement sur le manche."],
    "it": ["Ascolta la nota, poi cercala piano sulla tastiera. Ancora una volta!"],
    "es": ["Escucha la nota y búscala despacio. ¿Es más alta o más baja?"],
    "pl": ["Posłuchaj dźwięku i poszukaj go na gryfie. Jeszcze raz, proszę!"],
}


def _mode(time, hz, decay_s, phase):
    return np.exp(-time / decay_s) * np.sin(2 * np.pi * hz * time + phase)


def _knock(rng, rate):
    """Wood: a few modes between 90 and 1500 Hz that die within a twentieth of a
    second, after a tick."""
    time = np.arange(int(0.4 * rate)) / rate
    out = 0.3 * noise("white", len(time), rng) * np.exp(-time / 0.001)
    for _ in range(int(rng.integers(3, 8))):
        hz = 90.0 * (1500.0 / 90.0) ** rng.random()
        out += _mode(time, hz, rng.uniform(0.006, 0.05), rng.uniform(0, 6)) * rng.random()
    return out


def _clap(rng, rate):
    """A few bursts of noise around 1 to 2 kHz, and the hall after them."""
    out = np.zeros(int(0.6 * rate))
    time = np.arange(len(out)) / rate
    middle = rng.uniform(800.0, 2000.0)
    for _ in range(int(rng.integers(1, 4))):
        late = int(rng.uniform(0.0, 0.012) * rate)
        burst = noise("white", len(out), rng) * np.exp(-time / rng.uniform(0.002, 0.01))
        add(out, burst, late)
    hall = noise("white", len(out), rng) * np.exp(-time / rng.uniform(0.05, 0.2))
    return band(out + rng.uniform(0.05, 0.3) * hall, rate, middle / 2, middle * 2)


def _chair(rng, rate):
    """A chair pushed: the floor grips and lets go 20 to 90 times a second, through
    two resonances."""
    length = int(rng.uniform(0.3, 1.2) * rate)
    time = np.arange(length) / rate
    rub, phase = rng.uniform(20.0, 90.0), 0.0
    beat = np.zeros(length)
    at = 0.0
    while at < length / rate:
        add(beat, np.array([rng.uniform(0.3, 1.0)]), int(at * rate))
        at += rng.uniform(0.6, 1.4) / rub
    out = np.zeros(length)
    for _ in range(2):
        ring = _mode(time[: rate // 10], rng.uniform(150, 2500), rng.uniform(0.004, 0.02), phase)
        out += np.convolve(beat, ring)[:length] * rng.random()
    out += 0.2 * band(noise("white", length, rng), rate, 500, 4000)
    return fade_out(out, length, length // 3)


def _steady(rng, rate, seconds):
    kind = rng.choice(["white", "pink", "brown"])
    return noise(kind, int(seconds * rate), rng), kind


def _changing(rng, rate, seconds):
    """Noise whose band and level wander, as traffic or a draught does."""
    length = int(seconds * rate)
    out = np.zeros(length)
    for _ in range(3):
        low = 100.0 * (3000.0 / 100.0) ** rng.random()
        part = band(noise("white", length, rng), rate, low, low * rng.uniform(1.5, 6.0))
        bends = rng.uniform(-30.0, 0.0, int(seconds * 3) + 2)
        level = np.interp(np.arange(length) / rate * 3, np.arange(len(bends)), bends)
        out += part / rms(part) * 10 ** (level / 20)
    return out, "changing"


def _events(rng, rate, seconds):
    make = [_knock, _clap, _chair][rng.integers(3)]
    out = 0.003 * noise("pink", int(seconds * rate), rng)
    at = rng.uniform(0.1, 0.5)
    while at < seconds - 1.3:
        one = make(rng, rate)
        add(out, one / np.abs(one).max() * gain(rng.uniform(-15.0, 0.0)), int(at * rate))
        at += rng.uniform(0.15, 1.2)
    return out, make.__name__.strip("_")


def noises(rng, rate, length_s):
    """Pieces of 10 to 20 s, each begun and ended softly or at once."""
    pieces, done = [], 0.0
    while done < length_s:
        seconds = min(rng.uniform(10.0, 20.0), length_s - done + 0.1)
        make = [_steady, _changing, _events][rng.integers(3)]
        out, what = make(rng, rate, seconds)
        if what in ("white", "pink", "brown", "changing"):
            out *= gain(rng.uniform(-40.0, -18.0)) / rms(out)
        out *= min(1.0, gain(rng.uniform(-15.0, -3.0)) / np.abs(out).max())
        pieces.append((out, what))
        done += seconds
    return pieces


def _spoken(rng, rate):
    voice = VOICES[rng.integers(len(VOICES))]
    said = SAID["en" if voice.startswith("en") else voice]
    text = said[rng.integers(len(said))]
    name = voice + VARIANTS[rng.integers(len(VARIANTS))]
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder, "said.wav")
        command = ["espeak-ng", "-v", name, "-s", str(rng.integers(120, 190))]
        command += ["-p", str(rng.integers(20, 90)), "-w", str(path), text]
        done = subprocess.run(command, capture_output=True, text=True)
        if done.returncode != 0:
            raise RuntimeError(f"espeak-ng failed: {done.stderr.strip()}")
        samples, had = read_wav(path)
    return resampled(samples, had, rate), f"speech {name}"


def _vowel(rng, rate):
    """A sung vowel of a second or two: a pulse train with vibrato through three
    formants (Peterson and Barney, JASA 24, 1952, give the ranges)."""
    seconds = rng.uniform(0.4, 2.0)
    time = np.arange(int(seconds * rate)) / rate
    hz = 110.0 * (660.0 / 110.0) ** rng.random()
    wave = np.sin(2 * np.pi * rng.uniform(4.5, 6.5) * time + rng.uniform(0, 6))
    bent = hz * 2 ** (rng.uniform(20.0, 80.0) * wave / 1200)
    phase = 2 * np.pi * np.cumsum(bent) / rate
    formants = [rng.uniform(270, 850), rng.uniform(850, 2300), rng.uniform(2400, 3200)]
    out = np.zeros(len(time))
    for order in range(1, int(5000 / hz) + 1):
        near = [1 / (1 + ((order * hz - f) / (60 + 0.06 * f)) ** 2) for f in formants]
        out += (near[0] + 0.5 * near[1] + 0.2 * near[2] + 0.01) / order * np.sin(order * phase)
    rise = np.clip(time / rng.uniform(0.02, 0.12), 0.0, 1.0)
    fall = np.clip((time[-1] - time) / 0.1, 0.0, 1.0)
    return out * rise * fall, "vowel"


def speech(rng, rate, length_s):
    """Sentences, and sung vowels, with pauses of up to a second."""
    pieces, done = [], 0.0
    while done < length_s:
        out, what = (_spoken if rng.random() < 0.75 else _vowel)(rng, rate)
        out = np.concatenate([out, np.zeros(int(rng.uniform(0.1, 1.0) * rate))])
        out *= gain(rng.uniform(-30.0, -6.0)) / np.abs(out).max()
        pieces.append((out, what))
        done += len(out) / rate
    return pieces


def joined(pieces, rng, rate):
    """One sound, over a room's noise, and what begins where in it."""
    out = [np.zeros(int(3.5 * rate))] + [p[0] for p in pieces]
    at, places = len(out[0]), []
    for samples, what in pieces:
        places.append((at, what))
        at += len(samples)
    mix = np.concatenate(out)
    return mix + gain(-80.0) * noise("white", len(mix), rng), places
