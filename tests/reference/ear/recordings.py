"""Real sounds of what is no string, out of Debian packages that `scripts/ear-table`
unpacks under target/: nothing of them is kept in the project or passed on with it.

| package | what | licence |
|---|---|---|
| asterisk-core-sounds-{en,es,fr,it,ru}-g722 | telephone prompts, a speaker each, 16 kHz | CC BY-SA 3.0 (fr: June Wallack, en and es: Allison Smith), CC BY 3.0 (ru), CC BY-SA (it: Carlo Flora) |
| asterisk-prompt-fr-armelle | the same, another speaker, 8 kHz | BSD-like or GPL-2+ |
| asterisk-prompt-es-co | the same, another speaker, 8 kHz | GPL-2+ |
| pocketsphinx-testdata | a book read aloud, commands and numbers, several speakers, 16 kHz | BSD-2, LibriVox: public domain |
| bucklespring-data | each key of a mechanical keyboard, pressed and let go | GPL-2+ |
| freepats | wood blocks, claves, sticks, a metronome's click and bell | GPL-2+ with an exception for music made |
"""

import functools
import pathlib
import struct

import numpy as np

from basics import fade_out, read_wav, resampled
from takes import decoded

PACKAGES = {
    "talk": [
        *[f"asterisk-core-sounds-{language}-g722" for language in ("en", "es", "fr", "it", "ru")],
        "asterisk-prompt-fr-armelle",
        "asterisk-prompt-es-co",
        "pocketsphinx-testdata",
    ],
    "typing": ["bucklespring-data"],
    "clicks": ["freepats"],
}
CLICKS = ["031_Sticks", "033_Metronome_Click", "034_Metronome_Bell", "037_Stick_Rim"]
CLICKS += ["075_Claves", "076_Wood_Block_1_High", "077_Wood_Block_2_Low"]
# Shorter prompts are single letters and numbers, or a tone.
LEAST_S = 1.2
NOT_TALK = ("beep", "silence", "tone", "ring", "/moh", "confbridge-join", "confbridge-leave")
TALK_ENDINGS = (".g722", ".gsm", ".wav", ".raw")


class Recordings:
    """The unpacked packages in a folder, one folder each; `without` leaves out
    talk of packages that have this in their name."""

    def __init__(self, folder, without=None):
        self.folder, self.without = pathlib.Path(folder), without

    def has(self, kind):
        return any((self.folder / name).is_dir() for name in PACKAGES[kind])

    def _files(self, name, endings):
        found = (self.folder / name).rglob("*")
        # One prompt of a package holds nothing.
        return sorted(p for p in found if p.suffix in endings and p.is_file() and p.stat().st_size)

    @functools.cached_property
    def speakers(self):
        """Talk by package: a speaker each, but for several in pocketsphinx-testdata."""
        out = {}
        for name in PACKAGES["talk"]:
            if self.without and self.without in name:
                continue
            for path in self._files(name, TALK_ENDINGS):
                if any(word in str(path).lower() for word in NOT_TALK):
                    continue
                out.setdefault(name, []).append(path)
        return out

    def said(self, rng, rate):
        """Some sentence, and who says it."""
        who = sorted(self.speakers)[rng.integers(len(self.speakers))]
        paths = self.speakers[who]
        for _ in range(50):
            samples = _sound(paths[rng.integers(len(paths))], rate)
            if len(samples) >= LEAST_S * rate and np.abs(samples).max() > 0.01:
                return samples, f"talk {who}"
        raise SystemExit(f"stopped: {who} has no talk that can be used")

    @functools.cached_property
    def keys(self):
        """Keystrokes: pressed and let go."""
        out = []
        for path in self._files("bucklespring-data", (".wav",)):
            if path.name.endswith("-1.wav"):
                let_go = path.with_name(path.name.replace("-1.wav", "-0.wav"))
                if let_go.exists():
                    out.append((path, let_go))
        return out

    def keystroke(self, rng, rate):
        return [_sound(path, rate) for path in self.keys[rng.integers(len(self.keys))]]

    def click(self, name, rate):
        path = next(self.folder.glob(f"freepats/**/{name}.pat"))
        samples, had = _patch(path.read_bytes())
        out = resampled(samples, had, rate)
        return fade_out(out, min(len(out), rate), rate // 100)


@functools.lru_cache(maxsize=512)
def _sound(path, rate):
    if path.suffix == ".raw":  # pocketsphinx: 16 kHz, 16 bit
        return resampled(np.fromfile(path, "<i2") / 32768.0, 16_000, rate)
    if path.suffix == ".wav":
        try:
            samples, had = read_wav(path)
            return resampled(samples, had, rate)
        except Exception:
            pass
    return decoded(path, rate)


def _patch(data):
    """The first sample of a GF1 patch: its header is 239 bytes, then 96 for each
    sample (the format as timidity reads it)."""
    at = 239
    length = struct.unpack_from("<I", data, at + 8)[0]
    rate = struct.unpack_from("<H", data, at + 20)[0]
    modes = data[at + 55]
    sound = data[at + 96 : at + 96 + length]
    if modes & 1:
        samples = np.frombuffer(sound[: len(sound) // 2 * 2], "<u2" if modes & 2 else "<i2")
        middle = 32768.0 if modes & 2 else 0.0
        return (samples.astype(float) - middle) / 32768.0, rate
    samples = np.frombuffer(sound, "u1" if modes & 2 else "i1").astype(float)
    return (samples - (128.0 if modes & 2 else 0.0)) / 128.0, rate
