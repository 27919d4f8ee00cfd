"""Short scenes of a player: what is plucked, what else sounds, where the truth
lies.

Every scene begins with 3.5 s in which nobody plays, so that a method may measure
the room. A note is damped 0.9 to 1.3 s after its pluck, unless told otherwise.
"Level" is the RMS over a note's first 250 ms. Everything lies over a room's
noise of -80 dB full scale.
"""

from dataclasses import dataclass, field

import numpy as np

import nuisances
from banks import alike
from basics import add, fade_out, gain, noise, note_rms, rms, sampled_at, scaled, shifted

ROOM_DB, SILENT_S = -80.0, 3.5


@dataclass
class Scene:
    """`targets` are (sample, midi, cents); `moments` are what else happened:
    (sample, midi, what)."""

    rate: int
    mix: np.ndarray = field(default_factory=lambda: np.zeros(0))
    targets: list = field(default_factory=list)
    moments: list = field(default_factory=list)

    def add(self, note, at_s, what="", until_s=None, damped_s=0.04):
        """Plucks a note so that it begins to rise at `at_s`. Without `what` it
        is a target."""
        at = round(at_s * self.rate)
        samples = note.samples
        if until_s is not None:
            length = round((until_s - at_s) * self.rate) + note.onset
            samples = fade_out(samples, length, round(damped_s * self.rate))
        begin = at - note.onset
        if begin + len(samples) > len(self.mix):
            more = begin + len(samples) - len(self.mix)
            self.mix = np.concatenate([self.mix, np.zeros(more)])
        add(self.mix, samples, begin)
        if what:
            self.moments.append((at, note.midi, what))
        else:
            self.targets.append((at, note.midi, note.cents))

    def finish(self, rng, peak_db=None):
        """Brings the whole to a peak between -12 and -3 dB full scale, over the
        room's noise."""
        peak_db = rng.uniform(-12.0, -3.0) if peak_db is None else peak_db
        self.mix = np.concatenate([self.mix, np.zeros(self.rate // 2)])
        self.mix *= gain(peak_db) / np.abs(self.mix).max()
        self.mix += gain(ROOM_DB) * noise("white", len(self.mix), rng)
        return self


def _levelled(note, rate, level=0.05):
    return scaled(note, level / note_rms(note, rate))


def _one_by_one(keys, rng):
    """(key, pluck, damping) in seconds for each key."""
    at = SILENT_S
    for key in keys:
        at += rng.uniform(0.3, 0.6)
        until = at + rng.uniform(0.9, 1.3)
        yield key, at, until
        at = until


def clean(bank, keys, rng, rate):
    """Notes alone, from 0 to 18 dB below the loudest."""
    scene = Scene(rate)
    for key, at, until in _one_by_one(keys, rng):
        note = _levelled(bank.note(key, rng, rate), rate)
        scene.add(scaled(note, gain(-rng.uniform(0.0, 18.0))), at, until_s=until)
    return scene.finish(rng)


def detuned(bank, keys, rng, rate):
    """Notes alone, 20 to 40 cents flat or sharp of the key."""
    scene = Scene(rate)
    for key, at, until in _one_by_one(keys, rng):
        note = _levelled(bank.note(key, rng, rate), rate)
        wanted = rng.choice([-1.0, 1.0]) * rng.uniform(20.0, 40.0)
        scene.add(shifted(note, wanted - note.cents), at, until_s=until)
    return scene.finish(rng)


def soft(bank, keys, rng, rate):
    """Notes alone, each with its peak at -40 dB full scale, over white noise of
    -70 dB: the gap between them is 30 dB at the pluck."""
    scene = Scene(rate)
    for key, at, until in _one_by_one(keys, rng):
        note = bank.note(key, rng, rate)
        scene.add(scaled(note, gain(-40.0) / np.abs(note.samples).max()), at, until_s=until)
    scene.finish(rng, peak_db=-40.0)
    scene.mix += gain(-70.0) * noise("white", len(scene.mix), rng)
    return scene


def bleed(bank, keys, rng, rate):
    """Another player of the same instrument, 12 dB below, plucks other notes at
    moments of a rhythm of their own."""
    scene = Scene(rate)
    busy = []
    for key, at, until in _one_by_one(keys, rng):
        scene.add(_levelled(bank.note(key, rng, rate), rate), at, until_s=until)
        busy.append((at, until, key))
    theirs = list(bank.keys)
    at, end = SILENT_S, busy[-1][1]
    while at < end:
        at += rng.uniform(0.15, 0.6)
        near = {key for begin, until, key in busy if begin - 0.6 < at < until + 0.1}
        key = rng.choice([k for k in theirs if k not in near])
        note = _levelled(bank.note(key, rng, rate), rate, 0.05 * gain(-12.0))
        scene.add(note, at, "bleed", at + rng.uniform(0.3, 1.5))
    return scene.finish(rng)


def _ringing(bank, keys, rng, rate, intervals):
    """Rolls of three on three strings, 120 to 250 ms apart, equally loud and
    none damped: the third is the target. `intervals` may set how far, in
    semitones, one of the two ringing ones lies from it."""
    scene, at = Scene(rate), SILENT_S
    able = list(bank.keys)
    for key in keys:
        related = [key + i for i in intervals if key + i in able]
        first = rng.choice(related or [k for k in able if k != key])
        others = [k for k in able if k not in (key, first)]
        ringing = [int(first), int(rng.choice(others))]
        rng.shuffle(ringing)
        at += rng.uniform(0.4, 0.7)
        plucks = [at, at + rng.uniform(0.12, 0.25)]
        plucks.append(plucks[1] + rng.uniform(0.12, 0.25))
        until = plucks[2] + rng.uniform(0.9, 1.3)
        for pitch, pluck in zip(ringing, plucks):
            note = _levelled(bank.note(pitch, rng, rate), rate)
            scene.add(note, pluck, "ringing", until)
        scene.add(_levelled(bank.note(key, rng, rate), rate), plucks[2], until_s=until)
        at = until
    return scene.finish(rng)


def ringing_any(bank, keys, rng, rate):
    return _ringing(bank, keys, rng, rate, ())


def ringing_octave(bank, keys, rng, rate):
    return _ringing(bank, keys, rng, rate, (-24, -12, 12, 24))


def ringing_fifth(bank, keys, rng, rate):
    return _ringing(bank, keys, rng, rate, (-19, -7, 7, 19))


def _noisy(kind, below_db):
    def build(bank, keys, rng, rate):
        scene = Scene(rate)
        for key, at, until in _one_by_one(keys, rng):
            scene.add(_levelled(bank.note(key, rng, rate), rate), at, until_s=until)
        scene.mix = np.concatenate([scene.mix, np.zeros(rate // 2)])
        scene.mix += 0.05 * gain(-below_db) * noise(kind, len(scene.mix), rng)
        return scene.finish(rng)

    return build


def again(bank, keys, rng, rate):
    """A note, and the same plucked again 0.3 to 1.5 s later while it rings: the
    finger stops the string in the 15 ms before. Both are targets."""
    scene = Scene(rate)
    at = SILENT_S
    for key in keys:
        at += rng.uniform(0.4, 0.7)
        first = _levelled(bank.note(key, rng, rate), rate)
        second = _levelled(alike(bank, first, rng, rate), rate)
        then = at + rng.uniform(0.3, 1.5)
        until = then + rng.uniform(0.6, 1.0)
        scene.add(first, at, until_s=then, damped_s=0.015)
        scene.add(scaled(second, gain(rng.uniform(-6.0, 3.0))), then, until_s=until)
        at = until
    return scene.finish(rng)


def chord(bank, keys, rng, rate):
    """Two or three different notes within 5 ms, no two of them octaves: no
    target."""
    scene, able = Scene(rate), list(bank.keys)
    for key, at, until in _one_by_one(keys, rng):
        pitches = [key]
        for _ in range(int(rng.integers(1, 3))):
            free = [k for k in able if all((k - p) % 12 for p in pitches)]
            pitches.append(int(rng.choice([k for k in free if abs(k - key) <= 16])))
        for index, pitch in enumerate(pitches):
            note = _levelled(bank.note(pitch, rng, rate), rate)
            late = 0.0 if index == 0 else rng.uniform(0.0, 0.005)
            scene.add(note, at + late, "chord" if index == 0 else "chord too", until)
    return scene.finish(rng)


def slide(bank, keys, rng, rate):
    """The pitch begins to glide 0 to 60 ms after the pluck and has moved by one
    to three semitones within 200 ms: no target."""
    scene = Scene(rate)
    for key, at, until in _one_by_one(keys, rng):
        note = _levelled(bank.note(key, rng, rate), rate)
        begin_s, end_s = rng.uniform(0.0, 0.06), rng.uniform(0.15, 0.2)
        semitones = rng.choice([-1.0, 1.0]) * rng.uniform(1.0, 3.0)
        time = (np.arange(int(1.5 * rate)) - note.onset) / rate
        way = np.clip((time - begin_s) / (end_s - begin_s), 0.0, 1.0)
        speed = 2.0 ** (semitones * way / 12.0)
        moved = scaled(note, 1.0)
        moved.samples = sampled_at(note.samples, np.cumsum(speed) - speed[0])
        scene.add(moved, at, "slide", until)
    return scene.finish(rng)


def speech_below(bank, keys, rng, rate):
    """Somebody talks all the while; each sentence is 20 dB below the
    notes."""
    scene = Scene(rate)
    for key, at, until in _one_by_one(keys, rng):
        scene.add(_levelled(bank.note(key, rng, rate), rate), at, until_s=until)
    talk = nuisances.speech(rng, rate, len(scene.mix) / rate - SILENT_S)
    at = round(SILENT_S * rate)
    for samples, _ in talk:
        loud = np.sqrt(np.mean(np.square(samples[samples != 0.0])))
        add(scene.mix, samples * 0.05 * gain(-20.0) / loud, at)
        at += len(samples)
    return scene.finish(rng)


def room(bank, keys, rng, rate):
    """Notes alone in a small room, through a small microphone: echoes that die by
    60 dB in 0.25 to 0.6 s, 0 to 12 dB below what comes straight; nothing below
    100 to 300 Hz (12 dB an octave), less and less above 5 to 12 kHz."""
    scene = Scene(rate)
    for key, at, until in _one_by_one(keys, rng):
        scene.add(_levelled(bank.note(key, rng, rate), rate), at, until_s=until)
    dies_s = rng.uniform(0.25, 0.6)
    time = np.arange(int(dies_s * rate)) / rate
    echoes = noise("white", len(time), rng) * 10 ** (-3.0 * time / dies_s)
    echoes[: int(0.004 * rate)] = 0.0
    echoes *= gain(-rng.uniform(0.0, 12.0)) / np.sqrt(np.sum(np.square(echoes)))
    echoes[0] = 1.0
    # One transform of the whole: the microphone is a minimum-phase curve of two
    # simple filters, so nothing comes before its cause.
    length = len(scene.mix) + len(echoes) + rate // 2
    s = 2j * np.pi * np.fft.rfftfreq(length, 1.0 / rate)
    low, high = 2 * np.pi * rng.uniform(100, 300), 2 * np.pi * rng.uniform(5000, 12000)
    curve = (s / (s + low)) ** 2 / (1.0 + s / high) * np.fft.rfft(echoes, length)
    scene.mix = np.fft.irfft(np.fft.rfft(scene.mix, length) * curve, length)
    return scene.finish(rng)


CONDITIONS = {
    "clean": clean,
    "detuned": detuned,
    "soft": soft,
    "room": room,
    "bleed-12": bleed,
    "ringing-2": ringing_any,
    "ringing-octave": ringing_octave,
    "ringing-fifth": ringing_fifth,
    "noise-0db": _noisy("white", 0.0),
    "noise-pink": _noisy("pink", 0.0),
    "speech-20": speech_below,
    "again": again,
    "chord": chord,
    "slide": slide,
}
