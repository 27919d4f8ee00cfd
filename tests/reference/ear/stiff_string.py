"""Synthetic plucked stiff strings, made from formulas alone.

Partials stand at f(n) = n f0 sqrt(1 + B n^2), and for a plain wire
B = pi^2 E d^2 / (64 rho f0^2 L^4): Fletcher, JASA 36 (1964), with the tension
written by the frequency. The wire, its length and the fret are chosen at random
around a banjo's, so B lies where real strings have it (about 1e-5 for an open
first string to 1e-3 far up the neck).

The rest is chosen at random in each note: where it is plucked (which partials
are missing: sin(n pi p) / n^2), a body between 500 and 800 Hz, how fast partials
die, how weak the fundamental is, the noise of the finger, and the tuning.
"""

import numpy as np

from basics import Note, band, frequency_hz, noise

# Steel: Young's modulus in Pa, density in kg/m^3 (common values, no one source).
YOUNG, DENSITY = 2.0e11, 7850.0
# Open strings of a banjo in open G: key, and the wire that bends, in metres. The
# fourth is wound: its core bends. Common practice, no source.
STRINGS = [(62, 0.25e-3), (59, 0.28e-3), (55, 0.33e-3), (50, 0.30e-3), (67, 0.25e-3)]
SCALE_M = 0.667
LAST_FRET = 22
LENGTH_S = 2.4
LEAD_S = 0.005


def inharmonicity(midi, rng):
    """B of a key on a string that has it, and the key's open string."""
    able = [s for s in STRINGS if 0 <= midi - s[0] <= LAST_FRET]
    open_midi, wire_m = able[rng.integers(len(able))] if able else (midi, 0.25e-3)
    wire_m *= rng.uniform(0.85, 1.2)
    # The fifth string is shorter; a stopped string is shorter by its fret.
    scale_m = SCALE_M * (2 ** (-5 / 12) if open_midi == 67 else 1.0)
    length_m = scale_m * 2 ** (-(midi - open_midi) / 12)
    f0 = frequency_hz(midi)
    return np.pi**2 * YOUNG * wire_m**2 / (64 * DENSITY * f0**2 * length_m**4)


def pluck(midi, rng, rate, detune=30.0):
    """One note at a level of its own, with its true distance from the key."""
    cents = rng.uniform(-detune, detune)
    stiffness = inharmonicity(midi, rng)
    first_hz = frequency_hz(midi, cents)
    f0 = first_hz / np.sqrt(1.0 + stiffness)
    orders = np.arange(1, 61)
    hz = orders * f0 * np.sqrt(1.0 + stiffness * orders**2)
    orders, hz = orders[hz < 0.45 * rate], hz[hz < 0.45 * rate]
    amplitude = _amplitudes(orders, hz, rng)
    # How long each partial takes to fall by a factor e: the whole note by its
    # instrument, the high ones faster (common practice, no source).
    whole_s = rng.uniform(0.25, 0.7) * (300.0 / first_hz) ** 0.4
    decay_s = whole_s / (1.0 + (hz / rng.uniform(1500.0, 4000.0)) ** 1.3)
    decay_s *= rng.uniform(0.7, 1.3, len(hz))
    time = np.arange(int(LENGTH_S * rate)) / rate
    rise = 1.0 - np.exp(-time / rng.uniform(0.0003, 0.0015))
    sound = np.zeros(len(time))
    phases = rng.uniform(-0.6, 0.6, len(hz))
    for f, a, d, p in zip(hz, amplitude, decay_s, phases):
        sound += a * np.exp(-time / d) * np.sin(2 * np.pi * f * time + p)
    sound = sound * rise + _finger(time, rng, rate) * np.sqrt(np.mean(sound**2))
    # The onset is where the sound is first a fiftieth of its peak, as for the
    # fonts.
    sound *= 0.5 / np.abs(sound).max()
    onset = int(np.argmax(np.abs(sound) >= 0.02 * 0.5))
    lead = int(LEAD_S * rate)
    return Note(np.concatenate([np.zeros(lead), sound]), lead + onset, midi, cents)


def _amplitudes(orders, hz, rng):
    """A pluck's comb, the body's bump, and a fundamental that may be weak."""
    place = rng.uniform(0.06, 0.35)
    # A plucked string's velocity at the bridge falls with 1/n; a soft finger
    # takes the highest away (Fletcher and Rossing, The Physics of Musical
    # Instruments, section 2.7: displacement falls with 1/n^2).
    out = np.abs(np.sin(np.pi * orders * place)) / orders
    out /= 1.0 + (hz / rng.uniform(2500.0, 7000.0)) ** 2
    middle_hz, width = rng.uniform(500.0, 800.0), rng.uniform(0.3, 0.8)
    out *= 0.25 + np.exp(-0.5 * (np.log2(hz / middle_hz) / width) ** 2)
    out *= 10 ** (rng.uniform(-4.0, 4.0, len(out)) / 20)
    kind = rng.random()
    if kind < 0.15:
        out[0] = 0.0
    elif kind < 0.45:
        out[0] *= 10 ** (rng.uniform(-30.0, -10.0) / 20)
    return out


def _finger(time, rng, rate):
    """The pick's or nail's noise: a few milliseconds of a broad band."""
    sound = noise("white", len(time), rng) * np.exp(-time / rng.uniform(0.002, 0.008))
    sound = band(sound, rate, rng.uniform(800.0, 2000.0), rng.uniform(5000.0, 10000.0))
    return sound * rng.uniform(0.5, 4.0)
