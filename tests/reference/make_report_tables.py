#!/usr/bin/env python3
"""Writes the tables under report/ from scipy and statsmodels.

They check the intervals of reports: scipy and statsmodels (see requirements.txt
for the versions) know nothing of this project. With --check nothing is written:
the tables are made anew and compared with the stored ones number by number, and
the exit status says whether they are the same.

Tables, all comma-separated with a heading line:
  share.csv       counts, and the 95% score interval of their share (Wilson)
  difference.csv  two counts, and the 95% interval of the second share less the
                  first (Newcombe)
  median.csv      numbers of values, and which of them in order bound the median
                  with 95%
"""

import pathlib
import sys

import numpy as np
from scipy import stats
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

import stored_tables

HERE = pathlib.Path(__file__).resolve().parent / "report"


def share():
    yield ["count", "of", "low", "high"]
    for of in [1, 2, 3, 5, 10, 20, 33, 120, 1000]:
        for count in sorted({0, 1, of // 3, of // 2, (9 * of) // 10, of - 1, of}):
            low, high = proportion_confint(count, of, alpha=0.05, method="wilson")
            yield [count, of, float(low), float(high)]


def difference():
    yield ["count_1", "of_1", "count_2", "of_2", "low", "high"]
    pairs = [(0, 1), (3, 3), (1, 10), (11, 20), (16, 20), (90, 120), (0, 30), (30, 30)]
    for count_1, of_1 in pairs:
        for count_2, of_2 in pairs:
            low, high = confint_proportions_2indep(
                count_2, of_2, count_1, of_1, method="newcomb", compare="diff", alpha=0.05, correction=False
            )
            yield [count_1, of_1, count_2, of_2, float(low), float(high)]


def median():
    yield ["values", "low_rank", "high_rank"]
    for values in [*range(6, 60), 100, 251, 1000, 2500]:
        ranks = np.arange(1, values + 1)
        within = stats.quantile_test(ranks, q=0, p=0.5).confidence_interval(0.95)
        yield [values, int(within.low), int(within.high)]


TABLES = {"share.csv": share, "difference.csv": difference, "median.csv": median}


if __name__ == "__main__":
    sys.exit(stored_tables.main("make_report_tables.py", HERE, TABLES, "reports", sys.argv[1:]))
