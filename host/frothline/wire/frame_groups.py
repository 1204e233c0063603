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
_WORDS = np.dtype("<u8")  # the first byte of a word is its lowest
_ONE, _BYTE = np.uint64(1), np.uint64(255)
_SAMPLED = 24  # frames from which the usual places of the code bytes are found
_FEW = 256  # frames; fewer are left to be unstuffed column by column
_WORTH = 8  # the usual places are sought again where more than 1/8 of the frames lack some, or most have others too
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
    """Unstuffs frames of one length. It remembers the places of code bytes that these frames have in common."""

    def __init__(self, length: int) -> None:
        self.length = length
        self._pattern: tuple[Words, Words] | None = None

    def __call__(self, rows: Rows) -> NDArray[np.intp]:
        """Unstuff the rows in place; returns the ascending indices of those that are not unstuffed.

        ``rows`` (n, width) from ``windows``: an unstuffed row has a zero, the text, and zeros from ``length`` on. A row
        that is not unstuffed lacks a usual code byte, or is malformed. It has any content afterwards;
        ``unstuff_columns`` is for it.
        """
        n = rows.shape[0]
        if n < _FEW:
            return np.arange(n)
        if self._pattern is None:
            codes = _usual_codes(rows, self.length)
            if codes is None:
                return np.arange(n)
            self._pattern = _pattern(codes, rows.shape[1])
        left, others = _unstuff(rows, self._pattern, self.length)
        if left.size > n // _WORTH or others > n:
            self._pattern = None  # the next frames show which places they have in common
        return left


def _usual_codes(rows: Rows, length: int) -> list[int] | None:
    """Places of the code bytes that nearly all of some rows have, then ``length``; None if these are malformed."""
    chains = []
    for row in rows[:: max(1, rows.shape[0] // _SAMPLED)]:
        frame, chain = row.tobytes(), [0]
        while chain[-1] < length and frame[chain[-1]]:
            chain.append(chain[-1] + frame[chain[-1]])
        if chain[-1] == length:
            chains.append(chain)
    times = Counter(place for chain in chains for place in chain)
    return sorted(place for place in times if times[place] >= max(1, len(chains) - 1)) or None


def _pattern(codes: list[int], width: int) -> tuple[Words, Words]:
    """For ``_TILE`` rows: ones at the usual code bytes, and their values."""
    rows = np.zeros((2, width), dtype=np.uint8)
    at = np.array(codes)
    rows[0, at[:-1]], rows[1, at[:-1]] = 255, np.diff(at)
    places, expected = np.tile(rows, _TILE).view(_WORDS)
    return places, expected


def _unstuff(rows: Rows, pattern: tuple[Words, Words], length: int) -> tuple[NDArray[np.intp], int]:
    """Unstuff rows that have the usual code bytes, and any others between them.

    Returns the ascending indices of the others, and the number of stretches with a code byte at another place.
    """
    places, expected = pattern
    rows[:, length:] = 0
    flat = rows.reshape(-1)
    words = flat.view(_WORDS)
    tile, found, before = places.size, [], 0
    whole = words.size - words.size % tile
    for part in (words[:whole].reshape(-1, tile), words[whole:]):
        # A code byte with its usual value becomes zero, as the text has it.
        np.bitwise_xor(part, expected[: part.shape[-1]], out=part)
        found.append(np.flatnonzero((part & places[: part.shape[-1]]) != 0) + before)
        before += part.size
    word = np.concatenate(found)
    same = word - word // tile * tile  # the same word in the pattern
    unlike = words[word] & places[same]
    values = expected.view(np.uint8)
    lacking, count = [np.empty(0, dtype=np.intp)], 0
    while word.size:
        lowest = np.bitwise_count((unlike & (~unlike + _ONE)) - _ONE) >> np.uint8(3)  # place of the byte in its word
        place = word * _WORD + lowest
        wrong = _split(flat, place, values[same * _WORD + lowest], length)
        if wrong.any():
            lacking.append(place[wrong] // rows.shape[1])
        count += place.size
        unlike &= ~(_BYTE << (lowest.astype(np.uint64) << np.uint64(3)))
        again = np.flatnonzero(unlike)
        word, same, unlike = word[again], same[again], unlike[again]
    return np.unique(np.concatenate(lacking)), count


def _split(flat: Rows, place: NDArray[np.intp], usual: Rows, length: int) -> NDArray[np.bool_]:
    """Unstuff stretches between two usual code bytes that have others between them, in place.

    flat : bytes of all rows, with the usual code bytes as their difference (by bits) to the usual value
    place : of the code byte at the begin of each stretch, (n,)
    usual : its usual value, which is the length of the stretch, (n,)
    length : of a frame, more than the code bytes of a stretch

    Returns which stretches do not end at the next usual code byte, (n,).
    """
    wrong = np.zeros(place.size, dtype=np.bool_)
    inside, end, code = np.arange(place.size), place + usual, flat[place] ^ usual
    for _ in range(length):
        flat[place] = 0
        place = place + code
        wrong[inside] = place != end
        on = np.flatnonzero(place < end)
        if not on.size:
            break
        inside, place, end = inside[on], place[on], end[on]
        code = flat[place]
    return wrong


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
