"""Marks of a recording: notes, button presses, samples and alarms."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from frothline.readings import time_axis
from frothline.readings.time_axis import Piece
from frothline.recording.recorded import WithMessages
from frothline.wire import name_of, text


@dataclass(frozen=True)
class RecordedMark:
    """A mark, note, button press or alarm: ``kind`` button, mark, note, step, sample, fault, alarm …"""

    time: float  # s on the recording's axis; NaN without a time of the board
    kind: str
    text: str


def marks(recorded: WithMessages, parts: list[Piece] | None = None) -> list[RecordedMark]:
    """All marks of people and the run watch, in the order of the file; long notes are joined."""
    parts = time_axis.pieces(recorded) if parts is None else parts
    tables, offsets = recorded.decoded.tables, recorded.decoded.offsets
    found: list[tuple[int, RecordedMark]] = []
    for name, kind in (("mark", "button"), ("note", ""), ("alarm", "")):
        if name not in offsets:
            continue
        ticks = tables[name]["tick"]
        by_host = name != "mark"
        times = (
            time_axis.place_told(recorded, ticks, offsets[name], parts)
            if by_host
            else time_axis.place(ticks, offsets[name], parts)
        )
        before: Any = None
        for row, offset, time in zip(tables[name], offsets[name], times, strict=True):
            if name == "mark":
                found.append((int(offset), RecordedMark(float(time), kind, f"mark {row['number']}")))
                continue
            what = text(row["kind"]) if name == "note" else name_of("severity", int(row["severity"]))
            words = text(row["text"]) if name == "note" else f"{text(row['code'])}: {text(row['text'])}"
            stamp = (name, what, int(row["unix_ns"]), int(row["monotonic_ns"]))
            if name == "note" and stamp == before:
                words = found[-1][1].text + words
                found.pop()
            before = stamp
            of_the_file = what in {"fault", "repeats"} and not int(row["tick"])
            moment = np.nan if of_the_file else float(time)
            found.append((int(offset), RecordedMark(moment, what, words)))
    return [mark for _, mark in sorted(found, key=lambda pair: pair[0]) if mark.kind != "repeats"]
