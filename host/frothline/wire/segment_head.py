"""The head of a recording's segment, and the readable length of each segment.

The rule is here, next to the frames it is made of, because a recording is read by two: ``recording`` evaluates it,
``rig`` plays it back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from frothline.wire.decoder import read_frame

LONGEST_HEAD = 600  # bytes in which the first two frames of a segment lie


@dataclass(frozen=True)
class Head:
    """What a segment says of itself; all None when its head is damaged."""

    format: int | None = None
    identity: bytes | None = None
    segment: int | None = None
    unix_ns: int | None = None
    software: str | None = None
    source: str | None = None
    repeats_from: int | None = None  # offset up to which the segment before is valid


def text(value: Any) -> str:
    """A text field of a record, without the zeros that fill it; what is no UTF-8 is replaced."""
    return bytes(value).rstrip(b"\0").decode(errors="replace")


def read_head(data: bytes) -> Head:
    """The head of a segment; ``data`` may be its first ``LONGEST_HEAD`` bytes."""
    first, second, *_ = [*data[:LONGEST_HEAD].split(b"\0", 2), b"", b""]
    head = read_frame(first)
    if isinstance(head, str) or head[0].name != "recording_opened":
        return Head()
    record, repeats, behind = head[1], None, read_frame(second)
    if not isinstance(behind, str) and behind[0].name == "note" and text(behind[1]["kind"]) == "repeats":
        repeats = int(text(behind[1]["text"]))
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
    """Which of the segments with these heads, in the order of their numbers, are one recording, and how far each is
    valid: (its place among ``heads``, bytes; None for all of it).

    A segment of another recording that only has the name is left out. Where a write failed, the next segment repeats
    what was not known to be safe, and the rest of the segment before is not to be read twice.
    """
    identity = next((head.identity for head in heads if head.identity is not None), None)
    mine = [k for k, head in enumerate(heads) if head.identity in {None, identity}]
    limits: dict[int, int] = {}
    for k, after in pairwise(mine):
        repeats = heads[after].repeats_from
        if repeats is not None and heads[after].segment == (heads[k].segment or 0) + 1:
            limits[k] = repeats
    return [(k, limits.get(k)) for k in mine]
