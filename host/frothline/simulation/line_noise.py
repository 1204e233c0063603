"""Damage to some of the frames, as by a bad cable."""

from __future__ import annotations

from random import Random


class Damager:
    """Drops, truncates, corrupts or pads frames, each with ``probability`` / 4."""

    def __init__(self, probability: float, random: Random) -> None:
        self._probability = probability
        self._random = random

    def __call__(self, data: bytes) -> bytes:
        """Damage ``data``, whole frames each closed by a zero byte."""
        if not self._probability or not data:
            return data
        random = self._random
        out = bytearray()
        for frame in data[:-1].split(b"\0"):
            if random.random() >= self._probability:
                out += frame + b"\0"
                continue
            fate = random.randrange(4)
            if fate == 1:
                out += frame[: random.randrange(len(frame) + 1)]
            elif fate == 2 and frame:
                spoilt = bytearray(frame)
                spoilt[random.randrange(len(frame))] ^= 1 << random.randrange(8)
                out += spoilt + b"\0"
            elif fate == 3:
                out += frame + b"\0" + random.randbytes(random.randrange(1, 40))
        return bytes(out)
