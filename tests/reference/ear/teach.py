#!/usr/bin/env python3
"""Teaches the ear which plucks are one string and which several, and writes what it
learnt as `crates/ear/src/weights.rs`. What it was taught earlier of all kinds
(weights_kept.rs) stays: networks taught anew fared worse with some of them.

    teach.py EAR_PORTRAITS WEIGHTS.rs FOLDER... [--leave-out SET]...

EAR_PORTRAITS is the built example of that name. Each FOLDER is one that
`teaching.py` wrote: its manifest.csv and moments.csv say what each onset that the
ear heard really was. `--leave-out` keeps a set of the manifest out of the teaching
and tells how it fares: an instrument that was never heard. `scripts/ear-teach` does
all of it.

Networks of one hidden layer (tanh) and a softmax over six kinds, of which the mean goes,
taught by scikit-learn's MLPClassifier. Of each onset a second copy with noise is shown, a third of
each number's spread: without it the network knows its instruments and no others
(C. M. Bishop, "Training with noise is equivalent to Tikhonov regularization", Neural
Computation 7:1, 1995). How many networks there are, how large they are and how long they
learn was chosen by how a fifth of the instruments fared each time that was left out.
Of what they tell of the kinds only how much likelier several are than one is kept, in
steps of a thirty-second. Nothing can be heard from their 20,000 numbers.
"""

import argparse
import concurrent.futures
import csv
import functools
import pathlib
import subprocess
import tempfile
import warnings
from collections import defaultdict

import numpy as np
from sklearn.exceptions import ConvergenceWarning
from sklearn.neural_network import MLPClassifier

# The kinds, and how much each counts, however many onsets of it there are.
KINDS = {"string": 0.44, "several": 0.30, "slide": 0.05, "voice": 0.07, "tone": 0.07, "knock": 0.07}
NETWORKS, HIDDEN, TURNS, NOISE, STEPS = 8, 48, 90, 0.3, 32
# What is hard counts more: strings through these, and soft beeps.
HARD = {"room", "echoing", "noise-0db", "noise-pink", "phone", "eight-bits"}
HARD_STRING, SOFT_BEEP = 1.6, 2.0
# No onset counts for more than so many usual ones.
MOST = 8.0
NEAR_S, SPOILED_S, TOUCH_S = 0.03, 0.3, 0.2
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
        # Wrong names are to be taken back, and come of several notes at once, mostly.
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


def counted(rows):
    """How much each onset counts: kinds by `KINDS`, and within one its conditions by
    the root of how many onsets they have."""
    by_kind = defaultdict(lambda: defaultdict(list))
    for i, (_, condition, what, _) in enumerate(rows):
        by_kind[what][condition].append(i)
    weights = np.zeros(len(rows))
    for what, by_condition in by_kind.items():
        whole = sum(len(found) ** 0.5 for found in by_condition.values())
        for found in by_condition.values():
            weights[found] = KINDS[what] / (len(found) ** 0.5 * whole)
    weights *= len(rows)
    weights = np.minimum(weights, MOST * np.median(weights))
    for i, (_, condition, what, _) in enumerate(rows):
        weights[i] *= HARD_STRING if what == "string" and condition in HARD else 1.0
        weights[i] *= SOFT_BEEP if condition == "beeps-soft" else 1.0
    return weights


def taught(rows):
    missing = set(KINDS) - {row[2] for row in rows}
    if missing:
        raise SystemExit(f"stopped: the folders hold no {', '.join(sorted(missing))}")
    with concurrent.futures.ProcessPoolExecutor() as pool:
        return list(pool.map(functools.partial(one_taught, rows), range(NETWORKS)))


def one_taught(rows, seed):
    """Weights and biases of the two layers."""
    plain = np.array([row[3] for row in rows])
    kinds, weights = [list(KINDS).index(row[2]) for row in rows], counted(rows)
    spread = NOISE * plain.std(0)
    noisy = plain + spread * np.random.default_rng(seed).standard_normal(plain.shape)
    net = MLPClassifier(
        (HIDDEN,), activation="tanh", alpha=0.05, max_iter=TURNS, batch_size=400,
        learning_rate_init=3e-3, random_state=seed,
    )
    with warnings.catch_warnings():
        # It is stopped before it knows what it was taught by heart.
        warnings.simplefilter("ignore", ConvergenceWarning)
        net.fit(np.concatenate([plain, noisy]), kinds + kinds, np.concatenate([weights, weights]))
    print(f"  network {seed + 1} of {NETWORKS}", flush=True)
    return net.coefs_[0].T, net.intercepts_[0], net.coefs_[1].T, net.intercepts_[1]


def likely_string(nets, portraits):
    """How likely each portrait is one string, if it went by these alone."""
    logs = 0.0
    for first, first_bias, last, last_bias in nets:
        logs = logs + (np.tanh(portraits @ first.T + first_bias) @ last.T + last_bias) / len(nets)
    likely = np.exp(logs - logs.max(1, keepdims=True))
    return likely[:, 0] / likely.sum(1)


def report(nets, rows):
    by = defaultdict(list)
    for set_name, condition, what, portrait in rows:
        by[set_name, condition, what].append(portrait)
    print(f"{'set':<20} {'condition':<18} {'kind':<8} {'n':>5}  taken for a string, %, at 0.3 0.6 0.9")
    for (set_name, condition, what), found in sorted(by.items()):
        likely = likely_string(nets, np.array(found))
        shares = "".join(f"{100 * np.mean(likely > least):7.1f}" for least in (0.3, 0.6, 0.9))
        print(f"{set_name:<20} {condition:<18} {what:<8} {len(found):>5} {shares}")


def written(nets):
    def row(values):
        steps = np.clip(np.round(values * STEPS), -127, 127).astype(int)
        return "&[" + ", ".join(map(str, steps)) + "]"

    def network(first, first_bias, last, last_bias):
        one, several = (list(KINDS).index(kind) for kind in ("string", "several"))
        return "".join([
            "    Network {\n        first: &[\n",
            *(f"            {row(weights)},\n" for weights in first),
            f"        ],\n        first_bias: {row(first_bias)},\n",
            f"        last: &[{row(last[several] - last[one])}],\n",
            f"        last_bias: {row(last_bias[[several]] - last_bias[one])},\n    }},\n",
        ])

    return f"""//! How much likelier several strings are than one, as the ear was taught: written by
//! `tests/reference/ear/teach.py`.

use crate::network::Network;

#[rustfmt::skip]
pub(crate) const COMPANY: [Network; {len(nets)}] = [
{"".join(network(*net) for net in nets)}];
"""


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("program")
    parser.add_argument("weights", type=pathlib.Path)
    parser.add_argument("folders", type=pathlib.Path, nargs="+")
    parser.add_argument("--leave-out", action="append", default=[])
    args = parser.parse_args()
    rows = [row for folder in args.folders for row in portraits(args.program, folder)]
    left_out = [row for row in rows if row[0] in args.leave_out]
    rows = [row for row in rows if row[0] not in args.leave_out]
    nets = taught(rows)
    report(nets, left_out or rows)
    args.weights.write_text(written(nets))


if __name__ == "__main__":
    main()
