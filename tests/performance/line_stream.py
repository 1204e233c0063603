"""A long stream of a board, made at once: the frames of ``frothline.wire.encode``, encoded column by column."""

import numpy as np

from frothline.wire import MESSAGES, encode
from frothline.wire.crc import crc32_columns

TICK_HZ = 2_000_000
SLOW_EVERY = 100  # line messages


def stuffed(texts):
    """Frames with their closing zero of n texts of one length: (n, length) to (n, length + 2)."""
    n, length = texts.shape
    columns = np.ascontiguousarray(texts.T)
    out = np.zeros((length + 2, n), dtype=np.uint8)
    distance = np.ones(n, dtype=np.uint8)  # to the next code byte or the end
    for place in reversed(range(length)):
        zero = columns[place] == 0
        out[place + 1] = np.where(zero, distance, columns[place])
        distance = np.where(zero, 1, distance + 1).astype(np.uint8)
    out[0] = distance
    return np.ascontiguousarray(out.T)


def framed(records):
    """The frames of n records of one message: (n, bytes of a frame)."""
    n = records.size
    payload = np.ascontiguousarray(records).view(np.uint8).reshape(n, records.dtype.itemsize)
    check = crc32_columns(np.ascontiguousarray(payload.T)).astype("<u4").view(np.uint8).reshape(n, 4)
    return stuffed(np.concatenate([payload, check], axis=1))


def line_records(first, n, rate, rng):
    """The line messages ``first`` to ``first + n`` of a board at ``rate`` a second, with noise."""
    k = np.arange(first, first + n, dtype=np.int64)
    rows = np.zeros(n, dtype=MESSAGES["line"].dtype)
    tick = (k + 1) * (TICK_HZ // rate)
    rows["id"] = MESSAGES["line"].id
    rows["sequence"] = (k + k // SLOW_EVERY + 40) & 0xFFFF
    rows["tick"] = tick & 0xFFFFFFFF
    rows["pressure_sum"] = 32_000 + 6_000 * np.sin(k / rate / 600) + rng.integers(0, 300, n)
    rows["differential_sum"] = 9_000 + rng.integers(0, 300, n)
    rows["pressure_n"] = rows["differential_n"] = 96
    rows["pulses"] = k * 37 // rate
    rows["edge_tick"] = (tick - rng.integers(1, 50_000, n)) & 0xFFFFFFFF
    rows["flags"] = 2
    return rows


def slow_records(first, n, rate):
    """The slow messages that follow each ``SLOW_EVERY`` line messages."""
    k = np.arange(first, first + n, dtype=np.int64)
    rows = np.zeros(n, dtype=MESSAGES["slow"].dtype)
    rows["id"] = MESSAGES["slow"].id
    rows["sequence"] = ((k + 1) * (SLOW_EVERY + 1) - 1 + 40) & 0xFFFF
    rows["tick"] = (k + 1) * SLOW_EVERY * (TICK_HZ // rate) & 0xFFFFFFFF
    rows["temperature_sum"], rows["bandgap_sum"] = 30_000 + k % 50, 14_400
    rows["temperature_n"] = rows["bandgap_n"] = 64
    return rows


def stream(seconds, rate=500, seed=1, block=65_536):
    """The bytes of that many seconds in blocks: line messages, and slow messages between them."""
    rng = np.random.default_rng(seed)
    block -= block % SLOW_EVERY
    total = int(seconds * rate) // SLOW_EVERY * SLOW_EVERY
    for first in range(0, total, block):
        n = min(block, total - first)
        line = framed(line_records(first, n, rate, rng)).reshape(n // SLOW_EVERY, -1)
        slow = framed(slow_records(first // SLOW_EVERY, n // SLOW_EVERY, rate))
        yield np.concatenate([line, slow], axis=1).tobytes()


def check_against_the_encoder():
    """The first frames equal those of the package's encoder. Raises AssertionError."""
    made = next(stream(10.0))
    rng = np.random.default_rng(1)
    rows = line_records(0, 5000, 500, rng)[:50]
    names = [name for name in rows.dtype.names if name not in ("id", "sequence")]
    said = b"".join(encode("line", int(row["sequence"]), **{name: int(row[name]) for name in names}) for row in rows)
    assert made.startswith(said)
