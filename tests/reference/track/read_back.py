"""Reads a practice track back with libraries that know nothing of the project.

soundfile (libsndfile) reads WAV and FLAC, mido the Standard MIDI File, librosa's
YIN (de Cheveigne and Kawahara, JASA 111, 2002) names the notes, and the standard
library reads the answer sheet.

    read_back.py NAME TIMES OUT

reads NAME.wav, NAME.flac, NAME.mid and NAME.html, and TIMES, a table of at_ms and
lasts_ms of every sound. Writes rows of kind,at_ms,lasts_ms,number,words to OUT.
"""

import csv
import sys
from html.parser import HTMLParser
from xml.etree import ElementTree

import librosa
import mido
import numpy as np
import soundfile

VOID = {"meta", "br", "hr", "img", "link", "input"}


def sound(name, times, rows):
    wav, rate = soundfile.read(f"{name}.wav", dtype="int16", always_2d=True)
    flac, flac_rate = soundfile.read(f"{name}.flac", dtype="int16", always_2d=True)
    about = soundfile.info(f"{name}.wav")
    rows.append(("wav", "", 1000 * len(wav) / rate, rate, f"{about.channels} {about.subtype}"))
    rows.append(("flac", "", 1000 * len(flac) / flac_rate, flac_rate,
                 "same" if np.array_equal(wav, flac) else "other"))
    samples = wav[:, 0].astype(np.float64) / 32768
    rows.append(("peak", "", "", np.abs(samples).max(), ""))
    for at_ms, lasts_ms in times:
        at = at_ms * rate // 1000
        before = np.abs(samples[max(0, at - rate // 1000):at]).max(initial=0.0)
        after = np.abs(samples[at:at + rate // 100]).max()
        onset = "starts" if before < 0.002 and after > 10 * before and after > 0.005 else "no start"
        span = samples[at + rate // 50:at + rate * min(lasts_ms, 420) // 1000]
        heard = librosa.yin(span, fmin=60, fmax=2200, sr=rate, frame_length=4096)
        midi = int(round(float(np.median(librosa.hz_to_midi(heard)))))
        rows.append(("heard", at_ms, lasts_ms, midi, onset))
    # What sounds outside these times.
    quiet = np.ones(len(samples), bool)
    for at_ms, lasts_ms in times:
        quiet[at_ms * rate // 1000:(at_ms + lasts_ms) * rate // 1000 + 1] = False
    rows.append(("elsewhere", "", "", np.abs(samples[quiet]).max(initial=0.0), ""))


def midi(name, rows):
    song = mido.MidiFile(f"{name}.mid")
    rows.append(("midi", "", 1000 * song.length, song.type, str(len(song.tracks))))
    tempo = 500_000
    for number, track in enumerate(song.tracks):
        ticks, held = 0, {}
        for message in track:
            ticks += message.time
            at_ms = 1000 * mido.tick2second(ticks, song.ticks_per_beat, tempo)
            if message.type == "set_tempo":
                tempo = message.tempo
                rows.append(("tempo", at_ms, "", tempo, ""))
            elif message.type == "track_name":
                rows.append(("track", at_ms, "", number, message.name))
            elif message.type == "marker":
                rows.append(("marker", at_ms, "", number, message.text))
            elif message.type == "program_change":
                rows.append(("program", at_ms, "", message.program, message.channel))
            elif message.type == "note_on" and message.velocity > 0:
                held[message.note] = at_ms
            elif message.type in ("note_on", "note_off"):
                start = held.pop(message.note)
                rows.append(("note", start, at_ms - start, message.note, message.channel))
        if held:
            rows.append(("hanging", "", "", len(held), ""))


class Sheet(HTMLParser):
    """Checks that every tag is closed in its turn, and keeps table rows."""

    def __init__(self):
        super().__init__()
        self.open, self.rows, self.tags = [], [], set()

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        if tag not in VOID:
            self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
        for key, value in attrs:
            if key in ("src", "href", "style", "onload"):
                raise SystemExit(f"<{tag} {key}={value}>")

    def handle_startendtag(self, tag, attrs):
        self.tags.add(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            raise SystemExit(f"</{tag}> closes nothing")

    def handle_data(self, data):
        if self.open and self.open[-1] in ("td", "th"):
            self.rows[-1][-1] += data


def sheet(name, rows):
    with open(f"{name}.html", encoding="utf-8") as file:
        page = file.read()
    read = Sheet()
    read.feed(page)
    read.close()
    if read.open:
        raise SystemExit(f"left open: {read.open}")
    rows.append(("page", "", "", page.count("<svg"), " ".join(sorted(read.tags))))
    for cells in read.rows:
        rows.append(("row", "", "", len(cells), "|".join(cells)))
    for piece in page.split("<svg")[1:]:
        picture = ElementTree.fromstring("<svg" + piece.split("</svg>")[0] + "</svg>")
        marks = [c for c in picture.iter("{http://www.w3.org/2000/svg}circle")
                 if c.get("stroke-width") == "1.6"]
        rows.append(("picture", "", "", len(marks), picture.get("aria-label")))


def main():
    name, times, out = sys.argv[1:]
    with open(times, newline="") as file:
        told = [(int(row["at_ms"]), int(row["lasts_ms"])) for row in csv.DictReader(file)]
    rows = []
    sound(name, told, rows)
    midi(name, rows)
    sheet(name, rows)
    with open(out, "w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, delimiter="\t", lineterminator="\n")
        table.writerow(("kind", "at_ms", "lasts_ms", "number", "words"))
        table.writerows(rows)


if __name__ == "__main__":
    main()
