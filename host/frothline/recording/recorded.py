"""The content of a recording that was read: files, heads and messages."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Protocol

from frothline.recording.segments import stem_and_number
from frothline.wire import Decoded
from frothline.wire.segment_head import Head


class WithMessages(Protocol):
    """A recording as far as its time axis needs it: ``decoded`` has its tables, their offsets, and its bytes."""

    @property
    def decoded(self) -> Decoded: ...


@dataclass(frozen=True)
class Recorded:
    """A recording as read: its files, their heads, their joined bytes, and the messages.

    ``starts``: begin of each segment in ``data``; one zero separates two segments.
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
        """Identity as 32 hexadecimal digits; empty if no head could be read."""
        return next((head.identity.hex() for head in self.heads if head.identity is not None), "")

    def digest(self) -> str:
        """SHA-256 over the bytes of the segments, by which a table can be traced to them."""
        return sha256(self.data).hexdigest()
