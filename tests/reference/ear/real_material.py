#!/usr/bin/env python3
"""Makes scenes out of somebody's takes of a real instrument.

    real_material.py TAKES FOLDER [--quick] [--recordings FOLDER] [--seed N]

TAKES is a folder as `takes.py` describes. FOLDER gets what `material.py` writes:
sounds, manifest.csv and moments.csv, and takes.txt, which counts what the
figures rest on. `--recordings` names the folder of `recordings.py`.
"""

import argparse
import pathlib

import numpy as np

import nuisances
import played
import scenes
import unplayed
from basics import add, gain, noise
from material import NEGATIVE_S, QUICK_NEGATIVE_S, RATE, SEED, Writer, unplucked
from recordings import Recordings
from takes import TakesBank, read_takes

# What the plain scenes hold of the others' conditions.
PLAIN = ["clean", "room", "bleed-12", "ringing-2", "noise-0db", "again", "chord", "slide"]
QUICK = ["clean", "noise-0db", "phone", "roll-4", "second-roll-12", "neighbour-12"]
ROUNDS = 2
# Fewer notes than this make no roll and no neighbour.
FEWEST = 8


def single(writer, bank):
    """Each take by itself, as it is, in a file of its own: the ear hears it first."""
    for turn, take in enumerate(bank.takes):
        name = f"real-single-{turn + 1:03}.wav"
        rng = writer.rng(name)
        note = bank.take(take, RATE)
        mix = gain(scenes.ROOM_DB) * noise("white", len(note.samples) + 2 * RATE, rng)
        add(mix, note.samples, RATE)
        targets = [(RATE + note.onset, note.midi, note.cents)]
        writer.write(name, bank.name, "single", mix, RATE, targets, [])


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("takes", type=pathlib.Path)
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--recordings", type=pathlib.Path)
    parser.add_argument("--seed", type=int, default=SEED)
    args = parser.parse_args()
    bank = TakesBank(read_takes(args.takes))
    writer = Writer(args.folder, args.seed)
    single(writer, bank)
    conditions = {name: scenes.CONDITIONS[name] for name in PLAIN} | played.CONDITIONS
    if args.quick:
        conditions = {name: conditions[name] for name in QUICK}
    if len(bank.keys) < FEWEST:
        conditions = {"clean": scenes.clean}
        print(f"fewer than {FEWEST} different notes: scenes of one player and clean notes alone")
    for condition, build in conditions.items():
        for turn in range(1 if args.quick else ROUNDS):
            name = f"real-{condition}-{turn + 1}.wav"
            rng = writer.rng(name)
            # Where a key has several takes, each round takes the next ones.
            keys = [int(key) for key in rng.permutation(bank.keys)]
            scene = build(bank, keys, rng, RATE)
            found = [scene.mix, RATE, scene.targets, scene.moments]
            writer.write(name, bank.name, condition, *found)
    seconds = QUICK_NEGATIVE_S if args.quick else NEGATIVE_S
    recordings = Recordings(args.recordings) if args.recordings else None
    for condition, build in unplayed.builders(recordings).items():
        unplucked(writer, condition, build, seconds)
    unplucked(writer, "silence-noise", nuisances.noises, seconds)
    writer.finish()
    counts = [len(bank.takes), len(bank.keys)]
    counts += [len({getattr(t, what) for t in bank.takes}) for what in ("player", "instrument")]
    (args.folder / "takes.txt").write_text(" ".join(str(count) for count in counts) + "\n")


if __name__ == "__main__":
    main()
