#!/usr/bin/env python3
"""Makes what a lesson's microphone hears in tests/tests/hands_free/real_sound.rs.

    lesson_sounds.py FOLDER [--takes FOLDER] [--recordings FOLDER] [--seconds N]

writes into FOLDER, as far as there is something to make it of:
  takes.wav, takes.csv             each take of a real instrument (takes.py) twice,
                                   APART_S apart; midi of each in turn
  talk.wav, typing.wav, metronome.wav
                                   so many seconds of people, keys and beeps
"""

import argparse
import pathlib

import numpy as np

import unplayed
from basics import add, fade_out, gain, write_wav
from material import SEED, table
from nuisances import joined
from recordings import Recordings
from takes import TakesBank, read_takes

RATE = 48_000
# From one pluck of a note to the next, and until another note: what was plucked
# longer ago is no part of an answer.
APART_S, THEN_S = 1.0, 2.4
PEAK_DB = -9.0


def takes(folder, bank):
    sound = np.zeros(round((0.5 + len(bank.takes) * (APART_S + THEN_S)) * RATE))
    at, rows = 0.5, []
    for take in bank.takes:
        note = bank.take(take, RATE)
        # A finger stops the string before the pick touches it again.
        for lasts_s in (APART_S - note.onset / RATE - 0.05, THEN_S - 0.9):
            end = note.onset + round(lasts_s * RATE)
            one = fade_out(note.samples, end, RATE // 50) * 2.0 * gain(PEAK_DB)
            add(sound, one, round(at * RATE) - note.onset)
            at += APART_S
        at += THEN_S - APART_S
        rows.append([take.midi])
    write_wav(folder / "takes.wav", sound, RATE)
    table(folder / "takes.csv", ["midi"], rows)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--takes", type=pathlib.Path)
    parser.add_argument("--recordings", type=pathlib.Path)
    parser.add_argument("--seconds", type=float, default=60.0)
    args = parser.parse_args()
    args.folder.mkdir(parents=True, exist_ok=True)
    if args.takes:
        takes(args.folder, TakesBank(read_takes(args.takes)))
    recordings = Recordings(args.recordings) if args.recordings else None
    builders = unplayed.builders(recordings)
    for condition, name in [("talk", "talk"), ("typing", "typing"), ("beeps", "metronome")]:
        if condition in builders:
            rng = np.random.default_rng([SEED, len(name)])
            mix, _ = joined(builders[condition](rng, RATE, args.seconds), rng, RATE)
            write_wav(args.folder / f"{name}.wav", mix, RATE)


if __name__ == "__main__":
    main()
