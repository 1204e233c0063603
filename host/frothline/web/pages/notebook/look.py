"""A recording over time on the notebook page: which part of which recording, its chart, and its figures in words.

All values come from ``readings.overview``, which a background thread asks: it reads a long recording once.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.bench.background import BackgroundAnswer, BackgroundAnswers
from frothline.bench.library import FolderView
from frothline.bench.snapshot import Snapshot
from frothline.errors import InputError
from frothline.formatting import running_time
from frothline.readings.applied_calibration import AUTO
from frothline.recording.segments import stem_and_number
from frothline.web.elements import Node, block, button, node, table
from frothline.web.pages.notebook import labels
from frothline.web.viewer import Viewer

if TYPE_CHECKING:
    import pandas as pd

    from frothline.recording.summary import Entry

LOOK, PLACE_OF_LOOK = "look", "part-look"  # name of the viewer setting, and id of the part of the page
LEAST = 0.1  # s, the shortest part
STEP = 0.5  # of the part by which it moves
MARKS = 12  # listed in words
MOST_KEPT = 40  # charts
STRETCHES = 3  # for each column of a viewer, which has four pixels


@dataclass(frozen=True)
class Part:
    """A part of a recording: s on its axis; ``end`` None to its end."""

    path: str
    begin: float = 0.0
    end: float | None = None

    @classmethod
    def of(cls, wished: Sequence[str]) -> Part | None:
        """The part of a viewer's setting, "begin:end:path" with empty texts for all of it; None without one."""
        begin, _, rest = (wished[0] if wished else "").partition(":")
        end, _, path = rest.partition(":")
        if not path:
            return None
        low, high = _number(begin, 0.0), _number(end, None)
        low = max(0.0, low or 0.0)
        return cls(path, low, None if high is None else max(high, low + LEAST))

    @property
    def wish(self) -> str:
        """The viewer's setting of this part."""
        return f"{LOOK}:{wish_of(self.path, self.begin, self.end)}"

    def moved(self, to: str, seconds: float) -> Part | None:
        """The part after a button in a recording of that length; None where it would stay the same."""
        begin, end = self.begin, seconds if self.end is None else min(self.end, seconds)
        width, middle = end - begin, (begin + end) / 2
        if to == "whole":
            return Part(self.path) if (begin, end) != (0.0, seconds) else None
        if to in {"longer", "shorter"}:
            width = max(LEAST, width * (2 if to == "longer" else 0.5))
            begin = middle - width / 2
        else:
            begin += STEP * width * (1 if to == "later" else -1)
        begin = max(0.0, min(begin, seconds - width))
        there = Part(self.path, round(begin, 4), round(min(begin + width, seconds), 4))
        return None if (there.begin, there.end) == (round(self.begin, 4), round(end, 4)) else there


def wish_of(path: str, begin: float = 0.0, end: float | None = None) -> str:
    """The value of the viewer's setting."""
    return f"{begin:.10g}:{'' if end is None else f'{end:.10g}'}:{path}"


def _number(text: str, otherwise: float | None) -> float | None:
    try:
        number = float(text)
    except ValueError:
        return otherwise
    return number if isfinite(number) else otherwise


class RecordingLooks:
    """Charts of parts of recordings, made in one background thread."""

    def __init__(self) -> None:
        self._answers = BackgroundAnswers(MOST_KEPT)
        self._lock = threading.Lock()
        self._read: dict[str, float] = {}  # share by path, of recordings that are being read

    def ask(self, seen: FolderView, entry: Entry, part: Part, viewer: Viewer) -> BackgroundAnswer:
        """Words and chart of the part, or an answer with ``working`` set."""
        calibration = AUTO if seen.notebook is None else seen.notebook.calibration
        points = STRETCHES * viewer.columns
        how = (seen.place, seen.look, part, points, viewer.system, viewer.scheme, viewer.touch)

        def find() -> tuple[list[Node | None], list[Node | None], dict[str, Any]]:
            from frothline.readings.overview import overview  # noqa: PLC0415  a second to load
            from frothline.web.pages.notebook import look_chart  # noqa: PLC0415

            try:
                frame = overview(
                    entry.path,
                    calibration,
                    begin=part.begin,
                    end=part.end,
                    points=points,
                    progress=lambda share: self._note(entry.path, share),
                )
            finally:
                self._note(entry.path, None)
            if part.begin >= frame.attrs["seconds"]:
                raise InputError(labels.beyond_end(running_time(part.begin), running_time(frame.attrs["seconds"])))
            drawn = look_chart.figure(frame, viewer.system, viewer.scheme, touch=viewer.touch)
            drawn.layout.meta = {"part": {"wish": LOOK, "of": part.path, "seconds": look_chart.time_unit(frame)[0]}}
            return buttons(part, frame), figures(frame, viewer.system), drawn.to_plotly_json()

        return self._answers.look(how, find)

    def _note(self, path: str, share: float | None) -> None:
        with self._lock:
            if share is None:
                self._read.pop(path, None)
            else:
                self._read[path] = share

    def share(self, path: str) -> float | None:
        """The share of a recording that was read; None while it is not read for the first time."""
        with self._lock:
            return self._read.get(path)


def entry_of(seen: FolderView, part: Part | None) -> Entry | None:
    """The recording of a part if the shown folder has it. Nothing else is read."""
    return None if part is None else next((entry for entry in seen.entries if entry.path == part.path), None)


def refused(entry: Entry, now: Snapshot) -> str:
    """Why a recording cannot be looked at; empty if it can."""
    if entry.state not in {"closed", "open"}:
        return labels.STATES.get(entry.state, entry.problem)
    being = now.recording
    folder = Path(entry.path).absolute().parent
    written = (
        being is not None
        and not being.ended
        and (being.path.absolute().parent, stem_and_number(being.path)[0]) == (folder, entry.name)
    )
    return labels.STILL_RECORDED if written else ""


def say(looks: RecordingLooks, seen: FolderView, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
    """Fill in the chart, the words and buttons above it, and the figures below it."""
    above, below = _said(looks, seen, now, viewer, message)
    message["blocks"]["notebook-look"] = block(above, viewer.have.get("notebook-look"))
    message["blocks"]["notebook-look-figures"] = block(below, viewer.have.get("notebook-look-figures"))


def _said(
    looks: RecordingLooks, seen: FolderView, now: Snapshot, viewer: Viewer, message: dict[str, Any]
) -> tuple[Sequence[Node | None], Sequence[Node | None]]:
    """What stands above and below the chart, which is put into the message."""
    part = Part.of(viewer.wish.get(LOOK, ()))
    entry = entry_of(seen, part)
    message["states"]["look"] = "off"
    message["texts"]["part-look"] = labels.NO_LOOK if entry is None else entry.title
    if part is None or entry is None:
        return [node("p", labels.CHOOSE_LOOK)], ()
    title = node("h3", node("b", entry.title))
    if why := refused(entry, now):
        return [title, node("p", why, class_="wrong", role="status")], ()
    found = looks.ask(seen, entry, part, viewer)
    if found.trouble:
        return [title, node("p", found.trouble, class_="wrong", role="status"), _whole(part)], ()
    message["states"]["look"] = "on"
    if found.value is None:
        share = looks.share(entry.path)
        words = labels.PART_READ if share is None else labels.being_read(100 * share)
        return [title, node("p", words, role="status"), _whole(part)], ()
    above, below, drawn = found.value
    shown = f"{part.wish}/{seen.look}/{viewer.system}/{viewer.scheme}/{viewer.touch}/{viewer.columns}"
    if viewer.charts and viewer.have.get("look") != shown:
        message["figures"]["look"] = {"key": shown, "figure": drawn, "live": {"x": [], "y": []}}
    return [title, *above], below


def _whole(part: Part) -> Node:
    return node("p", button(labels.MOVES["whole"], "", also=Part(part.path).wish))


def buttons(part: Part, frame: pd.DataFrame) -> list[Node | None]:
    """The part in words, and the buttons that move it."""
    seconds = float(frame.attrs["seconds"])
    end = seconds if part.end is None else min(part.end, seconds)
    width, moves = end - part.begin, []
    for to, name in labels.MOVES.items():
        there = part.moved(to, seconds)
        moves.append(button(name, "", also=(there or part).wish, disabled=there is None))
    shown = labels.part_shown(*(clock(at, width) for at in (part.begin, end, seconds)))
    return [
        node("p", shown, role="status"),
        node("div", *moves, class_="choice look-moves", role="group", aria_label=labels.MOVE_PART),
    ]


def figures(frame: pd.DataFrame, system: str) -> list[Node | None]:
    """Lowest and highest values of the part, and the marks in it."""
    from frothline.web.pages.notebook import look_chart  # noqa: PLC0415  a second to load

    rows = [(title, f"{low} {unit}", f"{high} {unit}") for title, low, high, unit in look_chart.extremes(frame, system)]
    marks = frame.attrs["marks"]
    listed = [
        node("li", f"{running_time(mark['time'])} {labels.mark(mark['kind'], mark['text'])}") for mark in marks[:MARKS]
    ]
    return [
        table(labels.EXTREMES, labels.EXTREME_HEADS, rows, name="look") if rows else node("p", labels.NO_SERIES),
        node("ul", *listed, class_="look-marks") if listed else None,
        node("p", labels.more_marks(len(marks) - MARKS)) if len(marks) > MARKS else None,
    ]


def clock(at: float, width: float) -> str:
    """A time of the recording, with hundredths of a second in a part that is shorter than a minute."""
    hundredths = round(100 * at)
    return running_time(hundredths / 100) + (f".{hundredths % 100:02d}" if width < 60.0 else "")
