#!/usr/bin/env python3
"""Prints the ear beside other methods, as markdown.

    table.py MATERIAL EAR.csv [OTHERS.csv]

EAR.csv is what `ear_judge` wrote, OTHERS.csv what `judge_others.py` wrote. What
the figures mean stands in the notes that are printed with them.
"""

import csv
import pathlib
import sys
from collections import defaultdict

from score import Tally, part, read_ear, read_material, read_others, score

BANJO_SETS = ["timgm", "fluidr3", "stiff"]
EAR = "ear"
# (condition, right % asked for), over D3 to C6.
GOALS = [("clean", 100.0), ("bleed-12", 99.0), ("ringing-2", 95.0), ("noise-0db", 97.0)]

NOTES = """
Sets: `timgm` and `fluidr3` are the banjos of TimGM6mb and FluidR3 GM, rendered
by fluidsynth; `stiff` is synthetic; `ours` is the program's own tone in its three
voices; `other` is guitars and shamisen of both fonts, E2 to C6. D3 to C6 unless
said otherwise. All notes are mixed at known samples; a level is the RMS of a
note's first 250 ms. Conditions are described in tests/reference/ear/scenes.py:
`bleed-12` another player 12 dB lower; `ringing-2` two earlier notes ring on,
`ringing-octave` and `ringing-fifth` with one of them so related to the target;
`room` a small room and microphone; `noise-0db` and `noise-pink` white and pink
noise as loud as the note; `speech-20` speech 20 dB below it.

Ear: onset found by itself, the range of the neck known, the note never. Others,
"own / told": with the onset detector of their own library, or with the true onset
told; pitch is the median over 2048-sample frames whose middle lies 20 to 60, 20 to
80 or 40 to 100 ms after the onset: the best of the three stands here, for each
figure. They abstain when half the frames have no pitch. librosa is told the
range of notes. A decision falls when the last sample used has been heard, and is
counted from the true onset. A target is found within 50 ms of it.
"""


def show(value, digits=1, unit=""):
    return "-" if value is None else f"{value:.{digits}f}{unit}"


def rows(heading, lines):
    print("| " + " | ".join(heading) + " |")
    print("|" + "|".join(["---"] * 2 + ["--:"] * (len(heading) - 2)) + "|")
    for line in lines:
        print("| " + " | ".join(line) + " |")
    print()


def pooled(tallies, condition, sets):
    out = Tally()
    for name in sets:
        if (name, condition) in tallies:
            out.add(tallies[name, condition])
    return out


class Others:
    """Tallies of every method, onset kind and span."""

    def __init__(self, files, path):
        self.tallies = {}
        if path is not None:
            for key, reports in read_others(path).items():
                self.tallies[key] = score(files, reports)
        self.methods = sorted({method for method, _, _ in self.tallies})

    def spans(self, method, onsets):
        return {k[2]: t for k, t in self.tallies.items() if k[:2] == (method, onsets)}

    def best(self, method, onsets, key):
        """The tally of the span in which most is right, and that span."""
        spans = self.spans(method, onsets)
        span = max(spans, key=lambda s: (spans[s][key].right, s))
        return spans[span][key], span


def right_table(ear, others):
    heading = ["set", "condition", "notes", "ear: right %", "wrong", "abstained", "missed"]
    lines = []
    for key in sorted(k for k, t in ear.items() if t.targets):
        tally = ear[key]
        line = [*key, str(tally.targets), show(tally.share(tally.right))]
        line += [str(tally.wrong), str(tally.abstained), str(tally.missed)]
        for method in others.methods:
            both = [others.best(method, onsets, key)[0] for onsets in ("own", "told")]
            line.append(" / ".join(show(t.share(t.right)) for t in both))
        lines.append(line)
    print("Right semitone, in % of the targets; others: own onsets / true onsets told.\n")
    rows(heading + others.methods, lines)


def detail_line(method, condition, tally):
    minutes = tally.length_s / 60
    return [
        condition,
        method,
        show(tally.share(tally.right)),
        show(tally.share(tally.wrong)),
        show(tally.share(tally.octave)),
        show(tally.share(tally.abstained)),
        show(tally.share(tally.missed)),
        show(tally.extra / minutes),
        show(part(tally.onset_ms, 0.5)),
        show(part(tally.decision_ms, 0.5), 0),
        show(part(tally.decision_ms, 0.95), 0),
        show(part(tally.intonation_cents, 0.5), 2),
        show(part(tally.intonation_cents, 0.95), 1),
    ]


def detail_table(ear, others):
    print("The three banjo sets together. Of an octave: wrong by octaves alone, part of wrong.\n")
    heading = ["condition", "method", "right %", "wrong %", "of an octave %", "abstained %"]
    heading += ["missed %", "extra a minute", "onset off, median ms", "decision, median ms"]
    heading += ["decision, p95 ms", "intonation off, median cents", "p95 cents"]
    lines = []
    for condition in dict.fromkeys(c for s, c in ear if s in BANJO_SETS):
        tally = pooled(ear, condition, BANJO_SETS)
        if not tally.targets:
            continue
        lines.append(detail_line(f"**{EAR}**", condition, tally))
        for method in others.methods:
            for onsets in ("own", "told"):
                spans = others.spans(method, onsets)
                together = {s: pooled(t, condition, BANJO_SETS) for s, t in spans.items()}
                span = max(together, key=lambda s: together[s].right)
                label = f"{method}, {onsets}, {span} ms"
                lines.append(detail_line(label, condition, together[span]))
    rows(heading, lines)


def negative_table(ear, others):
    """Chords and slides after which a note stood, in %; notes named in noise and
    in speech, a minute."""
    kinds = [("chord", None), ("slide", None), ("silence-noise", "none"), ("speech", "none")]

    def figure(tallies, condition, name):
        tally = pooled(tallies, condition, [name] if name else [*BANJO_SETS, "ours"])
        if name:
            return 60 * tally.extra / tally.length_s if tally.length_s else None
        return tally.share(tally.stood, tally.negatives)

    ways = {f"**{EAR}**": [ear]}
    ways |= {m: list(others.spans(m, "own").values()) for m in others.methods}
    lines = []
    for way, spans in ways.items():
        line = [way, "own" if way in others.methods else "-"]
        for kind in kinds:
            found = [figure(tallies, *kind) for tallies in spans]
            # As elsewhere, the span that does better.
            line.append(show(min((f for f in found if f is not None), default=None)))
        lines.append(line)
    print("Where no note may stand: chords and slides after which one did, in % of those")
    print("in the banjo sets and `ours`; notes named in noise and in speech, a minute.\n")
    heading = ["method", "onsets", "chord %", "slide %", "noise, a minute", "speech, a minute"]
    rows(heading, lines)


def goals(ear):
    print("The goals, over the three banjo sets, and the set with the worst figure.\n")
    lines = []
    for condition, asked in GOALS:
        by_set = {s: ear[s, condition] for s in BANJO_SETS if (s, condition) in ear}
        every = pooled(ear, condition, BANJO_SETS)
        if not every.targets:
            continue
        worst = min(by_set, key=lambda s: by_set[s].right / by_set[s].targets)
        low = by_set[worst].share(by_set[worst].right)
        reached = f"{show(every.share(every.right), 2)} ({every.right} of {every.targets})"
        lines.append([f"right in {condition}, %", f"{asked:g}", reached, f"{show(low)} ({worst})"])
    every = pooled(ear, "clean", BANJO_SETS)
    for name, share, asked in [("median", 0.5, 60), ("p95", 0.95, 100)]:
        all_ms = defaultdict(list)
        for condition, _ in GOALS:
            all_ms["every"] += pooled(ear, condition, BANJO_SETS).decision_ms
            for s in BANJO_SETS:
                all_ms[s] += pooled(ear, condition, [s]).decision_ms
        worst = max(BANJO_SETS, key=lambda s: part(all_ms[s], share) or 0)
        worst_ms = show(part(all_ms[worst], share), 0)
        lines.append(
            [f"decision in these, {name}, ms", str(asked), show(part(all_ms["every"], share), 0)]
            + [f"{worst_ms} ({worst})"]
        )
    middles = {s: part(pooled(ear, "clean", [s]).intonation_cents, 0.5) for s in BANJO_SETS}
    worst = max(BANJO_SETS, key=lambda s: middles[s] or 0)
    reached = show(part(every.intonation_cents, 0.5), 2)
    lines.append(
        ["intonation off in clean, median cents", "2", reached]
        + [f"{show(middles[worst], 2)} ({worst})"]
    )
    for condition in ("silence-noise", "speech"):
        tally = ear.get(("none", condition))
        if tally is not None:
            what = f"notes named in {show(tally.length_s / 60)} minutes of {condition}"
            lines.append([what, "0", str(tally.extra), "-"])
    rows(["goal", "asked", "reached", "worst set"], lines)


def font_tuning(path):
    """How the fonts are tuned, and how well that is known."""
    if not path.exists():
        return
    by_set = defaultdict(list)
    with open(path, newline="") as source:
        for row in csv.DictReader(source):
            by_set[row["set"]].append(row)
    print("How the sound fonts' banjos are tuned, read independently at 150 to 250 ms and")
    print("at 250 to 600 ms, in cents. No reading can be surer than the partials of one")
    print("note agree; in `stiff` and `ours` the truth is known by construction.\n")
    lines = []
    for name, found in by_set.items():
        numbers = [[float(v) for v in list(row.values())[2:] if v] for row in found]
        settled, disagree, later, _ = zip(*(n for n in numbers if len(n) == 4))
        moved = [abs(a - b) for a, b in zip(settled, later)]
        lines.append([name, "banjo", f"{min(settled):.1f} to {max(settled):.1f}"])
        lines[-1] += [show(part(disagree, 0.5)), show(part(disagree, 0.95))]
        lines[-1] += [show(part(moved, 0.5)), show(max(moved))]
    heading = ["set", "voice", "off the key", "partials disagree, median", "p95"]
    rows([*heading, "moves later, median", "most"], lines)


def main():
    material = pathlib.Path(sys.argv[1])
    files = read_material(material)
    ear = score(files, read_ear(sys.argv[2]))
    others = Others(files, sys.argv[3] if len(sys.argv) > 3 else None)
    minutes = sum(file.length_s for file in files.values()) / 60
    targets = sum(len(file.targets) for file in files.values())
    print("# The ear beside other methods\n")
    print(f"{len(files)} files, {minutes:.0f} minutes, {targets} targets.\n")
    goals(ear)
    right_table(ear, others)
    negative_table(ear, others)
    detail_table(ear, others)
    font_tuning(material / "fonts.csv")
    print(NOTES.strip())


if __name__ == "__main__":
    main()
