"""What a room, a microphone and a telephone make of a sound. Nothing comes out
before it went in.
"""

import numpy as np

from basics import band, gain, noise, rms

SPEED_M_S = 343.0


def filtered(samples, response, extra=0):
    """A sound through a response."""
    length = len(samples) + len(response) + extra
    spectrum = np.fft.rfft(samples, length) * np.fft.rfft(response, length)
    return np.fft.irfft(spectrum, length)[: len(samples) + extra]


def box_response(rng, rate, near_m=0.4, far_m=1.2):
    """The response of a furnished room of a house to an instrument so far away:
    mirror images of the source in six walls (Allen and Berkley, JASA 65, 1979).
    What comes straight stands at sample nought with the value 1. Walls that swallow a tenth to
    a third of what meets them: 60 dB in about 0.3 to 0.8 s."""
    size = np.array([rng.uniform(3.0, 6.0), rng.uniform(2.7, 5.0), rng.uniform(2.3, 2.8)])
    swallows = rng.uniform(0.12, 0.35)
    keeps = np.sqrt(1.0 - swallows)
    source = size * rng.uniform(0.3, 0.7, 3)
    away = rng.standard_normal(3) * [1.0, 1.0, 0.2]
    listener = source + rng.uniform(near_m, far_m) * away / np.linalg.norm(away)
    listener = np.clip(listener, 0.2, size - 0.2)
    lasts_s = 0.45
    reach = np.ceil(SPEED_M_S * lasts_s / (2 * size)).astype(int)
    axes, bounces = [], []
    for axis in range(3):
        order = np.arange(-reach[axis], reach[axis] + 1)
        place = np.concatenate([2 * order * size[axis] + s * source[axis] for s in (1, -1)])
        axes.append(place - listener[axis])
        bounces.append(np.concatenate([np.abs(2 * order), np.abs(2 * order - 1)]))
    far = np.sqrt(
        axes[0][:, None, None] ** 2 + axes[1][None, :, None] ** 2 + axes[2][None, None, :] ** 2
    ).ravel()
    times = (
        bounces[0][:, None, None] + bounces[1][None, :, None] + bounces[2][None, None, :]
    ).ravel()
    straight = np.linalg.norm(source - listener)
    at = np.rint((far - straight) * rate / SPEED_M_S).astype(int)
    heard = (at >= 0) & (at < lasts_s * rate)
    response = np.zeros(int(lasts_s * rate))
    np.add.at(response, at[heard], keeps ** times[heard] * straight / far[heard])
    # Walls swallow more of what is high, the images would stand in ranks, and all of
    # one sign they would add up to far more below 100 Hz than there is.
    tail = response.copy()
    tail[0] = 0.0
    tail *= 1.0 + 0.3 * rng.standard_normal(len(tail))
    slow = np.exp(-np.arange(rate // 50) * 2 * np.pi * 100.0 / rate)
    tail -= np.convolve(tail, slow / slow.sum())[: len(tail)]
    dull = np.exp(-np.arange(64) / (rate / (2 * np.pi * rng.uniform(3000.0, 8000.0))))
    tail = np.convolve(tail, dull / dull.sum())[: len(tail)]
    tail[0] += 1.0
    return tail


def suppressed(samples, rate):
    """Noise suppression as in calls: 20 ms at a time, whatever keeps still in a
    band is taken for noise and drawn down by up to 18 dB (Wiener's gain, the
    signal guessed from the frame before: Ephraim and Malah, IEEE ASSP 32, 1984)."""
    size = int(0.02 * rate)
    hop = size // 2
    window = np.sqrt(np.hanning(size + 1)[:size])
    begins = range(0, len(samples) - size, hop)
    frames = np.array([samples[b : b + size] * window for b in begins])
    spectra = np.fft.rfft(frames, axis=1)
    power = np.abs(spectra) ** 2
    hush = power[: int(0.3 * rate / hop)].mean(axis=0) + 1e-12
    rise = 10 ** (0.1 * 6.0 * hop / rate)  # 6 dB a second
    before = np.zeros(power.shape[1])
    for i, frame in enumerate(power):
        hush = np.where(frame < hush, 0.9 * hush + 0.1 * frame, np.minimum(hush * rise, frame))
        clear = 0.96 * before / hush + 0.04 * np.maximum(frame / hush - 1.0, 0.0)
        draw = np.maximum(clear / (1.0 + clear), gain(-18.0))
        before = draw**2 * frame
        spectra[i] *= draw
    out = np.zeros(len(samples))
    for b, frame in zip(begins, np.fft.irfft(spectra, size, axis=1)):
        out[b : b + size] += frame * window
    return out


def automatic_gain(samples, rate, wanted_db=-20.0, most_db=30.0):
    """Draws what is loud down within 20 ms, and lets what is soft come up over
    half a second, by up to `most_db`."""
    hop = int(0.005 * rate)
    count = len(samples) // hop + 1
    padded = np.concatenate([samples, np.zeros(count * hop - len(samples))])
    level = np.sqrt(np.mean(padded.reshape(count, hop) ** 2, axis=1)) + 1e-9
    gains, now = np.zeros(count), 0.0
    for i, loud in enumerate(20 * np.log10(level)):
        wanted = min(wanted_db - loud, most_db)
        now += (wanted - now) * (1.0 - np.exp(-0.005 / (0.02 if wanted < now else 0.5)))
        gains[i] = now
    # The gain found by a block holds from its end on.
    along = np.interp(np.arange(len(samples)), (np.arange(count) + 1) * hop, gains)
    return samples * 10 ** (along / 20)


def telephone(samples, rate):
    """300 to 3400 Hz, suppression, then gain."""
    return automatic_gain(suppressed(band(samples, rate, 300.0, 3400.0), rate), rate)


def clipped(samples, ceiling=0.98):
    return np.clip(samples, -ceiling, ceiling)


def eight_bits(samples):
    """256 steps, without dither."""
    return np.rint(samples * 127.0) / 127.0
