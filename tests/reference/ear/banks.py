"""Where single notes come from: a bank gives a note of a key, alone, at 0.5 of
full scale, with its true onset and its true distance from the key.

`timgm` and `fluidr3` are the banjos of two sound fonts, `stiff` is a made string,
`made` a made banjo as hard to hear as a real one,
`ours` is the program's own tone, `other` holds guitars and relatives of both
fonts.
"""

import functools
import json

import numpy as np

import fonts
import stiff_string
import tuning
from basics import Note, resampled, scaled, shifted
from made_banjo import MadeBank

LOWEST, HIGHEST = 50, 84  # D3 to C6
VELOCITIES = (45, 75, 100, 125)
# General MIDI, counted from nought: banjo; nylon, steel and clean electric
# guitar, shamisen. There is no mandolin in it. Keys are E2 to C6 at most.
BANJO = 105
RELATIVES = [(24, 40, 76), (25, 40, 79), (27, 40, 84), (106, 50, 84)]


def _even(note):
    """At half of full scale, so that what is mixed starts alike."""
    return scaled(note, 0.5 / np.abs(note.samples).max())


@functools.lru_cache(maxsize=None)
def _font_notes(font, program, low, high, rate):
    """Notes by key and velocity, as the font has them."""
    keys = [(k, v) for v in VELOCITIES for k in range(low, high + 1)]
    return dict(zip(keys, fonts.notes(font, program, keys, rate)))


@functools.lru_cache(maxsize=None)
def _font_note(font, program, low, high, midi, velocity, rate):
    """One of them, with what its tuning was measured to be."""
    note = _even(_font_notes(font, program, low, high, rate)[midi, velocity])
    cents = tuning.cents_of(note, rate)
    if cents is None:
        raise RuntimeError(f"the tuning of key {midi} of {font} cannot be read")
    return Note(note.samples, note.onset, midi, cents)


class FontBank:
    def __init__(self, name, programs):
        self.name, self.programs = name, programs
        self.keys = range(
            min(p[2] for p in programs), max(p[3] for p in programs) + 1
        )

    def note(self, midi, rng, rate):
        able = [p for p in self.programs if p[2] <= midi <= p[3]]
        chosen = able[rng.integers(len(able))]
        velocity = VELOCITIES[rng.integers(len(VELOCITIES))]
        return _font_note(*chosen, midi, velocity, rate)


class StiffBank:
    name = "stiff"
    keys = range(LOWEST, HIGHEST + 1)

    def note(self, midi, rng, rate):
        return stiff_string.pluck(midi, rng, rate)


class OwnBank:
    """The program's own tone, written by `cargo run -p fifthpeg-sound --example
    tone_bank`: raw 32-bit samples and an index. By construction its fundamental
    is on the key."""

    name = "ours"
    keys = range(LOWEST, HIGHEST + 1)

    def __init__(self, folder):
        index = json.loads((folder / "index.json").read_text())
        self.rate = index["rate_hz"]
        self.sounds = {}
        for row in index["tones"]:
            samples = np.fromfile(folder / row["file"], "<f4").astype(float)
            onset = fonts.onset_of(samples)
            note = _even(Note(samples, onset, row["midi"], 0.0))
            self.sounds.setdefault(row["midi"], []).append(note)

    def note(self, midi, rng, rate):
        able = self.sounds[midi]
        note = able[rng.integers(len(able))]
        if rate == self.rate:
            return note
        samples = resampled(note.samples, self.rate, rate)
        return Note(samples, round(note.onset * rate / self.rate), midi, note.cents)


def alike(bank, note, rng, rate):
    """Another pluck of the same string at the same place: tuned as the first."""
    again = bank.note(note.midi, rng, rate)
    off = note.cents - again.cents
    return shifted(again, off) if abs(off) > 0.05 else again


def all_banks(own_folder=None):
    banks = [
        FontBank("timgm", [(fonts.TIMGM, BANJO, LOWEST, HIGHEST)]),
        FontBank("fluidr3", [(fonts.FLUIDR3, BANJO, LOWEST, HIGHEST)]),
        StiffBank(),
        MadeBank(),
    ]
    if own_folder is not None:
        banks.append(OwnBank(own_folder))
    relatives = [
        (font, *row) for font in (fonts.TIMGM, fonts.FLUIDR3) for row in RELATIVES
    ]
    banks.append(FontBank("other", relatives))
    return banks
