#!/usr/bin/env python3
"""Lets general pitch libraries hear the test material: aubio and librosa.

    judge_others.py FOLDER OUT.csv [--jobs N] [--methods NAME,NAME...]

None of them is an ear for plucks, so each is given its best chance, as a careful
user would build one from it:

* Onsets are those of its own library (`own`: aubio's detector `default`, 512
  samples, hop 256; `librosa.onset.onset_detect`, hop 256), or the true ones are
  told (`told`).
* Pitch is the median over the frames whose middle lies 20 to 60, 20 to 80 or 40 to
  100 ms after the onset. A frame has 2048 samples (43 ms at 48 kHz). The decision
  falls when the last of these frames ends.
* The librosa methods are told the range of the set's notes, three semitones
  wider; aubio has no such setting.
* Frames without a pitch (aubio gives 0, pYIN calls them unvoiced) are left out;
  a method abstains when half or more of the frames have none. aubio's tolerance
  is its own for each method; its silence is put at -90 dB, or it would leave out
  soft notes.
* Intonation is the median over frames whose middle lies 150 to 250 ms after the
  onset.

OUT.csv has a line for each onset: method,onsets,span,file,onset_s,midi,cents,
decided_s; `midi` is empty where it abstains, `cents` is the intonation. What was
judged once is kept beside it, in OUT.kept/, until the sound, its targets, the
libraries or this script change.
"""

import argparse
import csv
import itertools
import multiprocessing
import pathlib
import sys
import warnings
import zlib

import aubio
import librosa
import numpy as np

from basics import frequency_hz, read_wav
from score import read_manifest

FRAME, HOP, PYIN_HOP = 2048, 256, 512
SPANS = {"20-60": (0.02, 0.06), "20-80": (0.02, 0.08), "40-100": (0.04, 0.10)}
SETTLED_S = (0.15, 0.25)
SILENCE_DB = -90.0
# What is looked at around an onset; the rest of a file would only cost time.
BEFORE_S, AFTER_S = 0.25, 0.33
METHODS = {
    "aubio yinfft": "aubio",
    "aubio yin": "aubio",
    "librosa yin": "librosa",
    "librosa pyin": "librosa",
}


def aubio_onsets(samples, rate):
    detector = aubio.onset("default", 512, HOP, rate)
    detector.set_silence(SILENCE_DB)
    found = []
    for begin in range(0, len(samples) - HOP, HOP):
        if detector(samples[begin : begin + HOP])[0]:
            found.append(float(detector.get_last_s()))
    return found


def librosa_onsets(samples, rate):
    return [
        float(t)
        for t in librosa.onset.onset_detect(
            y=samples, sr=rate, hop_length=HOP, units="time"
        )
    ]


def aubio_pitches(method, samples, rate, _range_hz):
    """Middles of frames in seconds, and their frequencies, nought for none."""
    tracker = aubio.pitch(method, FRAME, HOP, rate)
    tracker.set_unit("Hz")
    tracker.set_silence(SILENCE_DB)
    begins = range(0, len(samples) - HOP, HOP)
    hz = [float(tracker(samples[b : b + HOP])[0]) for b in begins]
    # A frame ends with the samples last given.
    middles = [(b + HOP - FRAME / 2) / rate for b in begins]
    return np.array(middles), np.array(hz)


def librosa_pitches(method, samples, rate, range_hz):
    hop = PYIN_HOP if method == "pyin" else HOP
    given = dict(
        fmin=range_hz[0], fmax=range_hz[1], sr=rate, frame_length=FRAME, hop_length=hop
    )
    if method == "yin":
        hz = librosa.yin(samples, **given)
    else:
        hz, voiced, _ = librosa.pyin(samples, fill_na=0.0, **given)
        hz = np.where(voiced, hz, 0.0)
    return np.arange(len(hz)) * hop / rate, hz


def pieces(onsets, length_s):
    """Spans of a file that hold all onsets and what is needed around them."""
    out = []
    for onset in sorted(onsets):
        begin, end = max(0.0, onset - BEFORE_S), min(length_s, onset + AFTER_S)
        if out and begin <= out[-1][1]:
            out[-1][1] = max(out[-1][1], end)
        else:
            out.append([begin, end])
    return out


def tracked(name, samples, rate, onsets, range_hz):
    """Middles and frequencies of all frames near onsets."""
    library, method = name.split()
    track = aubio_pitches if library == "aubio" else librosa_pitches
    middles, hz = [np.zeros(0)], [np.zeros(0)]
    for begin_s, end_s in pieces(onsets, len(samples) / rate):
        begin = int(begin_s * rate)
        part = np.ascontiguousarray(samples[begin : int(end_s * rate)])
        at, found = track(method, part, rate, range_hz)
        middles.append(at + begin / rate)
        hz.append(found)
    return np.concatenate(middles), np.concatenate(hz)


def middle_hz(middles, hz, onset, span_s):
    """The median over a span's frames, or `None` where half have no pitch."""
    inside = (middles >= onset + span_s[0]) & (middles <= onset + span_s[1])
    found = hz[inside]
    good = found[found > 0.0]
    return float(np.median(good)) if 2 * len(good) > len(found) else None


def kept_name(path, rows, range_hz, methods):
    """A name that changes with whatever the outcome depends on."""
    said = f"{rows}{range_hz}{methods}{np.__version__}{aubio.version}{librosa.__version__}"
    depends = [path.read_bytes(), pathlib.Path(__file__).read_bytes(), said.encode()]
    return f"{path.stem}-{zlib.crc32(b''.join(depends)):08x}.csv"


def judge_or_recall(job):
    kept, *what = job
    path = kept / kept_name(*what)
    if path.exists():
        with open(path, newline="") as source:
            return what[0].name, list(csv.reader(source))
    out = judge(*what)
    for old in kept.glob(f"{what[0].stem}-????????.csv"):
        old.unlink()
    with open(path, "w", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(out)
    return what[0].name, out


def judge(path, rows, range_hz, methods):
    warnings.simplefilter("ignore")
    samples, rate = read_wav(path)
    samples = samples.astype(np.float32)
    told = [row.onset_s for row in rows]
    own = {
        "aubio": aubio_onsets(samples, rate),
        "librosa": librosa_onsets(samples, rate),
    }
    half_frame_s = FRAME / 2 / rate
    out = []
    for name in methods:
        library = METHODS[name]
        all_onsets = told + own[library]
        middles, hz = tracked(name, samples, rate, all_onsets, range_hz)
        for kind, onsets in [("told", told), ("own", own[library])]:
            for span, (begin_s, end_s) in SPANS.items():
                for onset in onsets:
                    found = middle_hz(middles, hz, onset, (begin_s, end_s))
                    decided_s = onset + end_s + half_frame_s
                    row = [name, kind, span, path.name, f"{onset:.5f}", "", ""]
                    if found is not None:
                        midi = round(69 + 12 * np.log2(found / 440.0))
                        row[5] = midi
                        settled = middle_hz(middles, hz, onset, SETTLED_S)
                        if settled is not None:
                            cents = 1200 * np.log2(settled / frequency_hz(midi))
                            row[6] = f"{cents:.2f}"
                    out.append([*row, f"{decided_s:.5f}"])
    return out


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("out", type=pathlib.Path)
    parser.add_argument("--jobs", type=int, default=multiprocessing.cpu_count())
    parser.add_argument("--methods", default=",".join(METHODS))
    args = parser.parse_args()
    methods = args.methods.split(",")
    files = read_manifest(args.folder / "manifest.csv")
    kept = args.out.with_suffix(".kept")
    kept.mkdir(parents=True, exist_ok=True)
    keys = {}
    for file in files.values():
        keys.setdefault(file.set, [50, 84]).extend(t.midi for t in file.targets)
    jobs = []
    for name, file in files.items():
        low, high = min(keys[file.set]) - 3, max(keys[file.set]) + 3
        range_hz = (frequency_hz(low), frequency_hz(high))
        jobs.append((kept, args.folder / name, file.targets, range_hz, methods))
    with open(args.out, "w", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        heading = "method,onsets,span,file,onset_s,midi,cents,decided_s"
        writer.writerow(heading.split(","))
        # The first by itself: what the libraries compile as they are first used they
        # store, and two that store at once spoil it for all that come after.
        first = [judge_or_recall(job) for job in jobs[:1]]
        with multiprocessing.Pool(args.jobs) as pool:
            rest = pool.imap(judge_or_recall, jobs[1:])
            for done, (name, rows) in enumerate(itertools.chain(first, rest), 1):
                writer.writerows(rows)
                print(f"  {done}/{len(jobs)} {name}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
