"""Scores what a method reported against what is true: the same for all methods.

A target is found when a report lies within 50 ms of it; the nearest that names a
note counts. It is right when the semitone is right, wrong otherwise; abstained
when only reports without a note (or with one taken back) are near; missed when
nothing is. Each report counts for one target at most.

A note reported elsewhere is the neighbour's if another player plucked within 50
ms, an earlier one's if a string of the roll was plucked there, and extra
otherwise. After a chord or a slide, anything that names a note from 50 ms before
to 300 ms after, and is not taken back, stands wrongly.
"""

import csv
from collections import defaultdict
from dataclasses import dataclass, field

NEAR_S, CHORD_S = 0.05, 0.3
NEGATIVES = ("chord", "slide", "strum")
# Two plucks of a note in a row answer within this time, and what is heard twice
# sooner than that is one pluck: the program's own settings.
ANSWERS_WITHIN_S, DOUBLE_S = 2.0, 0.12
# A name is shown this soon.
SOON_MS = 60.0


@dataclass
class Target:
    onset_s: float
    midi: int
    cents: float


@dataclass
class File:
    set: str
    condition: str
    targets: list = field(default_factory=list)
    moments: list = field(default_factory=list)  # (at_s, what)
    length_s: float = 0.0


@dataclass
class Report:
    """`midi` is `None` where no note is named, or it was taken back. Where a method
    has no word on it, whatever is named may answer."""

    onset_s: float
    midi: int | None
    settled_cents: float | None
    decided_s: float | None
    taken_back: bool = False
    may_answer: bool = True


@dataclass
class Tally:
    targets: int = 0
    right: int = 0
    wrong: int = 0
    octave: int = 0
    abstained: int = 0
    missed: int = 0
    extra: int = 0
    neighbour: int = 0
    taken_back: int = 0
    negatives: int = 0
    stood: int = 0
    stood_may_answer: int = 0
    soon: int = 0
    right_may_answer: int = 0
    answers: int = 0
    strange_answers: int = 0
    length_s: float = 0.0
    decision_ms: list = field(default_factory=list)
    onset_ms: list = field(default_factory=list)
    intonation_cents: list = field(default_factory=list)

    def add(self, other):
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)

    def share(self, count, of=None):
        of = self.targets if of is None else of
        return 100.0 * count / of if of else None


def part(values, share):
    """The value below which a share of all lies; `None` of none."""
    if not values:
        return None
    ordered = sorted(values)
    return ordered[min(int(share * len(ordered)), len(ordered) - 1)]


def read_manifest(path):
    """Files by name, with their targets; lengths and moments are not in it."""
    files = {}
    with open(path, newline="") as source:
        for row in csv.DictReader(source):
            file = files.setdefault(row["file"], File(row["set"], row["condition"]))
            if row["onset_s"]:
                target = Target(float(row["onset_s"]), int(row["midi"]), float(row["cents"]))
                file.targets.append(target)
    return files


def read_material(folder):
    """The manifest with moments, and lengths taken from the sound files."""
    import wave

    files = read_manifest(folder / "manifest.csv")
    with open(folder / "moments.csv", newline="") as source:
        for row in csv.DictReader(source):
            files[row["file"]].moments.append((float(row["at_s"]), row["what"]))
    for name, file in files.items():
        with wave.open(str(folder / name), "rb") as sound:
            file.length_s = sound.getnframes() / sound.getframerate()
    return files


def _number(text):
    return float(text) if text else None


def read_ear(path):
    """Reports of our ear by file, from `ear_judge`'s events."""
    out = defaultdict(list)
    with open(path, newline="") as source:
        for row in csv.DictReader(source):
            named = row["kind"] == "pluck"
            report = Report(
                float(row["onset_s"]),
                int(row["midi"]) if named else None,
                _number(row["settled_cents"]) if named else None,
                _number(row["decided_s"]) if named else None,
                row["kind"] == "withdrawn",
                # Ears of old had no such column, and kept nothing back.
                row.get("may_answer", "yes") == "yes",
            )
            out[row["file"]].append(report)
    return out


def read_others(path):
    """Reports by (method, onsets, span), then by file."""
    out = defaultdict(lambda: defaultdict(list))
    with open(path, newline="") as source:
        for row in csv.DictReader(source):
            report = Report(
                float(row["onset_s"]),
                int(row["midi"]) if row["midi"] else None,
                _number(row["cents"]),
                float(row["decided_s"]),
            )
            out[row["method"], row["onsets"], row["span"]][row["file"]].append(report)
    return out


def _nearest(reports, used, onset_s, named):
    near = [
        (abs(report.onset_s - onset_s), index)
        for index, report in enumerate(reports)
        if index not in used
        and (report.midi is not None) == named
        and abs(report.onset_s - onset_s) <= NEAR_S
    ]
    return min(near)[1] if near else None


def score_file(file, reports):
    """The tally of one file."""
    tally = Tally(length_s=file.length_s)
    used = set()
    for target in file.targets:
        tally.targets += 1
        index = _nearest(reports, used, target.onset_s, True)
        if index is None:
            index = _nearest(reports, used, target.onset_s, False)
            if index is None:
                tally.missed += 1
            else:
                used.add(index)
                tally.abstained += 1
            continue
        used.add(index)
        report = reports[index]
        tally.decision_ms.append(1000 * (report.decided_s - target.onset_s))
        tally.soon += tally.decision_ms[-1] <= SOON_MS
        tally.onset_ms.append(1000 * abs(report.onset_s - target.onset_s))
        if report.midi != target.midi:
            tally.wrong += 1
            tally.octave += (report.midi - target.midi) % 12 == 0
            continue
        tally.right += 1
        tally.right_may_answer += report.may_answer
        if report.settled_cents is not None:
            tally.intonation_cents.append(abs(report.settled_cents - target.cents))
    tally.taken_back = sum(report.taken_back for report in reports)
    rest = [r for i, r in enumerate(reports) if i not in used and r.midi is not None]
    _count_rest(tally, file, rest)
    given = answers(reports)
    tally.answers = len(given)
    true = [(t.onset_s, t.midi) for t in file.targets]
    tally.strange_answers = sum(
        not any(m == midi and abs(at - t) <= NEAR_S for t, m in true) for at, midi in given
    )
    return tally


def answers(reports):
    """When and with which note a student would have answered: two plucks of it in
    a row that may answer, and once for a row however long it goes on. Another
    note between them ends it."""
    named = [r for r in reports if r.midi is not None and r.may_answer]
    out, last, answered = [], None, False
    for report in sorted(named, key=lambda r: r.onset_s):
        same = last is not None and last.midi == report.midi
        apart_s = report.onset_s - last.onset_s if same else None
        if same and apart_s < DOUBLE_S:
            continue
        if not same or apart_s > ANSWERS_WITHIN_S:
            answered = False
        elif not answered:
            out.append((report.onset_s, report.midi))
            answered = True
        last = report
    return out


def _count_rest(tally, file, rest):
    spoiled = [at for at, what in file.moments if what in NEGATIVES]
    others = [(at, what) for at, what in file.moments if what not in NEGATIVES]
    tally.negatives = len(spoiled)
    for at in spoiled:
        after = [r for r in rest if -NEAR_S <= r.onset_s - at <= CHORD_S]
        tally.stood += bool(after)
        tally.stood_may_answer += any(r.may_answer for r in after)
    for report in rest:
        if any(-NEAR_S <= report.onset_s - at <= CHORD_S for at in spoiled):
            continue
        near = {what for at, what in others if abs(report.onset_s - at) <= NEAR_S}
        if "bleed" in near:
            tally.neighbour += 1
        elif not near & {"ringing", "chord too"}:
            tally.extra += 1


def score(files, reports_by_file):
    """Tallies by (set, condition)."""
    out = defaultdict(Tally)
    for name, file in files.items():
        tally = score_file(file, reports_by_file.get(name, []))
        out[file.set, file.condition].add(tally)
    return out
