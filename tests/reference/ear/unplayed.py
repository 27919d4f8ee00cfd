"""Real sounds in which nobody plays a string, and what a metronome or a tuner
sends out. Whatever a method names in them, it invents; the same twice in a row
answers for the student.

Each builder gives about `length_s` seconds as `(samples, what)`, as those of
`nuisances` do.
"""

import numpy as np

from basics import add, gain, noise
from recordings import CLICKS

# A metronome's accent and beat (common practice, no source).
BEEPS_HZ = (880.0, 1000.0)


def talk(recordings):
    def build(rng, rate, length_s):
        """Sentences of people, with pauses of up to a second."""
        pieces, done = [], 0.0
        while done < length_s:
            out, what = recordings.said(rng, rate)
            out = np.concatenate([out, np.zeros(int(rng.uniform(0.1, 1.0) * rate))])
            out = out * (gain(rng.uniform(-30.0, -6.0)) / np.abs(out).max())
            pieces.append((out, what))
            done += len(out) / rate
        return pieces

    return build


def typing(recordings):
    def build(rng, rate, length_s):
        """Words of 2 to 9 keys, 4 to 10 keys a second."""
        pieces, done = [], 0.0
        while done < length_s:
            seconds, at = rng.uniform(5.0, 15.0), 0.2
            out = np.zeros(int((seconds + 1.0) * rate))
            while at < seconds:
                for _ in range(int(rng.integers(2, 10))):
                    down, up = recordings.keystroke(rng, rate)
                    add(out, down * gain(rng.uniform(-6.0, 0.0)), int(at * rate))
                    add(out, up * gain(rng.uniform(-6.0, 0.0)), int((at + rng.uniform(0.06, 0.12)) * rate))
                    at += rng.uniform(0.1, 0.25)
                at += rng.uniform(0.1, 0.8)
            out *= gain(rng.uniform(-30.0, -6.0)) / np.abs(out).max()
            pieces.append((out, "typing"))
            done += len(out) / rate
        return pieces

    return build


def _beaten(one, rng, rate, seconds):
    """A sound again and again at 40 to 208 beats a minute."""
    out = np.zeros(int(seconds * rate))
    step = 60.0 / rng.uniform(40.0, 208.0)
    for at in np.arange(0.1, seconds - 0.3, step):
        add(out, one, int(at * rate))
    return out


def _wood(rng, rate):
    """A block of wood: one to three modes that die within a twentieth of a second,
    after a tick."""
    time = np.arange(int(0.3 * rate)) / rate
    hz = [rng.uniform(500.0, 1800.0), *rng.uniform(600.0, 4000.0, rng.integers(0, 3))]
    out = 0.3 * noise("white", len(time), rng) * np.exp(-time / 0.001)
    for mode in hz:
        ring = np.sin(2 * np.pi * mode * time + rng.uniform(0, 6))
        out += rng.uniform(0.3, 1.0) * np.exp(-time / rng.uniform(0.01, 0.06)) * ring
    return out


def wood(rng, rate, length_s):
    """Made wood blocks, ten seconds of each."""
    pieces, done = [], 0.0
    while done < length_s:
        out = _beaten(_wood(rng, rate), rng, rate, 10.0)
        out *= gain(rng.uniform(-30.0, -6.0)) / np.abs(out).max()
        pieces.append((out, "wood"))
        done += 10.0
    return pieces


def clicks(recordings):
    def build(rng, rate, length_s):
        """Recorded wood and metronomes, ten seconds of each."""
        pieces, done = [], 0.0
        while done < length_s:
            name = CLICKS[len(pieces) % len(CLICKS)]
            out = _beaten(recordings.click(name, rate), rng, rate, 10.0)
            out *= gain(rng.uniform(-30.0, -6.0)) / np.abs(out).max()
            pieces.append((out, f"click {name}"))
            done += 10.0
        return pieces

    return build


def _beep(hz, lasts_s, rate, rng):
    """A sine, or one with its odd or all harmonics, begun and ended within 1 to
    5 ms."""
    time = np.arange(int(lasts_s * rate)) / rate
    out = np.sin(2 * np.pi * hz * time)
    kind = rng.integers(3)
    for order in {0: (), 1: (3, 5, 7), 2: (2, 3, 4)}[int(kind)]:
        out += np.sin(2 * np.pi * hz * order * time) / order
    ramp = min(int(rng.uniform(0.001, 0.005) * rate), len(out) // 2)
    rise = np.linspace(0.0, 1.0, ramp)
    out[:ramp] *= rise
    out[-ramp:] *= rise[::-1]
    return out


def beeps(low_db, high_db):
    def build(rng, rate, length_s):
        """An electronic metronome: ten seconds of each pitch and length."""
        pieces, done = [], 0.0
        while done < length_s:
            hz, lasts_s = rng.choice(BEEPS_HZ), rng.choice([0.02, 0.05, 0.1, 0.15, 0.2, 0.3])
            out = _beaten(_beep(hz, lasts_s, rate, rng), rng, rate, 10.0)
            out *= gain(rng.uniform(low_db, high_db)) / np.abs(out).max()
            pieces.append((out, f"beep {hz:.0f} Hz {1000 * lasts_s:.0f} ms"))
            done += 10.0
        return pieces

    return build


def held(rng, rate, length_s):
    """Tones held for one to six seconds, by notes of the scale: a tuner's, an
    organ's, a whistle with some vibrato."""
    pieces, done = [], 0.0
    while done < length_s:
        seconds = rng.uniform(1.0, 6.0)
        time = np.arange(int(seconds * rate)) / rate
        hz = 440.0 * 2 ** (rng.integers(-19, 16) / 12)
        depth = rng.choice([0.0, 0.0, 20.0])
        bent = hz * 2 ** (depth * np.sin(2 * np.pi * 5.0 * time) / 1200)
        phase = 2 * np.pi * np.cumsum(bent) / rate
        heights = 1.0 / np.arange(1, 9) ** rng.uniform(0.7, 3.0)
        heights[1:] *= rng.choice([0.0, 1.0])
        out = sum(h * np.sin(n * phase) for n, h in enumerate(heights, 1) if n * hz < 0.4 * rate)
        rise = np.clip(time / rng.choice([0.002, 0.02, 0.1]), 0.0, 1.0)
        fall = np.clip((time[-1] - time) / rng.choice([0.005, 0.1]), 0.0, 1.0)
        out = np.concatenate([out * rise * fall, np.zeros(int(rng.uniform(0.1, 1.0) * rate))])
        out *= gain(rng.uniform(-36.0, -6.0)) / np.abs(out).max()
        pieces.append((out, "held tone"))
        done += len(out) / rate
    return pieces


def vowels(rng, rate, length_s):
    """Syllables without consonants, 0.1 to 0.6 s long: pulses through three formants
    (source and filter: G. Fant, 1960) whose pitch stays, glides or trembles, and that
    swell within 1 to 60 ms."""
    pieces, done = [], 0.0
    while done < length_s:
        seconds = rng.uniform(0.1, 0.6)
        time = np.arange(int(seconds * rate)) / rate
        along = time / seconds
        hz = 90.0 * (600.0 / 90.0) ** rng.random()
        glides = rng.choice([0.0, rng.uniform(-4.0, 4.0)])
        trembles = rng.choice([0.0, rng.uniform(0.2, 1.0)])
        semitones = glides * along + trembles * np.sin(2 * np.pi * rng.uniform(4.0, 7.0) * time)
        phase = 2 * np.pi * np.cumsum(hz * 2 ** (semitones / 12)) / rate
        formants = [rng.uniform(270, 850), rng.uniform(850, 2300), rng.uniform(2300, 3200)]
        wide, tilt = rng.uniform(50.0, 140.0), rng.uniform(0.4, 1.2)
        out = np.zeros(len(time))
        for order in range(1, min(40, int(5000 / hz)) + 1):
            near = sum(1 / (1 + ((order * hz - f) / wide) ** 2) for f in formants)
            out += (near + 0.02) / order**tilt * np.sin(order * phase)
        out *= 1.0 - np.exp(-time / rng.choice([0.001, 0.01, 0.03, 0.06]))
        out *= np.maximum(np.sin(np.pi * along), 0.0) ** 0.5 if rng.random() < 0.6 else 1.0
        out *= np.clip((time[-1] - time) / 0.03, 0.0, 1.0)
        out = np.concatenate([out, np.zeros(int(rng.uniform(0.02, 0.6) * rate))])
        out *= gain(rng.uniform(-30.0, -6.0)) / np.abs(out).max()
        pieces.append((out, "vowel"))
        done += len(out) / rate
    return pieces


def builders(recordings):
    """By condition; those with recordings only where they are there."""
    out = {
        "beeps": beeps(-20.0, -6.0),
        "beeps-soft": beeps(-46.0, -30.0),
        "held-tones": held,
        "wood-made": wood,
        "vowels": vowels,
    }
    for name, make in [("talk", talk), ("typing", typing), ("clicks", clicks)]:
        if recordings is not None and recordings.has(name):
            out[name] = make(recordings)
    return out
