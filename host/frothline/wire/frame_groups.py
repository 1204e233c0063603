"""Unstuffing and check of many frames of one length at once; used by the whole-file decoder.

Most frames of one message have their code bytes at the same places. Such frames are found and unstuffed together by
comparing words of eight bytes; the others are unstuffed column by column. The check is linear, so one check over many
good frames has a known value. Where it differs, each frame is checked by itself.
"""

from __future__ import annotations

from collections import Counter
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from frothline.wire.crc import CHECK_BYTES, crc32, crc32_columns

Rows = NDArray[np.uint8]
Words = NDArray[np.uint64]

_WORD = 8  # bytes
_TILE = 64  # rows that are compared with one pattern in one inner loop
_SAMPLED = 5  # frames from which the usual places of the code bytes are found
_FEW = 256  # frames; fewer are left to be unstuffed column by column
_TURNS = 2  # patterns that are tried; the remaining frames are left to be unstuffed column by column
_WORTH = 8  # another pattern is sought where less than 1/8 of the frames have the known one
# Bits of one check over several frames. CRC-32 finds any three wrong bits in up to 91,607 bits (P. Koopman, "32-Bit
# Cyclic Redundancy Codes for Internet Applications", DSN 2002, from memory).
_CHECKED_BITS = 91_600


def windows(data: Rows, offsets: NDArray[np.int64], length: int) -> Rows:
    """Copy the ``length`` bytes behind each offset, and what follows, to rows of whole words: (n, width).

    ``offsets`` ascend. The bytes of a row after ``length`` have any value.
    """
    width = -(-length // _WORD) * _WORD
    row = np.dtype(f"V{width}")
    inside = int(np.searchsorted(offsets, data.size - width, side="right"))
    if inside == offsets.size:
        taken = np.ndarray((data.size - width + 1,), dtype=row, buffer=data, strides=(1,))[offsets]
        return taken.view(np.uint8).reshape(-1, width)
    first = int(offsets[inside])  # from here on the rows reach beyond the end of the data
    padded = np.concatenate([data[first:], np.zeros(width, dtype=np.uint8)])
    early = windows(data, offsets[:inside], length) if inside else np.empty((0, width), dtype=np.uint8)
    return np.concatenate([early, windows(padded, offsets[inside:] - first, length)])


class Unstuffing:
    """Unstuffs frames of one length. It remembers the usual places of their code bytes."""

    def __init__(self, length: int) -> None:
        self.length = length
        self._patterns: list[tuple[Words, Words, Words]] = []

    def __call__(self, rows: Rows) -> NDArray[np.intp]:
        """Replace code bytes by zeros in the rows that have them at usual places; returns the indices of the others.

        ``rows`` (n, width) from ``windows`` is changed in place: an unstuffed row has a zero, the text, and zeros from
        ``length`` on. The other rows are not changed; ``unstuff_columns`` is for them.
        """
        return self._unstuff(rows, 0)

    def _unstuff(self, rows: Rows, turn: int) -> NDArray[np.intp]:
        n = rows.shape[0]
        if n < _FEW or turn == _TURNS:
            return np.arange(n)
        pattern = self._patterns[turn] if turn < len(self._patterns) else None
        unlike = _unlike(rows, pattern) if pattern is not None else None
        if pattern is None or unlike is None or unlike.size > n - n // _WORTH:
            codes = _usual_codes(rows, self.length)
            if codes is None:
                return np.arange(n)
            pattern = _pattern(codes, self.length, rows.shape[1])
            self._patterns[turn:] = [pattern]
            unlike = _unlike(rows, pattern)
        rest = rows[unlike]
        _clear(rows, pattern[2])
        left = self._unstuff(rest, turn + 1)
        rows[unlike] = rest
        return unlike[left]


def _usual_codes(rows: Rows, length: int) -> tuple[int, ...] | None:
    """The most frequent places of the code bytes in some rows, then ``length``; None if all these are malformed."""
    chains: Counter[tuple[int, ...]] = Counter()
    for row in rows[:: max(1, rows.shape[0] // _SAMPLED)]:
        frame, chain = row.tobytes(), [0]
        while chain[-1] < length and frame[chain[-1]]:
            chain.append(chain[-1] + frame[chain[-1]])
        if chain[-1] == length:
            chains[tuple(chain)] += 1
    return max(chains, key=chains.__getitem__) if chains else None


def _pattern(codes: tuple[int, ...], length: int, width: int) -> tuple[Words, Words, Words]:
    """For ``_TILE`` rows: ones at the code bytes, the code bytes' values, and ones at the other bytes of the frame."""
    rows = np.zeros((3, width), dtype=np.uint8)
    at = np.array(codes)
    rows[0, at[:-1]], rows[1, at[:-1]], rows[2, :length] = 255, np.diff(at), 255
    rows[2] &= ~rows[0]
    places, expected, text = np.tile(rows, _TILE).view(np.uint64)
    return places, expected, text


def _tiles(rows: Rows) -> tuple[Words, Words]:
    """The rows as words: (whole tiles, words of a tile), and the remaining words."""
    words = rows.reshape(-1).view(np.uint64)
    tile = _TILE * rows.shape[1] // _WORD
    whole = words.size - words.size % tile
    return words[:whole].reshape(-1, tile), words[whole:]


def _unlike(rows: Rows, pattern: tuple[Words, Words, Words]) -> NDArray[np.intp]:
    """Indices of the rows whose code bytes differ from the pattern."""
    places, expected, _ = pattern
    found = []
    before = 0
    for words in _tiles(rows):
        size = words.shape[-1]
        found.append(np.flatnonzero((words & places[:size]) != expected[:size]) + before)
        before += words.size
    index = np.concatenate(found) // (rows.shape[1] // _WORD)
    first = np.ones(index.size, dtype=np.bool_)
    np.not_equal(index[1:], index[:-1], out=first[1:])
    found_once: NDArray[np.intp] = index[first]
    return found_once


def _clear(rows: Rows, kept: Words) -> None:
    """Set all bytes outside of ``kept`` to zero, in place."""
    for words in _tiles(rows):
        np.bitwise_and(words, kept[: words.shape[-1]], out=words)


def unstuff_columns(rows: Rows, length: int) -> NDArray[np.bool_]:
    """Unstuff n frames whose code bytes are at any places, in place; returns which frames are well-formed, (n,).

    Rows of malformed frames have any content.
    """
    columns = np.ascontiguousarray(rows[:, :length].T)
    n = rows.shape[0]
    following = np.zeros(n, dtype=np.uint8)  # place of the next code byte
    is_code, code = np.empty(n, dtype=np.bool_), np.empty(n, dtype=np.uint8)
    for place, column in enumerate(columns):
        np.equal(following, place, out=is_code)
        np.multiply(column, is_code.view(np.uint8), out=code)
        # A code that points more than 255 bytes on leads to a place before this one, so it is never met again.
        np.add(following, code, out=following)
        np.subtract(column, code, out=column)
    rows[:, :length] = columns.T
    rows[:, length:] = 0
    good: NDArray[np.bool_] = following == length
    return good


def check(rows: Rows, length: int) -> NDArray[np.bool_]:
    """Which of n unstuffed frames have the right check, (n,). ``rows`` (n, width) is unstuffed."""
    n, width = rows.shape
    good = np.ones(n, dtype=np.bool_)
    together = max(1, _CHECKED_BITS // (8 * width))
    data = rows.reshape(-1).data
    for first in range(0, n, together):
        count = min(together, n - first)
        if crc32(data[first * width : (first + count) * width]) != _check_of_good(count, length, width):
            columns = np.ascontiguousarray(rows[first : first + count, 1:length].T)
            good[first : first + count] = crc32_columns(columns[:-CHECK_BYTES]) == _sent(columns)
    return good


def _sent(columns: Rows) -> NDArray[np.uint32]:
    sent: NDArray[np.uint32] = columns[-CHECK_BYTES].astype(np.uint32)
    for k in range(1, CHECK_BYTES):
        sent |= columns[k - CHECK_BYTES].astype(np.uint32) << np.uint32(8 * k)
    return sent


@lru_cache(maxsize=1024)
def _check_of_good(count: int, length: int, width: int) -> int:
    """The check over the rows of ``count`` good frames; it is the same for any such frames."""
    return crc32(good_row(length, width).tobytes() * count)


@lru_cache(maxsize=1024)
def good_row(length: int, width: int) -> Rows:
    """An unstuffed row whose check is right, (width,), to put in the place of a row that is checked later."""
    text = bytes(length - 1 - CHECK_BYTES)
    frame = b"\0" + text + crc32(text).to_bytes(CHECK_BYTES, "little") + bytes(width - length)
    return np.frombuffer(frame, dtype=np.uint8)
