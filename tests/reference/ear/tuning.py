"""How far a note alone is from its key, read independently of any pitch method
that is judged.

Each partial is turned down to nought hertz at its expected place and low-passed
by a long window; the slope of its phase, by weighted least squares, says how far
off it is. From the partials f(n) = n f0 sqrt(1 + B n^2) (Fletcher, "Normal
vibration frequencies of a stiff piano string", JASA 36, 1964) is fitted, which
gives the fundamental f(1) even where it is weak. Only clean, single notes are
read so, with the key known beforehand: no method in the table is so lucky.
"""

import numpy as np

from basics import frequency_hz

# Where intonation has settled: the span that every method's reading is held
# against, and a longer one to check it by.
SETTLED_S = (0.15, 0.25)
LATER_S = (0.25, 0.6)
PARTIALS = 6


def _partial_hz(samples, rate, guess_hz, spacing_hz):
    """Frequency and amplitude of the partial near `guess_hz`, its neighbours
    being `spacing_hz` away."""
    # A Hann window this long has its first zeros on the neighbours at most.
    length = min(int(2.5 * rate / spacing_hz), len(samples) // 2)
    time = np.arange(len(samples)) / rate
    window = np.hanning(length + 2)[1:-1]
    window /= window.sum()
    for _ in range(3):
        turned = samples * np.exp(-2j * np.pi * guess_hz * time)
        low = np.convolve(turned, window, "valid")[:: max(1, length // 16)]
        at = (np.arange(len(low)) * max(1, length // 16)) / rate
        phase, weight = np.unwrap(np.angle(low)), np.abs(low) ** 2
        if weight.sum() == 0.0:
            return None
        middle = np.average(at, weights=weight)
        spread = np.average((at - middle) ** 2, weights=weight)
        slope = np.average((at - middle) * phase, weights=weight) / spread
        if abs(slope) / (2 * np.pi) > 0.5 * spacing_hz:
            return None
        guess_hz += slope / (2 * np.pi)
    return guess_hz, float(np.sqrt(np.mean(weight)))


def fundamental(samples, rate, expected_hz):
    """The fundamental of a note in hertz, by its first partials, and how far
    these are off the fit, in cents (weighted RMS); `None` if none is clear."""
    orders, found, weights = [], [], []
    for order in range(1, PARTIALS + 1):
        if order * expected_hz > 0.45 * rate:
            break
        read = _partial_hz(samples, rate, order * expected_hz, expected_hz)
        if read is None:
            continue
        hz, amplitude = read
        # A partial is out by less than half a semitone, or it is something else.
        if abs(1200 * np.log2(hz / (order * expected_hz))) < 60:
            orders.append(order)
            found.append(hz)
            weights.append(amplitude)
    if not orders:
        return None
    orders, found = np.array(orders, float), np.array(found)
    weights = np.array(weights)
    keep = weights > 0.03 * weights.max()
    orders, found, weights = orders[keep], found[keep], weights[keep]
    # (f(n)/n)^2 = f0^2 + f0^2 B n^2 is a straight line in n^2. Partials count as
    # (n a)^2: the phase of a higher one tells more.
    y, x, w = (found / orders) ** 2, orders**2, (weights * orders) ** 2
    x_mean, y_mean = np.average(x, weights=w), np.average(y, weights=w)
    slope = 0.0
    if len(orders) >= 3:
        spread = np.average((x - x_mean) ** 2, weights=w)
        slope = max(0.0, np.average((x - x_mean) * (y - y_mean), weights=w) / spread)
    off = 600.0 * np.log2(y / (y_mean + slope * (x - x_mean)))
    hz = float(np.sqrt(y_mean + slope * (1.0 - x_mean)))
    return hz, float(np.sqrt(np.average(off**2, weights=w)))


def reading(note, rate, expected_cents=0.0, span_s=SETTLED_S):
    """How far a note alone is from its key over a span after its onset, and how
    far its partials disagree, both in cents; `None` if that cannot be read."""
    begin = note.onset + int(span_s[0] * rate)
    part = note.samples[begin : note.onset + int(span_s[1] * rate)]
    found = fundamental(part, rate, frequency_hz(note.midi, expected_cents))
    if found is None:
        return None
    hz, disagree_cents = found
    return float(1200 * np.log2(hz / frequency_hz(note.midi))), disagree_cents


def cents_of(note, rate):
    """How far a note alone has settled from its key, in cents, or `None`."""
    found = reading(note, rate)
    return None if found is None else found[0]
