#!/usr/bin/env python3
"""Prints the ear on real takes beside other methods, as markdown.

    real_table.py MATERIAL NAME=EAR.csv... [--others OTHERS.csv]

EAR.csv is what `ear_judge` wrote; several ears may be compared.
"""

import argparse
import math
import pathlib

from score import read_ear, read_material, read_others, score
from table import rows, show

SPOILED = ["chord", "strum", "slide"]
NEIGHBOURS = ["neighbour-12", "neighbour-6"]

NOTES = """
Each scene is made of the takes: what is done to them stands in
tests/reference/ear/scenes.py and played.py, sounds without strings in unplayed.py
and recordings.py. Right, wrong and abstained in % of the notes (the rest is not
noticed at all). **In brackets** what the takes can show at most: the interval of Wilson
(JASA 22, 1927) at 95 %, with as many trials as there are different takes, not notes, since
one take in another scene is no new one. Nothing here speaks of players and instruments
that are not in the folder.

*Soon*: of the notes named, those named within 60 ms of the string being let go.
*May answer*: of the notes named right. *Answers*: the same note twice within two
seconds with no other between, both of which may answer.

The ear finds the onsets itself and knows the neck's range. Others: onsets of their
own library / the true onset told, the best of three spans of time for each
figure.
"""


def wilson(share, trials, z=1.959964):
    """The interval for a share, in %, of `trials`."""
    if not trials:
        return "-"
    middle = (share + z * z / (2 * trials)) / (1 + z * z / trials)
    spread = z / (1 + z * z / trials)
    spread *= math.sqrt(share * (1 - share) / trials + z * z / (4 * trials * trials))
    return f"{100 * max(0, middle - spread):.0f} to {100 * min(1, middle + spread):.0f}"


class Methods:
    """Tallies by method, then by (set, condition)."""

    def __init__(self, files, ears, others):
        self.ears = {name: score(files, read_ear(path)) for name, path in ears}
        self.others = {}
        if others:
            for (method, onsets, _), reports in read_others(others).items():
                by_span = self.others.setdefault(method, {}).setdefault(onsets, [])
                by_span.append(score(files, reports))

    def right(self, key):
        """For each other method, right % with its own onsets and told ones."""
        out = []
        for method in self.others.values():
            figures = []
            for onsets in ("own", "told"):
                tallies = [spans[key] for spans in method[onsets]]
                best = max(tallies, key=lambda t: t.right)
                figures.append(show(best.share(best.right), 0))
            out.append(" / ".join(figures))
        return out

    def least(self, figure):
        """For each other method with its own onsets, the least of a figure."""
        out = []
        for method in self.others.values():
            found = [figure(spans) for spans in method["own"]]
            out.append(show(min(f for f in found if f is not None), 1))
        return out


def notes_table(methods, conditions, takes):
    heading = ["scene", "ear", "notes", "right %", "wrong %", "abstained %", "soon %"]
    heading += ["may answer %", "others' notes a minute"]
    lines = []
    for condition in conditions:
        key = ("real", condition)
        for index, (name, tallies) in enumerate(methods.ears.items()):
            t = tallies[key]
            named = t.right + t.wrong
            right = f"{show(t.share(t.right))} ({wilson(t.right / t.targets, takes)})"
            line = [condition if index == 0 else "", name, str(t.targets), right]
            line += [show(t.share(t.wrong)), show(t.share(t.abstained))]
            line += [show(t.share(t.soon, named)), show(t.share(t.right_may_answer, t.right))]
            line += [show((t.neighbour + t.extra) * 60 / t.length_s)]
            line += methods.right(key) if index == 0 else [""] * len(methods.others)
            lines.append(line)
    print("## Notes\n")
    rows([*heading, *(f"{m}, right %" for m in methods.others)], lines)


def spoiled_table(methods, conditions):
    heading = ["taken for one note, %", "ear", "how many"]
    lines = []
    for condition in conditions:
        key = ("real", condition)
        for index, (name, tallies) in enumerate(methods.ears.items()):
            t = tallies[key]
            line = [condition if index == 0 else "", name, str(t.negatives)]
            line += [show(t.share(n, t.negatives), 0) for n in (t.stood, t.stood_may_answer)]
            if index == 0:
                line += methods.least(lambda s: s[key].share(s[key].stood, s[key].negatives))
            else:
                line += [""] * len(methods.others)
            lines.append(line)
    print("## What is no single note\n")
    rows([*heading, "stood %", "may answer %", *methods.others], lines)


def _hourly(tally, neighbours):
    """Notes a minute, and answers an hour, that are not the student's."""
    minutes = tally.length_s / 60
    notes = tally.neighbour if neighbours else tally.extra
    return notes / minutes, 60 * tally.strange_answers / minutes


def nobody_table(methods, keys):
    heading = ["nobody plays", "ear", "minutes", "notes a minute", "answers an hour"]
    lines = []
    for key in keys:
        neighbours = key[1] in NEIGHBOURS
        for index, (name, tallies) in enumerate(methods.ears.items()):
            notes, answers = _hourly(tallies[key], neighbours)
            line = [key[1] if index == 0 else "", name, show(tallies[key].length_s / 60, 0)]
            line += [show(notes), show(answers, 0)]
            if index == 0:
                a_minute = methods.least(lambda s: _hourly(s[key], neighbours)[0])
                an_hour = methods.least(lambda s: _hourly(s[key], neighbours)[1])
                line += [f"{a} / {b}" for a, b in zip(a_minute, an_hour)]
            else:
                line += [""] * len(methods.others)
            lines.append(line)
    print("## Where the student plays nothing\n")
    print("Others: notes a minute / answers an hour. In `neighbour-12` and `-6` the student")
    print("plays ten notes first, then only another player of the same lesson does.\n")
    rows([*heading, *methods.others], lines)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("material", type=pathlib.Path)
    parser.add_argument("ears", nargs="+")
    parser.add_argument("--others")
    args = parser.parse_args()
    files = read_material(args.material)
    methods = Methods(files, [word.split("=", 1) for word in args.ears], args.others)
    takes, keys, players, instruments = map(int, (args.material / "takes.txt").read_text().split())
    print("# The ear on real takes\n")
    print(f"{takes} takes of {keys} notes, {players} player(s), {instruments} instrument(s).\n")
    tallies = next(iter(methods.ears.values()))
    real = [condition for name, condition in tallies if name == "real"]
    notes_table(methods, [c for c in real if tallies["real", c].targets], takes)
    spoiled = [c for c in real if c in SPOILED]
    if spoiled:
        spoiled_table(methods, spoiled)
    nobody = [("real", c) for c in real if c in NEIGHBOURS]
    nobody_table(methods, nobody + [k for k in tallies if k[0] == "none"])
    print(NOTES.strip())


if __name__ == "__main__":
    main()
