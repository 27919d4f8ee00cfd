"""Made banjos that behave as recorded ones do, where `stiff_string` is a string
alone. What is here was seen on recordings of a real one:

* A pick touches the string up to 170 ms before it lets go, 10 to 30 dB softer: it
  scrapes, and the choked string sounds a little.
* The head and the bridge have modes of their own between 200 and 1200 Hz that die
  within a tenth of a second, some nearly as strong as the note, some beside its fundamental. A
  partial near one of them dies soon, and begins up to 40 cents sharp.
* Other strings ring along at the partials they have, 15 to 35 dB softer, for a second.
* Each partial is two, a fraction of a hertz to three apart: the string moves up and down, which the
  bridge takes up fast, and sideways, which it does not (Weinreich, JASA 62, 1977).
* Up the neck the fundamental is gone in a tenth of a second, the third partial is not.

The wire's stiffness is that of `stiff_string`. All else is chosen at random, for each of
six instruments or for each note, around what those recordings showed.
"""

import functools
from dataclasses import dataclass

import numpy as np

from basics import Note, band, frequency_hz, gain, noise
from stiff_string import inharmonicity

# Open strings of a banjo in open G: common practice, no source.
OPEN = (50, 55, 59, 62, 67)
INSTRUMENTS = 6
LENGTH_S = 1.8
TOUCH_S = (0.02, 0.17)


@dataclass
class Instrument:
    """Modes of head and bridge, the strings that ring along, and the hand."""

    mode_hz: np.ndarray
    mode_decay_s: np.ndarray
    mode_level: np.ndarray
    string_hz: np.ndarray
    string_level: np.ndarray


def instrument(number):
    rng = np.random.default_rng([11, number])
    count = int(rng.integers(9, 14))
    hz = np.sort(200.0 * (1250.0 / 200.0) ** rng.random(count))
    strings, levels = [], []
    for midi in OPEN:
        first = frequency_hz(midi, rng.uniform(-15.0, 15.0))
        for order in range(1, 9):
            strings.append(first * order * np.sqrt(1.0 + 2e-5 * order**2))
            levels.append(gain(rng.uniform(-12.0, 0.0)) / order**0.5)
    return Instrument(
        hz,
        rng.uniform(0.02, 0.12, count),
        gain(rng.uniform(-14.0, 0.0, count)),
        np.array(strings),
        np.array(levels),
    )


def _ringing(time, hz, decay_s, level, rng):
    """Modes that all begin at once."""
    out = np.zeros(len(time))
    for f, d, a in zip(hz, decay_s, level):
        _add(out, time, f, d, a, rng.uniform(-0.6, 0.6))
    return out


def _add(out, time, hz, decay_s, level, begin):
    """One mode, until it is 80 dB softer."""
    time = time[: np.searchsorted(time, 9.2 * decay_s)]
    out[: len(time)] += level * np.exp(-time / decay_s) * np.sin(2 * np.pi * hz * time + begin)


def _near(hz, modes_hz, width):
    """How near each frequency is to a mode, from 0 to 1."""
    octaves = np.abs(np.log2(np.asarray(hz)[:, None] / modes_hz[None, :]))
    return np.exp(-0.5 * (octaves / width) ** 2).max(axis=1)


def _string(time, midi, cents, made, rng):
    """The string alone: each partial in two directions."""
    first_hz = frequency_hz(midi, cents)
    stiff = inharmonicity(midi, rng)
    orders = np.arange(1, 41)
    hz = orders * first_hz * np.sqrt((1.0 + stiff * orders**2) / (1.0 + stiff))
    orders, hz = orders[hz < 9000.0], hz[hz < 9000.0]
    # Plucked near the bridge (Fletcher and Rossing, section 2.7); a head passes little
    # of what lies below its own first mode on.
    level = np.abs(np.sin(np.pi * orders * rng.uniform(0.05, 0.28))) / orders**0.7
    level /= 1.0 + (hz / rng.uniform(2500.0, 5000.0)) ** 2
    level *= 1.0 / (1.0 + (rng.uniform(250.0, 450.0) / hz) ** 3)
    level *= gain(rng.uniform(-7.0, 7.0, len(hz)))
    near = _near(hz, made.mode_hz, 0.04)
    # What the head takes up is loud, and gone soon.
    level *= 1.0 + 1.5 * near
    slow_s = rng.uniform(0.25, 0.6) * (300.0 / first_hz) ** 0.5
    slow_s = slow_s * rng.uniform(0.6, 1.4, len(hz)) / (1.0 + (hz / 3500.0) ** 1.2)
    fast_s = slow_s * rng.uniform(0.15, 0.5, len(hz)) / (1.0 + 2.5 * near)
    # High on the neck the head swallows the fundamental.
    if first_hz > 450.0:
        swallowed = rng.uniform(0.15, 0.5)
        slow_s[0] *= swallowed
        fast_s[0] *= swallowed
    out = np.zeros(len(time))
    sharp = near * rng.uniform(0.0, 40.0, len(hz)) / 1200.0
    for f, a, fast, slow, bend in zip(hz, level, fast_s, slow_s, sharp):
        apart = rng.uniform(0.2, 3.0) * rng.choice([-1.0, 1.0])
        turns = f * (time + np.log(2.0) * bend * 0.03 * (1.0 - np.exp(-time / 0.03)))
        begin = rng.uniform(-0.6, 0.6)
        loud = np.exp(-time / fast)
        out += a * loud * np.sin(2 * np.pi * (turns + apart * time) + begin)
        _add(out, time, f, slow, a * gain(rng.uniform(-14.0, -2.0)), begin)
    return out, hz


def _touch(length, rate, rng, midi):
    """The pick on the string before it lets go: it scrapes, in bursts, and the choked
    string sounds at a pitch of its own."""
    time = np.arange(length) / rate
    scrape = band(noise("white", length, rng), rate, 500.0, rng.uniform(3000.0, 7000.0))
    bends = gain(rng.uniform(-12.0, 3.0, int(length / rate * 60) + 2))
    out = scrape * np.interp(time * 60, np.arange(len(bends)), bends)
    for _ in range(int(rng.integers(1, 4))):
        begin = int(rng.uniform(0.0, 0.7) * length)
        part = time[: length - begin]
        hz = frequency_hz(midi) * rng.uniform(1.1, 4.0)
        choked = np.exp(-part / rng.uniform(0.004, 0.02))
        choked = choked * (
            np.sin(2 * np.pi * hz * part) + 0.6 * np.sin(2 * np.pi * 2.01 * hz * part)
        )
        out[begin:] += rng.uniform(0.5, 2.0) * choked
    rise = int(0.004 * rate)
    out[:rise] *= np.linspace(0.0, 1.0, rise)
    return out / np.sqrt(np.mean(out**2))


def pluck(midi, rng, rate, detune=25.0):
    """One note, at 0.5 of full scale, let go at its onset."""
    made = instrument(int(rng.integers(INSTRUMENTS)))
    cents = rng.uniform(-detune, detune)
    time = np.arange(int(LENGTH_S * rate)) / rate
    sound, partials = _string(time, midi, cents, made, rng)
    loud = np.sqrt(np.mean(sound[: int(0.1 * rate)] ** 2))
    # The head is struck as the string is let go; near a partial it is driven as well.
    near = _near(made.mode_hz, partials[:6], 0.08)
    head = made.mode_level * (0.3 + near) * gain(rng.uniform(-6.0, 6.0, len(near)))
    head = _ringing(time, made.mode_hz, made.mode_decay_s, head, rng)
    head *= gain(rng.uniform(-8.0, 4.0)) * loud / np.sqrt(np.mean(head[: int(0.05 * rate)] ** 2))
    along = made.string_level * (0.25 + _near(made.string_hz, partials[:10], 0.01))
    along = _ringing(time, made.string_hz, rng.uniform(0.4, 1.5, len(along)), along, rng)
    along *= gain(rng.uniform(-26.0, -10.0)) * loud / np.sqrt(np.mean(along**2))
    rise = 1.0 - np.exp(-time / rng.uniform(0.0002, 0.001))
    sound = (sound + head + along) * rise
    pick = band(noise("white", len(time), rng), rate, 800.0, 7000.0)
    pick *= np.exp(-time / rng.uniform(0.001, 0.004))
    sound += pick * loud * rng.uniform(0.3, 2.0)
    touch = np.zeros(0)
    if rng.random() < 0.9:
        touch = _touch(int(rng.uniform(*TOUCH_S) * rate), rate, rng, midi)
        touch *= loud * gain(rng.uniform(-26.0, -10.0))
    lead = np.concatenate([np.zeros(int(0.03 * rate)), touch])
    samples = np.concatenate([lead, sound])
    return Note(samples * 0.5 / np.abs(samples).max(), len(lead), midi, cents)


# So many plucks of each key are made.
PLUCKS = 4


@functools.lru_cache(maxsize=None)
def _made(midi, number, rate):
    return pluck(midi, np.random.default_rng([12, midi, number]), rate)


class MadeBank:
    name = "made"
    keys = range(50, 85)

    def note(self, midi, rng, rate):
        return _made(int(midi), int(rng.integers(PLUCKS)), rate)
