#!/usr/bin/env python3
"""Writes the tables under learning/ from scipy and statsmodels.

They check the figures of picking that teaches: scipy and statsmodels (see
requirements.txt for the versions) know nothing of this project. With --check
nothing is written: the tables are made anew and compared with the stored ones
number by number, and the exit status says whether they are the same.

Tables, all comma-separated with a heading line:
  beta.csv     quantiles and tails of Beta distributions
  answer.csv   one right or wrong answer under a Gaussian belief: its chance,
               and the exact mean and variance of the belief after it
  answers.csv  a made-up student's answers: note, size of the reach, right
  fit.csv      what these answers say of each note's logit: exact posterior
               mean and standard deviation under the same priors, by importance
               sampling about the mode
  many.csv     many answers to one note in reaches of several sizes: how many
               were right, and the logit and its standard error by a binomial
               regression with offsets
"""

import math
import pathlib
import sys

import numpy as np
import statsmodels.api as sm
from scipy import integrate, optimize, special, stats

import stored_tables

HERE = pathlib.Path(__file__).resolve().parent / "learning"
# The priors, as in the table's test: ability, register, note.
ABILITY_MEAN, ABILITY_SD, REGISTER_SD, NOTE_SD = 2.0, 1.5, 0.6, 0.9
REGISTER_SEMITONES = 6
NOTES = range(50, 63)


def beta():
    yield ["p", "a", "b", "quantile", "x", "below"]
    for a in [0.5, 1.0, 2.5, 9.5, 60.0]:
        for b in [0.5, 1.5, 4.5, 40.0]:
            for p in [0.05, 0.5, 0.95]:
                x = round(0.2 + 0.6 * p, 3)
                yield [p, a, b, stats.beta.ppf(p, a, b), x, stats.beta.cdf(x, a, b)]


def answer():
    yield ["mean", "var", "offset", "right", "chance", "after_mean", "after_var"]
    for mean in [-3.0, 0.0, 2.0, 6.0]:
        for var in [0.05, 1.0, 4.0]:
            for offset in [0.0, -math.log(12)]:
                for right in [0, 1]:
                    sign = 1 if right else -1
                    sd = math.sqrt(var)

                    def moment(k):
                        def f(z):
                            s = mean + sd * z + offset
                            return z**k * special.expit(sign * s) * stats.norm.pdf(z)

                        return integrate.quad(f, -12, 12, epsabs=1e-14, epsrel=1e-12, limit=400)[0]

                    whole, first, second = moment(0), moment(1), moment(2)
                    centre = first / whole
                    chance = whole if right else 1 - whole
                    spread = second / whole - centre**2
                    yield [mean, var, offset, right, chance, mean + sd * centre, var * spread]


def student():
    """A made-up student: 150 answers in the octave and in five open strings."""
    rng = np.random.default_rng(20)
    logit = {note: 2.6 + 0.08 * (note - 56) + rng.normal(0, 0.9) for note in NOTES}
    for _ in range(150):
        size = int(rng.choice([5, 13]))
        note = int(rng.choice(NOTES))
        right = rng.random() < special.expit(logit[note] - math.log(size - 1))
        yield note, size, int(right)


def answers():
    yield ["note", "reach_size", "right"]
    yield from (list(row) for row in student())


def design(note, parts):
    """How much of each part a note's logit holds."""
    row = np.zeros(len(parts))
    point, above = divmod(note, REGISTER_SEMITONES)
    above /= REGISTER_SEMITONES
    row[parts.index("ability")] = 1
    row[parts.index(("register", point))] = 1 - above
    if above:
        row[parts.index(("register", point + 1))] = above
    row[parts.index(("note", note))] = 1
    return row


def fit():
    yield ["note", "mean", "sd"]
    points = range(min(NOTES) // REGISTER_SEMITONES, max(NOTES) // REGISTER_SEMITONES + 2)
    parts = ["ability"] + [("register", p) for p in points] + [("note", n) for n in NOTES]
    sds = np.array(
        [ABILITY_SD if p == "ability" else REGISTER_SD if p[0] == "register" else NOTE_SD for p in parts]
    )
    prior = np.array([ABILITY_MEAN if p == "ability" else 0.0 for p in parts])
    rows = list(student())
    x = np.array([design(note, parts) for note, _, _ in rows])
    offset = np.array([-math.log(size - 1) for _, size, _ in rows])
    sign = np.array([1 if right else -1 for _, _, right in rows])

    def minus_log(z):
        likely = special.log_expit(sign * (x @ z + offset)).sum()
        return 0.5 * (((z - prior) / sds) ** 2).sum() - likely

    def slope(z):
        return (z - prior) / sds**2 - x.T @ (sign * special.expit(-sign * (x @ z + offset)))

    mode = optimize.minimize(minus_log, prior, jac=slope, method="BFGS", options={"gtol": 1e-9}).x
    p = special.expit(x @ mode + offset)
    curvature = np.diag(1 / sds**2) + x.T @ (x * (p * (1 - p))[:, None])
    # Importance sampling from a Student t of ten degrees about the mode.
    rng = np.random.default_rng(85)
    near = stats.multivariate_t(mode, np.linalg.inv(curvature), df=10, seed=rng)
    z = near.rvs(200_000)
    logs = special.log_expit(sign * (z @ x.T + offset)).sum(1) - 0.5 * (((z - prior) / sds) ** 2).sum(1)
    logs -= near.logpdf(z)
    weight = np.exp(logs - logs.max())
    weight /= weight.sum()
    for note in NOTES:
        along = z @ design(note, parts)
        mean = weight @ along
        yield [note, round(mean, 3), round(math.sqrt(weight @ (along - mean) ** 2), 3)]


def many():
    yield ["reach_size", "asked", "right", "logit", "standard_error"]
    rng = np.random.default_rng(7)
    sizes = [2, 5, 13, 35]
    asked = [200, 300, 400, 300]
    right = [rng.binomial(n, special.expit(2.2 - math.log(s - 1))) for n, s in zip(asked, sizes)]
    counts = np.column_stack([right, np.array(asked) - right])
    offset = [-math.log(s - 1) for s in sizes]
    model = sm.GLM(counts, np.ones(len(sizes)), family=sm.families.Binomial(), offset=offset).fit()
    for size, n, k in zip(sizes, asked, right):
        yield [size, n, int(k), float(model.params[0]), float(model.bse[0])]


TABLES = {
    "beta.csv": beta,
    "answer.csv": answer,
    "answers.csv": answers,
    "fit.csv": fit,
    "many.csv": many,
}


if __name__ == "__main__":
    sys.exit(stored_tables.main("make_learning_tables.py", HERE, TABLES, "learning", sys.argv[1:]))
