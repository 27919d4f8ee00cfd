"""Notes from sound fonts, each rendered alone by fluidsynth.

Reverb and chorus are off. The player's clock is not trusted for the onset:
each note is rendered in a slot of its own, and its onset is where the rendered
sound first reaches a fiftieth (-34 dB) of its peak.
"""

import pathlib
import struct
import subprocess
import tempfile

import numpy as np

from basics import Note

FOLDER = pathlib.Path("/usr/share/sounds/sf2")
TIMGM = FOLDER / "TimGM6mb.sf2"
FLUIDR3 = FOLDER / "FluidR3_GM.sf2"

HOLD_S, SLOT_S = 2.4, 2.8
LEAD_S = 0.005
RISE = 0.02


def _midi_file(program, keys):
    """A standard MIDI file, one tick a millisecond: each (key, velocity) held in
    a slot of its own, all sound off before the next."""

    def later(ticks):
        out = [ticks & 0x7F]
        while ticks := ticks >> 7:
            out.append(0x80 | (ticks & 0x7F))
        return bytes(reversed(out))

    hold, rest = int(HOLD_S * 1000), int((SLOT_S - HOLD_S) * 1000)
    track = bytearray(b"\x00\xff\x51\x03" + (1_000_000).to_bytes(3, "big"))
    track += bytes([0, 0xC0, program])
    for key, velocity in keys:
        track += bytes([0, 0x90, key, velocity])
        track += later(hold) + bytes([0x80, key, 0])
        track += bytes([0, 0xB0, 120, 0])
        track += later(rest) + bytes([0xB0, 120, 0])
    track += b"\x00\xff\x2f\x00"
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, 1000)
    return head + b"MTrk" + struct.pack(">I", len(track)) + bytes(track)


def _render(font, program, keys, rate):
    with tempfile.TemporaryDirectory() as folder:
        song, out = pathlib.Path(folder, "notes.mid"), pathlib.Path(folder, "notes.raw")
        song.write_bytes(_midi_file(program, keys))
        command = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.5"]
        command += ["-r", str(rate), "-T", "raw", "-O", "float", "-F", str(out)]
        done = subprocess.run(
            command + [str(font), str(song)], capture_output=True, text=True
        )
        if done.returncode != 0 or not out.exists():
            raise RuntimeError(f"fluidsynth failed: {done.stderr.strip()}")
        stereo = np.frombuffer(out.read_bytes(), "<f4").reshape(-1, 2)
    return stereo.mean(axis=1).astype(float)


def onset_of(samples):
    """The first sample that reaches `RISE` of the sound's peak."""
    size = np.abs(samples)
    return int(np.argmax(size >= RISE * size.max()))


def notes(font, program, keys, rate):
    """One `Note` for each (key, velocity), as `(samples, onset)`; how far it is
    from its key is measured elsewhere."""
    sound = _render(font, program, keys, rate)
    out = []
    for index, (key, velocity) in enumerate(keys):
        begin = int(index * SLOT_S * rate)
        slot = sound[begin : begin + int(HOLD_S * rate)]
        if len(slot) == 0 or np.abs(slot).max() < 1e-5:
            raise RuntimeError(f"{font} has no note {key} in program {program}")
        onset = onset_of(slot)
        lead = min(onset, int(LEAD_S * rate))
        out.append(Note(slot[onset - lead :].copy(), lead, key, 0.0))
    return out
