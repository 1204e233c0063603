"""The notes of a recording with their times on the recording's axis."""

from __future__ import annotations

import numpy as np

from frothline.readings.time_axis import owners, pieces
from frothline.recording.recorded import Recorded


def note_times(recorded: Recorded, kind: str) -> list[tuple[float, str]]:
    """(time in s, text) of the notes of one kind, in the order of the file, without those that belong to no piece."""
    table = recorded.decoded.tables["note"]
    if not table.size:
        return []
    parts = pieces(recorded)
    index, ticks = owners(recorded, parts, table["tick"], recorded.decoded.offsets["note"])
    return [
        (float(parts[k].time(np.array([tick]))[0]), _text(row["text"]))
        for row, k, tick in zip(table, index, ticks, strict=True)
        if k >= 0 and _text(row["kind"]) == kind
    ]


def _text(field: bytes) -> str:
    return bytes(field).split(b"\0", 1)[0].decode("utf-8", "replace")
