"""A recording as it was read: its files, their heads and what they hold."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from frothline.recording.segments import stem_and_number
from frothline.wire import Decoded
from frothline.wire.segment_head import Head


@dataclass(frozen=True)
class Recorded:
    """A recording as read: its files, their heads, their bytes behind one another, and what they hold.

    ``starts``: where each segment begins in ``data``; between two of them stands one zero.
    """

    paths: tuple[Path, ...]
    heads: tuple[Head, ...]
    starts: tuple[int, ...]
    data: bytes
    decoded: Decoded

    @property
    def name(self) -> str:
        return stem_and_number(self.paths[0])[0]

    @property
    def identity(self) -> str:
        """As 32 hexadecimal digits; empty when no head could be read."""
        return next((head.identity.hex() for head in self.heads if head.identity is not None), "")

    def digest(self) -> str:
        """SHA-256 over the bytes of the segments, by which a table can be traced to them."""
        return sha256(self.data).hexdigest()
