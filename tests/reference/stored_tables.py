"""Tables of numbers made here and stored with the project: written, or compared
with what is stored."""

import csv
import math
import sys


def same(made, stored):
    """The same cells, numbers to one in a million (drawn ones have 3 places)."""
    if len(made) != len(stored) or made[0] != stored[0]:
        return False
    return all(
        len(a) == len(b) and all(math.isclose(float(x), float(y), rel_tol=1e-6, abs_tol=1e-9) for x, y in zip(a, b))
        for a, b in zip(made[1:], stored[1:])
    )


def stored(path):
    """The rows of a stored table; none if it is not there."""
    if not path.is_file():
        return []
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream))


def main(program, folder, tables, what, arguments):
    """Writes each of `tables` (name of a file, function that makes its rows) into
    `folder`, or with `--check` says which are not as stored. The exit code."""
    if arguments not in ([], ["--check"]):
        print(f"usage: {program} [--check]", file=sys.stderr)
        return 2
    different = []
    folder.mkdir(exist_ok=True)
    for name, make in tables.items():
        rows = [[str(cell) for cell in row] for row in make()]
        path = folder / name
        if not arguments:
            with path.open("w", encoding="utf-8", newline="") as out:
                csv.writer(out, lineterminator="\n").writerows(rows)
        elif not same(rows, stored(path)):
            different.append(name)
    if different:
        print(f"not as scipy and statsmodels make them: {', '.join(different)}", file=sys.stderr)
        return 1
    print(f"{len(tables)} tables of {what} {'are as stored' if arguments else 'written'}")
    return 0
