"""Consistent overhead byte stuffing: removes the zeros from a text, so that a zero byte can mark the end of a frame.

S. Cheshire, M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on Networking 7(2), 1999: the text
(with one virtual zero at its end) is cut after each zero and after every 254 bytes without one; each piece is sent as
its length plus one, then its bytes without the zero.
"""

from __future__ import annotations

LONGEST_RUN = 254  # maximum number of bytes without a zero after one code byte
_CODES = [bytes([length + 1]) for length in range(LONGEST_RUN)]


class Malformed(ValueError):
    """The input is not the stuffed form of any text."""


def encode(data: bytes) -> bytes:
    """Stuffed form without the closing zero; one byte longer than ``data`` for at most 253 bytes."""
    runs = data.split(b"\0")
    if len(data) < LONGEST_RUN:  # no run is full
        return b"".join([_CODES[len(run)] + run for run in runs])
    out = bytearray()
    for number, run in enumerate(runs, 1):
        rest = run
        while len(rest) >= LONGEST_RUN:
            out.append(LONGEST_RUN + 1)
            out += rest[:LONGEST_RUN]
            rest = rest[LONGEST_RUN:]
        # A full block does not imply a zero, so the zero after it needs a block of its own. At the end of the text
        # there is no zero, and the paper omits that block.
        if rest or not run or number < len(runs):
            out.append(len(rest) + 1)
            out += rest
    return bytes(out)


def decode(stuffed: bytes) -> bytes:
    """The text of a stuffed form (without the closing zero); Malformed if there is none."""
    out = bytearray()
    position, end = 0, len(stuffed)
    if not end:
        raise Malformed("nothing between two delimiters")
    if 0 in stuffed:
        raise Malformed(f"a zero at byte {stuffed.index(0)}")
    while True:
        code = stuffed[position]
        following = position + code
        if following > end:
            raise Malformed(f"the code at byte {position} points {following - end} bytes beyond the end")
        out += stuffed[position + 1 : following]
        if following == end:
            return bytes(out)
        if code != LONGEST_RUN + 1:
            out.append(0)
        position = following
