#!/usr/bin/env python3
"""Writes the reference tables beside this file from music21.

music21 (see requirements.txt for the version) knows nothing of this project,
so its figures check ours. With --check nothing is written: the tables are made
anew and compared with the stored ones, and the exit status says whether they
are the same.

Tables, all comma-separated with a heading line:
  pitches.csv    every MIDI number: name with sharps, name with flats, octave,
                 frequency in hertz at A4 = 440
  spellings.csv  names as people may write them, doubled accidentals included,
                 and the MIDI number that they sound as
  keys.csv       major and minor keys: sharps in the signature (flats below 0)
  scales.csv     notes of scales and chords, in semitones above the root
  intervals.csv  interval names by semitones, for two octaves
  fretted.csv    guitar, bass, mandolin and ukulele: the MIDI number of every
                 fret of every string
"""

import csv
import io
import pathlib
import sys

from music21 import chord, harmony, interval, key, pitch, scale, tablature

HERE = pathlib.Path(__file__).resolve().parent
LAST_FRET = 15


def plain(name):
    """music21 writes flats as '-' and negative octaves as such too."""
    letter, rest = name[0], name[1:]
    flats = len(rest) - len(rest.lstrip("-"))
    return letter + "b" * flats + rest[flats:]


def spelled(p, sharps):
    """The pitch with its accidental, if it has one, the way asked for."""
    if p.accidental is not None and p.accidental.alter != 0:
        is_sharp = p.accidental.alter > 0
        if is_sharp != sharps:
            p = p.getEnharmonic()
    accidental = "" if p.accidental is None else p.accidental.modifier
    return p.step + accidental.replace("-", "b"), p.octave


def pitches():
    yield ["midi", "sharps", "flats", "octave", "frequency_hz"]
    for midi in range(128):
        p = pitch.Pitch(midi=midi)
        with_sharps, octave = spelled(p, True)
        with_flats, flat_octave = spelled(p, False)
        assert octave == flat_octave
        yield [midi, with_sharps, with_flats, octave, f"{p.frequency:.6f}"]


def spellings():
    yield ["name", "midi"]
    for step in "CDEFGAB":
        for modifier in ["--", "-", "", "#", "##"]:
            for octave in [2, 3, 4, 5, 6]:
                p = pitch.Pitch(step=step, accidental=modifier or None, octave=octave)
                # 'ps' is the sound itself; 'midi' would fold octaves at the ends.
                yield [step + modifier.replace("-", "b") + str(octave), int(p.ps)]


def keys():
    yield ["root", "mode", "sharps"]
    tonics = {
        "major": ["C", "D-", "D", "E-", "E", "F", "F#", "G", "A-", "A", "B-", "B"],
        "minor": ["C", "C#", "D", "E-", "E", "F", "F#", "G", "G#", "A", "B-", "B"],
    }
    for mode, names in tonics.items():
        for name in names:
            k = key.Key(name if mode == "major" else name.lower())
            yield [plain(name), mode, k.sharps]


def scales():
    yield ["scale", "semitones"]
    root = pitch.Pitch("C4")
    made = {
        "major": scale.MajorScale(root),
        "minor": scale.MinorScale(root),
        "harmonic-minor": scale.HarmonicMinorScale(root),
        "dorian": scale.DorianScale(root),
        "mixolydian": scale.MixolydianScale(root),
    }
    for name, built in made.items():
        notes = built.getPitches("C4", "B4")
        yield [name, " ".join(str(int(p.ps) - 60) for p in notes)]
    for name, figure in {
        "major-chord": "C",
        "minor-chord": "Cm",
        "seventh-chord": "C7",
        "diminished-chord": "Cdim",
    }.items():
        built = harmony.ChordSymbol(figure)
        low = int(built.root().ps)
        yield [name, " ".join(str(int(p.ps) - low) for p in built.pitches)]
        assert isinstance(built, chord.Chord)


def intervals():
    yield ["semitones", "name"]
    for semitones in range(25):
        yield [semitones, interval.Interval(semitones).niceName.lower()]


def fretted():
    yield ["neck", "string", "fret", "midi"]
    boards = {
        "guitar": tablature.GuitarFretBoard,
        "bass": tablature.BassGuitarFretBoard,
        "mandolin": tablature.MandolinFretBoard,
        "ukulele": tablature.UkeleleFretBoard,
    }
    for name, board in boards.items():
        for string in range(1, board().numStrings + 1):
            for fret in range(LAST_FRET + 1):
                note = tablature.FretNote(string=string, fret=fret)
                sounding = board(fretNotes=[note]).getPitches()
                (sounds,) = [p for p in sounding if p is not None]
                yield [name, string, fret, int(sounds.ps)]


TABLES = {
    "pitches.csv": pitches,
    "spellings.csv": spellings,
    "keys.csv": keys,
    "scales.csv": scales,
    "intervals.csv": intervals,
    "fretted.csv": fretted,
}


def main(arguments):
    if arguments not in ([], ["--check"]):
        print("usage: make_tables.py [--check]", file=sys.stderr)
        return 2
    different = []
    for name, make in TABLES.items():
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(make())
        path = HERE / name
        if not arguments:
            path.write_text(text.getvalue(), encoding="utf-8")
        elif not path.is_file() or path.read_text(encoding="utf-8") != text.getvalue():
            different.append(name)
    if different:
        print(f"not as music21 makes them: {', '.join(different)}", file=sys.stderr)
        return 1
    print(f"{len(TABLES)} tables {'are as stored' if arguments else 'written'}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
