"""The student at the lock, made from the protocol page and from python-spake2.

Arguments: passphrase as it is compared, exporter, fingerprint (hexadecimal), lesson's name.
Says its element, reads the host's, says its proof, reads the host's proof, says whether it is right.
"""

import hashlib
import hmac
import sys

from spake2 import SPAKE2_A


def hkdf(secret, info, length):
    """HKDF-SHA-256 (RFC 5869), no salt."""
    key = hmac.digest(bytes(32), secret, "sha256")
    out = block = b""
    number = 0
    while len(out) < length:
        number += 1
        block = hmac.digest(key, block + info + bytes([number]), "sha256")
        out += block
    return out[:length]


def part(data):
    return len(data).to_bytes(8, "little") + data


passphrase, exporter, fingerprint, lesson = sys.argv[1:]
student = b"fifthpeg student 1" + bytes.fromhex(exporter)
host = b"fifthpeg host 1" + bytes.fromhex(fingerprint)
exchange = SPAKE2_A(passphrase.encode(), idA=student, idB=host)
x = exchange.start()[1:]
print(x.hex(), flush=True)
y = bytes.fromhex(sys.stdin.readline().strip())
keys = hkdf(exchange.finish(b"B" + y), b"fifthpeg passphrase 1", 64)
said = b"".join(map(part, [student, host, lesson.encode(), x, y]))
print(hmac.digest(keys[:32], said, "sha256").hex(), flush=True)
theirs = bytes.fromhex(sys.stdin.readline().strip())
right = hmac.compare_digest(theirs, hmac.digest(keys[32:], said, "sha256"))
print("right" if right else "wrong", flush=True)
