#!/usr/bin/env python3
"""Makes the test material for the ear: sound files, and what is true of them.

    material.py FOLDER [--quick] [--tones FOLDER] [--seed N]

writes into FOLDER
  *.wav         mono, 16 bit, 48 kHz; half of the files `clean` 44.1 kHz
  manifest.csv  file,set,condition,onset_s,midi,cents: a line for each target; a
                file without targets has one line with the last three empty
  moments.csv   file,at_s,midi,what: what else happened - notes ringing, another
                player's, chords, slides, the pieces of the noise files
  fonts.csv     how far each font's notes are from their keys, and how far the
                partials of one note disagree, in cents, read at 150 to 250 ms
                and later

The same seed gives the same material, with the same versions of fluidsynth and
espeak-ng. `--quick` makes a small part of it in a few seconds. `--tones` names
the folder the program's own tones were written to; without it there is no set
`ours`. Nothing of it is stored with the project.
"""

import argparse
import csv
import pathlib
import sys
import zlib

import numpy as np

import banks
import fonts
import nuisances
import scenes
import tuning
from basics import write_wav

SEED = 5
RATE, OTHER_RATE = 48_000, 44_100
# How often each set goes through all keys of a condition.
ROUNDS = {"clean": 3, "bleed-12": 2, "ringing-2": 2, "noise-0db": 2}
# For sets that the goals do not speak of.
FEW = ["clean", "detuned", "bleed-12", "ringing-2", "noise-0db", "again"]
NEGATIVE_S, QUICK_NEGATIVE_S = 600.0, 60.0
QUICK_SETS = ["timgm", "fluidr3", "stiff"]
QUICK_CONDITIONS = ["clean", "bleed-12", "ringing-2", "noise-0db", "again", "chord", "slide"]
QUICK_KEYS = 7


class Writer:
    """The folder, and its two tables."""

    def __init__(self, folder, seed):
        self.folder, self.seed = folder, seed
        folder.mkdir(parents=True, exist_ok=True)
        for old in list(folder.glob("*.wav")) + list(folder.glob("*.csv")):
            old.unlink()
        self.manifest, self.moments = [], []

    def rng(self, name):
        """Of its own for each file, so that files do not depend on each other."""
        return np.random.default_rng([self.seed, zlib.crc32(name.encode())])

    def write(self, name, set_name, condition, samples, rate, targets, moments):
        write_wav(self.folder / name, samples, rate)
        for at, midi, cents in targets:
            place = [f"{at / rate:.6f}", midi, f"{cents:.2f}"]
            self.manifest.append([name, set_name, condition, *place])
        if not targets:
            self.manifest.append([name, set_name, condition, "", "", ""])
        for at, midi, what in moments:
            self.moments.append([name, f"{at / rate:.6f}", midi, what])
        print(f"  {name}: {len(samples) / rate:.0f} s", file=sys.stderr, flush=True)

    def finish(self):
        heading = "file,set,condition,onset_s,midi,cents".split(",")
        table(self.folder / "manifest.csv", heading, self.manifest)
        heading = "file,at_s,midi,what".split(",")
        table(self.folder / "moments.csv", heading, self.moments)


def table(path, heading, rows):
    with open(path, "w", newline="") as out:
        csv.writer(out, lineterminator="\n").writerows([heading, *rows])


def plucked(writer, bank, condition, turn, quick):
    rate = OTHER_RATE if condition == "clean" and turn % 2 else RATE
    name = f"{bank.name}-{condition}-{turn + 1}.wav"
    rng = writer.rng(name)
    keys = [int(key) for key in rng.permutation(list(bank.keys))]
    keys = keys[:QUICK_KEYS] if quick else keys
    scene = scenes.CONDITIONS[condition](bank, keys, rng, rate)
    writer.write(name, bank.name, condition, scene.mix, rate, scene.targets, scene.moments)


def unplucked(writer, condition, make, seconds):
    name = f"none-{condition}.wav"
    rng = writer.rng(name)
    mix, places = nuisances.joined(make(rng, RATE, seconds), rng, RATE)
    moments = [(at, "", what) for at, what in places]
    writer.write(name, "none", condition, mix, RATE, [], moments)


def font_table(path):
    """States how each font is tuned, which the column `cents` holds."""
    rows = []
    for name, font in [("timgm", fonts.TIMGM), ("fluidr3", fonts.FLUIDR3)]:
        keys = [(k, 100) for k in range(banks.LOWEST, banks.HIGHEST + 1)]
        for note in fonts.notes(font, banks.BANJO, keys, RATE):
            row = [name, note.midi]
            for span_s in (tuning.SETTLED_S, tuning.LATER_S):
                found = tuning.reading(note, RATE, span_s=span_s)
                row += ["", ""] if found is None else [f"{c:.2f}" for c in found]
            rows.append(row)
    heading = ["set", "midi", "cents_150_250_ms", "partials_disagree"]
    heading += ["cents_250_600_ms", "partials_disagree_later"]
    table(path, heading, rows)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--tones", type=pathlib.Path)
    parser.add_argument("--seed", type=int, default=SEED)
    args = parser.parse_args()
    writer = Writer(args.folder, args.seed)
    for bank in banks.all_banks(args.tones):
        if args.quick and bank.name not in QUICK_SETS:
            continue
        conditions = QUICK_CONDITIONS if args.quick else list(scenes.CONDITIONS)
        if bank.name == "other":
            conditions = FEW
        for condition in conditions:
            rounds = 1 if args.quick else ROUNDS.get(condition, 1)
            for turn in range(rounds):
                plucked(writer, bank, condition, turn, args.quick)
    seconds = QUICK_NEGATIVE_S if args.quick else NEGATIVE_S
    unplucked(writer, "silence-noise", nuisances.noises, seconds)
    unplucked(writer, "speech", nuisances.speech, seconds)
    writer.finish()
    if not args.quick:
        font_table(args.folder / "fonts.csv")


if __name__ == "__main__":
    main()
