"""The head of a recording's segment, and the valid length of each segment.

Both ``recording`` (evaluation) and ``rig`` (playback) read segments, so the rule is in this package.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from frothline.wire.decoder import read_frame

LONGEST_HEAD = 600  # bytes that contain the first two frames of a segment


_MOST_DIGITS = 18  # of a number of bytes: an exabyte


@dataclass(frozen=True)
class Head:
    """Metadata of a segment; all None when its head is damaged."""

    format: int | None = None
    identity: bytes | None = None
    segment: int | None = None
    unix_ns: int | None = None
    software: str | None = None
    source: str | None = None
    repeats_from: int | None = None  # offset up to which the previous segment is valid


def text(value: Any) -> str:
    """A text field of a record without its padding zeros; invalid UTF-8 is replaced."""
    return bytes(value).rstrip(b"\0").decode(errors="replace")


def _bytes_number(words: str) -> int | None:
    """The number of bytes in a note; None for a text that no writer makes, so that the segment is read as it is."""
    return int(words) if words.isascii() and words.isdecimal() and len(words) <= _MOST_DIGITS else None


def read_head(data: bytes) -> Head:
    """The head of a segment; ``data`` may be its first ``LONGEST_HEAD`` bytes."""
    first, second, *_ = [*data[:LONGEST_HEAD].split(b"\0", 2), b"", b""]
    head = read_frame(first)
    if isinstance(head, str) or head[0].name != "recording_opened":
        return Head()
    record, repeats, behind = head[1], None, read_frame(second)
    if not isinstance(behind, str) and behind[0].name == "note" and text(behind[1]["kind"]) == "repeats":
        repeats = _bytes_number(text(behind[1]["text"]))
    return Head(
        int(record["format"]),
        record["identity"].tobytes(),
        int(record["segment"]),
        int(record["unix_ns"]),
        text(record["software"]),
        text(record["source"]),
        repeats,
    )


def valid_parts(heads: Sequence[Head]) -> list[tuple[int, int | None]]:
    """The segments that belong to one recording, and the valid length of each.

    ``heads`` are in the order of the segment numbers. The result is (index in ``heads``, bytes; None for all of it). A
    segment of another recording with the same name is left out. After a failed write the next segment repeats what was
    not known to be saved, and the rest of the previous segment is ignored.
    """
    identity = next((head.identity for head in heads if head.identity is not None), None)
    mine = [k for k, head in enumerate(heads) if head.identity in {None, identity}]
    limits: dict[int, int] = {}
    for k, after in pairwise(mine):
        repeats = heads[after].repeats_from
        if repeats is not None and heads[after].segment == (heads[k].segment or 0) + 1:
            limits[k] = repeats
    return [(k, limits.get(k)) for k in mine]
