"""Scenes beyond `scenes`: rolls, a second player, rooms and bad lines, and what
is no single note. The same holds for them as is said there.
"""

import numpy as np

import devices
from basics import Note, fade_out, gain, noise, sampled_at, scaled
from scenes import ROOM_DB, SILENT_S, Scene, _levelled, _one_by_one

# Strings of common rolls, thumb and two fingers (common practice, no source).
ROLLS = [
    (2, 1, 0, 3, 2, 1, 3, 0),
    (2, 1, 3, 0, 2, 3, 1, 0),
    (1, 0, 3, 1, 0, 3, 1, 0),
    (0, 1, 2, 3, 0, 1, 2, 3),
]


def _strings(bank, keys, rng):
    """The keys four by four, as strings held down together; all of them are used."""
    for begin in range(0, len(keys), 4):
        held = list(keys[begin : begin + 4])
        others = [k for k in bank.keys if k not in held]
        while len(held) < 4 and others:
            held.append(int(others.pop(rng.integers(len(others)))))
        yield held


def _roll(scene, bank, keys, rng, at, a_second, level, what=""):
    """A roll on four strings from `at` on: each rings until it is plucked again.
    Gives when it is over."""
    rate = scene.rate
    pattern = ROLLS[rng.integers(len(ROLLS))]
    plucks, now = [], at
    for string in pattern:
        plucks.append((now, keys[string % len(keys)]))
        now += rng.uniform(0.93, 1.07) / a_second
    for index, (begin, key) in enumerate(plucks):
        later = [t for t, k in plucks[index + 1 :] if k == key]
        until = later[0] if later else now + 0.25
        note = _levelled(bank.note(key, rng, rate), rate, level * gain(rng.uniform(-3.0, 3.0)))
        scene.add(note, begin, what, until, damped_s=0.015)
    return now


def own_roll(a_second):
    def build(bank, keys, rng, rate):
        """The student's own roll, every note of it a target."""
        scene, at = Scene(rate), SILENT_S
        for held in _strings(bank, keys, rng):
            at = _roll(scene, bank, held, rng, at, a_second, 0.05) + rng.uniform(0.4, 0.8)
        return scene.finish(rng)

    return build


def second_roll(below_db):
    def build(bank, keys, rng, rate):
        """The student plucks note by note; a second banjo rolls on and on."""
        scene = Scene(rate)
        for key, at, until in _one_by_one(keys, rng):
            scene.add(_levelled(bank.note(key, rng, rate), rate), at, until_s=until)
        at, end = SILENT_S, until
        while at < end:
            held = [int(k) for k in rng.permutation(list(bank.keys))[:4]]
            at = _roll(scene, bank, held, rng, at, rng.uniform(4.0, 7.0), 0.05 * gain(-below_db), "bleed")
        return scene.finish(rng)

    return build


def neighbour(below_db):
    def build(bank, keys, rng, rate):
        """Ten notes of the student, then nothing but the neighbour, who plays the
        same lesson: notes twice or thrice, and a roll now and then."""
        scene, at = Scene(rate), SILENT_S
        able = list(bank.keys)
        for key, at, until in _one_by_one([int(k) for k in rng.permutation(able)[:10]], rng):
            scene.add(_levelled(bank.note(key, rng, rate), rate), at, "before", until)
        level = 0.05 * gain(-below_db)
        at = until + 1.0
        for key in [*keys, *keys, *keys]:
            if rng.random() < 0.2:
                held = [int(k) for k in rng.permutation(able)[:4]]
                at = _roll(scene, bank, held, rng, at, rng.uniform(3.0, 6.0), level, "bleed") + 0.5
                continue
            for _ in range(int(rng.integers(1, 4))):
                until = at + rng.uniform(0.4, 1.2)
                loud = level * gain(rng.uniform(-3.0, 3.0))
                scene.add(_levelled(bank.note(key, rng, rate), rate, loud), at, "bleed", until)
                at = until + rng.uniform(0.0, 0.2)
            at += rng.uniform(0.2, 1.5)
        return scene.finish(rng)

    return build


def echoing(bank, keys, rng, rate):
    """Notes alone in a furnished room, the microphone 0.4 to 1.2 m away."""
    scene = Scene(rate)
    for key, at, until in _one_by_one(keys, rng):
        scene.add(_levelled(bank.note(key, rng, rate), rate), at, until_s=until)
    scene.mix = devices.filtered(scene.mix, devices.box_response(rng, rate), rate // 2)
    return scene.finish(rng)


def phone(bank, keys, rng, rate):
    """Notes alone through a telephone 0.3 to 0.6 m away, in a room with some noise."""
    scene = Scene(rate)
    for key, at, until in _one_by_one(keys, rng):
        note = _levelled(bank.note(key, rng, rate), rate)
        scene.add(scaled(note, gain(-rng.uniform(0.0, 12.0))), at, until_s=until)
    scene.mix = devices.filtered(scene.mix, devices.box_response(rng, rate, 0.3, 0.6), rate // 2)
    hush = 0.05 * gain(-60.0)
    scene.mix += hush * noise("pink", len(scene.mix), rng)
    scene.mix = devices.telephone(scene.mix, rate)
    return scene.finish(rng)


def clipped(beyond_db):
    def build(bank, keys, rng, rate):
        """Each note's peak would stand this far above full scale."""
        scene = Scene(rate)
        for key, at, until in _one_by_one(keys, rng):
            note = bank.note(key, rng, rate)
            peak = gain(beyond_db + rng.uniform(-2.0, 2.0))
            scene.add(scaled(note, peak / np.abs(note.samples).max()), at, until_s=until)
        scene.mix = np.concatenate([scene.mix, np.zeros(rate // 2)])
        # What the microphone hears of the room is as much too loud.
        scene.mix += gain(ROOM_DB + beyond_db) * noise("white", len(scene.mix), rng)
        scene.mix = devices.clipped(scene.mix)
        return scene

    return build


def eight_bits(bank, keys, rng, rate):
    """256 steps between full scale and full scale."""
    scene = Scene(rate)
    for key, at, until in _one_by_one(keys, rng):
        note = _levelled(bank.note(key, rng, rate), rate)
        scene.add(scaled(note, gain(-rng.uniform(0.0, 12.0))), at, until_s=until)
    scene.finish(rng)
    scene.mix = devices.eight_bits(scene.mix)
    return scene


def muted(bank, keys, rng, rate):
    """A finger stops each note 60 ms after its pluck."""
    scene = Scene(rate)
    for key, at, _ in _one_by_one(keys, rng):
        note = _levelled(bank.note(key, rng, rate), rate)
        scene.add(note, at, until_s=at + 0.08, damped_s=0.02)
    return scene.finish(rng)


def strum(bank, keys, rng, rate):
    """Three to five strings, 10 to 40 ms from one to the next: no target."""
    scene, able = Scene(rate), list(bank.keys)
    for key, at, until in _one_by_one(keys, rng):
        near = [k for k in able if k != key and abs(k - key) <= 16]
        rng.shuffle(near)
        step = rng.uniform(0.01, 0.04)
        for index, pitch in enumerate([key, *near[: int(rng.integers(2, 5))]]):
            note = _levelled(bank.note(int(pitch), rng, rate), rate)
            what = "strum" if index == 0 else "chord too"
            scene.add(note, at + index * step, what, until)
    return scene.finish(rng)


def _touched(note, times, left, rate):
    """The harmonic that sounds where a finger touches a string at a half or a third:
    of the note's partials those that have a node there, and a little of the others."""
    turn = rate / (440.0 * 2.0 ** ((note.midi - 69 + note.cents / 100.0) / 12.0)) / times
    along = np.arange(len(note.samples))
    parts = [sampled_at(note.samples, along - turn * part) for part in range(times)]
    only = sum(parts) / times
    samples = only + left * (note.samples - only)
    up = {2: (12, 0.0), 3: (19, 2.0)}[times]
    return Note(samples, note.onset, note.midi + up[0], note.cents + up[1])


def harmonics(bank, keys, rng, rate):
    """Harmonics alone, an octave or a twelfth above the string."""
    scene = Scene(rate)
    for key, at, until in _one_by_one(keys, rng):
        times = int(rng.integers(2, 4))
        if key + (12 if times == 2 else 19) not in range(min(bank.keys), max(bank.keys) + 13):
            times = 2
        whole = bank.note(key, rng, rate)
        note = _touched(whole, times, gain(rng.uniform(-40.0, -16.0)), rate)
        scene.add(_levelled(note, rate), at, until_s=until)
    return scene.finish(rng)


CONDITIONS = {
    "harmonics": harmonics,
    "echoing": echoing,
    "phone": phone,
    "roll-4": own_roll(4.0),
    "roll-7": own_roll(7.0),
    "second-roll-12": second_roll(12.0),
    "second-roll-6": second_roll(6.0),
    "clipped-12": clipped(12.0),
    "clipped-24": clipped(24.0),
    "eight-bits": eight_bits,
    "muted": muted,
    "neighbour-12": neighbour(12.0),
    "neighbour-6": neighbour(6.0),
    "strum": strum,
}
