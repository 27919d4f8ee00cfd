#!/usr/bin/env python3
"""Teaches the ear which plucks are strings, and writes what it learnt as
`crates/ear/src/weights.rs`.

    teach.py EAR_PORTRAITS WEIGHTS.rs FOLDER... [--leave-out SET]...

EAR_PORTRAITS is the built example of that name. Each FOLDER is one that
`material.py` or `real_material.py` wrote: its manifest.csv and moments.csv say what
each pluck that the ear named really was. `--leave-out` keeps a set of the manifest
out of the teaching and tells how it fares: an instrument that was never heard, or
a language.

A network of one hidden layer (tanh) and a softmax over six kinds, taught by
scikit-learn's MLPClassifier. Nothing can be heard from its 1100 numbers.
"""

import argparse
import csv
import pathlib
import subprocess
import tempfile
from collections import defaultdict

import numpy as np
from sklearn.neural_network import MLPClassifier

KINDS = ["string", "several", "slide", "voice", "tone", "knock"]
HIDDEN, SEED = 24, 3
NEAR_S, SPOILED_S, TOUCH_S = 0.03, 0.3, 0.2
# Plucks taken of each kind, at most, and of each condition of it.
MOST, MOST_OF_ONE = 4000, 900
# By the beginning of a condition in which nobody plays.
UNPLAYED = [
    ("talk", "voice"),
    ("speech", "voice"),
    ("vowel", "voice"),
    ("beep", "tone"),
    ("held", "tone"),
]
SPOILING = {"chord": "several", "strum": "several", "slide": "slide"}


def told(folder):
    """By file: set, condition, all plucks as (s, midi), and spoiled ones as (s, kind)."""
    files = defaultdict(lambda: {"plucks": [], "targets": [], "spoiled": []})
    for row in csv.DictReader(open(folder / "manifest.csv", newline="")):
        file = files[row["file"]]
        file["set"], file["condition"] = row["set"], row["condition"]
        if row["onset_s"]:
            file["targets"].append(float(row["onset_s"]))
            file["plucks"].append((float(row["onset_s"]), round(float(row["midi"]))))
    for row in csv.DictReader(open(folder / "moments.csv", newline="")):
        file, at = files[row["file"]], float(row["at_s"])
        if row["what"] in ("ringing", "bleed"):
            file["plucks"].append((at, round(float(row["midi"]))))
        elif row["what"] in SPOILING:
            file["spoiled"].append((at, SPOILING[row["what"]]))
    return files


def kind(file, at, midi):
    """What a named pluck really was; None where nobody can say."""
    for spoiled, what in file["spoiled"]:
        if -NEAR_S < at - spoiled < SPOILED_S:
            return what
    near = [note for pluck, note in file["plucks"] if abs(pluck - at) < NEAR_S]
    if near:
        # A wrong name comes of several notes at once, mostly.
        return "string" if midi in near else "several"
    if file["plucks"] or file["spoiled"]:
        touched = any(0.0 < target - at < TOUCH_S for target in file["targets"])
        return "knock" if touched else None
    condition = file["condition"]
    for begin, what in UNPLAYED:
        if condition.startswith(begin):
            return what
    return "knock"


def portraits(program, folder):
    files = told(folder)
    with tempfile.TemporaryDirectory() as place:
        out = pathlib.Path(place, "portraits.csv")
        subprocess.run([program, str(folder), str(out)], check=True)
        for row in csv.reader(open(out, newline="")):
            file = files[row[0]]
            what = kind(file, float(row[1]), int(row[2]))
            if what is not None:
                yield file["set"], file["condition"], what, np.array(row[3:], dtype=float)


def chosen(rows, rng):
    """Not more of one kind or condition than of others."""
    out = []
    for what in KINDS:
        by_condition = defaultdict(list)
        for row in rows:
            if row[2] == what:
                by_condition[row[1]].append(row)
        few = []
        for found in by_condition.values():
            rng.shuffle(found)
            few += found[:MOST_OF_ONE]
        rng.shuffle(few)
        out += few[:MOST]
    return out


def taught(rows):
    net = MLPClassifier((HIDDEN,), activation="tanh", alpha=0.1, max_iter=120, random_state=SEED)
    net.fit(np.array([row[3] for row in rows]), [KINDS.index(row[2]) for row in rows])
    missing = set(range(len(KINDS))) - set(net.classes_)
    if missing:
        raise SystemExit(f"stopped: the folders hold no {', '.join(KINDS[i] for i in missing)}")
    return net


def report(net, rows):
    by = defaultdict(list)
    for set_name, condition, what, portrait in rows:
        by[set_name, condition, what].append(portrait)
    print(f"{'set':<20} {'condition':<18} {'kind':<8} {'n':>5}  taken for a string, %, at 0.3 0.6 0.9")
    for (set_name, condition, what), found in sorted(by.items()):
        likely = net.predict_proba(np.array(found))[:, 0]
        shares = "".join(f"{100 * np.mean(likely > least):7.1f}" for least in (0.3, 0.6, 0.9))
        print(f"{set_name:<20} {condition:<18} {what:<8} {len(found):>5} {shares}")


def written(net):
    def table(name, kind, values):
        lines = []
        rows = values if values.ndim > 1 else [values]
        for row in rows:
            numbers = ", ".join(f"{x:.3f}" for x in row)
            lines.append(f"    [{numbers}]," if values.ndim > 1 else f"    {numbers},")
        body = "\n".join(lines)
        return f"#[rustfmt::skip]\npub(crate) static {name}: {kind} = [\n{body}\n];\n"

    (first, last), (first_bias, last_bias) = net.coefs_, net.intercepts_
    return "\n".join(
        [
            "//! What the ear was taught: written by `tests/reference/ear/teach.py`.\n",
            "#![allow(clippy::approx_constant, "
            'reason = "what was learnt may look like a constant")]\n',
            "use crate::kind::{HIDDEN, KINDS};\nuse crate::portrait::TRAITS;\n",
            table("FIRST", "[[f32; TRAITS]; HIDDEN]", first.T),
            table("FIRST_BIAS", "[f32; HIDDEN]", first_bias),
            table("LAST", "[[f32; HIDDEN]; KINDS]", last.T),
            table("LAST_BIAS", "[f32; KINDS]", last_bias),
        ]
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("program")
    parser.add_argument("weights", type=pathlib.Path)
    parser.add_argument("folders", type=pathlib.Path, nargs="+")
    parser.add_argument("--leave-out", action="append", default=[])
    args = parser.parse_args()
    rows = [row for folder in args.folders for row in portraits(args.program, folder)]
    left_out = [row for row in rows if row[0] in args.leave_out]
    rows = chosen([row for row in rows if row[0] not in args.leave_out], np.random.default_rng(SEED))
    net = taught(rows)
    report(net, left_out or rows)
    args.weights.write_text(written(net))


if __name__ == "__main__":
    main()
