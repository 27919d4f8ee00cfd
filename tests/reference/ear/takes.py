"""Takes of a real instrument, from a folder of the user's own.

The folder holds recordings of one plucked note each, of any format that ffmpeg
or sox can read, and `takes.csv`, which has a line for each with these columns:

  file       its name in the folder
  midi       the note, as a MIDI number (A4 = 69)
  onset_s    where the string is let go, in seconds from the start; a pick may
             touch it a little earlier. See `let_go`: 0.2 s too early does no harm
  cents      how far the note is from equal temperament at A4 = 440 Hz
  player, instrument
             may be left out: then all are of one

Nothing of a take is written anywhere but under target/.
"""

import csv
import pathlib
import shutil
import subprocess
from dataclasses import dataclass

import numpy as np

from basics import Note, scaled

# A pick's touch, or a breath, before the string is let go is kept.
LEAD_S = 0.4


@dataclass
class Take:
    path: pathlib.Path
    midi: int
    onset_s: float
    cents: float
    player: str
    instrument: str


def read_takes(folder):
    path = pathlib.Path(folder, "takes.csv")
    if not path.exists():
        raise SystemExit(f"stopped: {path} is missing; takes.py says what it holds")
    out = []
    with open(path, newline="") as source:
        for line, row in enumerate(csv.DictReader(source), 2):
            try:
                numbers = int(row["midi"]), float(row["onset_s"]), float(row["cents"])
            except (KeyError, TypeError, ValueError) as wrong:
                raise SystemExit(f"stopped: line {line} of {path} cannot be read: {wrong}")
            sound = path.parent / row["file"]
            if not sound.exists():
                raise SystemExit(f"stopped: {sound}, named in line {line} of takes.csv, is missing")
            who = [row.get("player") or "one", row.get("instrument") or "one"]
            out.append(Take(sound, *numbers, *who))
    if not out:
        raise SystemExit(f"stopped: {path} names no take")
    return out


def decoded(path, rate):
    """The sound of any file at a rate of our own, channels together."""
    ways = {
        "ffmpeg": ["-v", "error", "-i", str(path), "-ac", "1", "-ar", str(rate), "-f", "f32le", "-"],
        "sox": [str(path), "-t", "raw", "-e", "floating-point", "-b", "32"]
        + ["-L", "-c", "1", "-r", str(rate), "-"],
    }
    said = "neither ffmpeg nor sox is there"
    for program, words in ways.items():
        if shutil.which(program):
            done = subprocess.run([program, *words], capture_output=True)
            if done.returncode == 0 and done.stdout:
                return np.frombuffer(done.stdout, "<f4").astype(float)
            said = done.stderr.decode(errors="replace").strip() or f"{program} found no sound in it"
    raise SystemExit(f"stopped: {path} cannot be read: {said}")


def let_go(samples, told, rate):
    """Where the string is let go, as a sample position: what was told, or if the
    sound rises to within 10 dB of its peak more than 20 ms from there and at most
    0.25 s later, that rise. Whoever marks a recording by ear or by its
    first sound marks the pick's touch instead."""
    begin = max(0, told - round(0.05 * rate))
    near = np.abs(samples[begin : told + round(0.25 * rate)])
    size = max(1, round(0.003 * rate))
    loud = np.sqrt(np.convolve(near**2, np.ones(size) / size, "full")[: len(near)])
    found = begin + int(np.argmax(loud >= loud.max() * 10 ** (-10 / 20))) - size // 2
    return found if abs(found - told) > 0.02 * rate else told


class TakesBank:
    """Notes of a key in turns, so that every take is heard."""

    name = "real"

    def __init__(self, takes):
        self.takes = takes
        self.keys = sorted({take.midi for take in takes})
        self._decoded, self._turn = {}, {}

    def take(self, take, rate):
        """One take, at a peak of half of full scale."""
        if (take.path, rate) not in self._decoded:
            samples = decoded(take.path, rate)
            onset = let_go(samples, round(take.onset_s * rate), rate)
            begin = max(0, onset - round(LEAD_S * rate))
            note = Note(samples[begin:], onset - begin, take.midi, take.cents)
            even = scaled(note, 0.5 / np.abs(note.samples).max())
            self._decoded[take.path, rate] = even
        return self._decoded[take.path, rate]

    def note(self, midi, _rng, rate):
        able = [take for take in self.takes if take.midi == midi]
        turn = self._turn[midi] = self._turn.get(midi, -1) + 1
        return self.take(able[turn % len(able)], rate)
