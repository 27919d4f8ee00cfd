#!/usr/bin/env python3
"""Writes channel.csv beside this file: what both ends say at the lock, from fixed inputs.

Made from the protocol page, Python's own hmac and hashlib, and python-spake2 (see
requirements.txt for the version), which know nothing of this project. With --check nothing is
written: the table is made anew and compared with the stored one.

Columns, bytes in hexadecimal:
  secret          the passphrase as it is compared, or the key of a seat
  student         the number of the seat; empty for a passphrase
  exporter, host  the channel that the proofs are bound to (RFC 9266), the host's fingerprint
  lesson          its name
  x_random, y_random  64 bytes of chance for the student's scalar and the host's, as little-endian
                  numbers of which the order of the group is left out; empty for a seat
  x, y            the elements
  student_proof, host_proof
"""

import csv
import hashlib
import hmac
import io
import pathlib
import sys

from spake2 import SPAKE2_A, SPAKE2_B

TABLE = pathlib.Path(__file__).resolve().parent / "channel.csv"
COLUMNS = "secret,student,exporter,host,lesson,x_random,y_random,x,y,student_proof,host_proof".split(",")


def hkdf(secret, info, length):
    """HKDF-SHA-256 (RFC 5869), no salt."""
    key = hmac.digest(bytes(32), secret, "sha256")
    out = block = b""
    for number in range(1, length // 32 + 2):
        block = hmac.digest(key, block + info + bytes([number]), "sha256")
        out += block
    return out[:length]


def chance(label, length):
    """Bytes that look like chance and are the same each time."""
    blocks = (hashlib.sha256(f"{label} {n}".encode()).digest() for n in range(length // 32 + 1))
    return b"".join(blocks)[:length]


def proofs(secret, info, parts):
    keys = hkdf(secret, info, 64)
    said = b"".join(len(part).to_bytes(8, "little") + part for part in parts)
    return [hmac.digest(keys[at : at + 32], said, "sha256").hex() for at in (0, 32)]


def rows():
    for number, (words, lesson) in enumerate(
        [
            ("acornrivercandletiger", "Village hall"),
            ("acornrivercandletiger", "Žofie's evening class"),
            ("fourplainwordshere", ""),
        ]
    ):
        exporter, host = chance(f"exporter {number}", 32), chance(f"host {number}", 32)
        about = [b"fifthpeg student 1" + exporter, b"fifthpeg host 1" + host]
        x_random, y_random = chance(f"x {number}", 64), chance(f"y {number}", 64)
        ends = [
            end(words.encode(), idA=about[0], idB=about[1], entropy_f=lambda _, r=r: r[::-1])
            for end, r in ((SPAKE2_A, x_random), (SPAKE2_B, y_random))
        ]
        # A letter for the side comes first.
        x, y = (end.start()[1:] for end in ends)
        shared = ends[0].finish(b"B" + y)
        assert shared == ends[1].finish(b"A" + x)
        made = proofs(shared, b"fifthpeg passphrase 1", [*about, lesson.encode(), x, y])
        of = [part.hex() for part in (exporter, host)]
        more = [part.hex() for part in (x_random, y_random, x, y)]
        yield [words, "", *of, lesson, *more, *made]
        key, student = chance(f"seat {number}", 16), 1 + 1000 * number
        parts = [*about, lesson.encode(), student.to_bytes(4, "little")]
        made = proofs(key, b"fifthpeg place 1", parts)
        yield [key.hex(), student, *of, lesson, "", "", "", "", *made]


out = io.StringIO()
table = csv.writer(out, lineterminator="\n")
table.writerow(COLUMNS)
table.writerows(rows())
if sys.argv[1:] == ["--check"]:
    sys.exit(0 if TABLE.read_text("utf-8") == out.getvalue() else f"{TABLE.name} is not what it was")
TABLE.write_text(out.getvalue(), "utf-8")
