"""Points that the operator withdrew during a sweep: the note in the recording, and the points it removes."""

from __future__ import annotations

import re
from collections.abc import Sequence

from frothline.curve.steady_points import SteadyPoint

_NOTE = re.compile(r"point withdrawn: the last ([0-9.]+) s do not count")
Stretch = tuple[float, float]  # begin and end, s


def withdrawn_note(seconds: float) -> str:
    """Text of the note; ``seconds`` from the begin of the point to the note."""
    return f"point withdrawn: the last {seconds:.1f} s do not count"


def withdrawn_stretches(notes: Sequence[tuple[float, str]]) -> tuple[Stretch, ...]:
    """The withdrawn stretches of notes given as (time in s, text), in order; other notes are ignored."""
    found = ((time, _NOTE.fullmatch(text)) for time, text in notes)
    return tuple(sorted((time - float(match[1]), time) for time, match in found if match is not None))


def without_withdrawn(points: Sequence[SteadyPoint], stretches: Sequence[Stretch]) -> list[SteadyPoint]:
    """The points whose middle is in no withdrawn stretch. A note has the time of the newest message, which may be a
    little later than the reading it was made at; the middle of a point is at least two seconds from its ends.
    """
    return [
        point for point in points if not any(begin < 0.5 * (point.start + point.end) < end for begin, end in stretches)
    ]
