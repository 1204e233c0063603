"""Timing a bucket of foam with wet hands: under, full, weigh, then a reading of the drained liquid from time to time.

The clock of every step is the session's. One timer for all pages and for the rig's push button, as there is one bucket.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace
from math import isfinite

from frothline.bench.sample import Weighing
from frothline.bench.sizes import read_quantity
from frothline.errors import InputError

OFF, READY, FILLING, WEIGH, DRAIN = "off", "ready", "filling", "weigh", "drain"
READINGS = (60.0, 120.0, 180.0, 300.0, 600.0)  # s after full at which the drained liquid is read
LATE = 0.25  # of the time between two readings by which one may be late before it counts as missed

# What the one large button says; what is asked for in the largest type.
BUTTONS = {READY: "Bucket under", FILLING: "Full", WEIGH: "Weighed", DRAIN: "Note it"}
INSTRUCTIONS = {READY: "bucket under", FILLING: "filling", WEIGH: "strike off, weigh", DRAIN: "read the drained liquid"}


@dataclass(frozen=True)
class Timing:
    """Where the timer stands. Times are s of session time, None where the step has not come.

    container, empty, full : as typed;  drained : pairs of s since full and m³
    """

    step: str = OFF
    container: str = ""
    empty: str = ""
    full: str = ""
    depth: str = ""
    under: float | None = None
    filled: float | None = None
    drained: tuple[tuple[float, float], ...] = ()
    recording: str = ""  # the recording that ran when the bucket was full, and how far it was
    recorded: float = 0.0

    @property
    def fill_time(self) -> float | None:
        return None if self.under is None or self.filled is None else self.filled - self.under

    def next_reading(self, now: float) -> float | None:
        """Seconds after full of the reading that comes next, or is due; None when all are done."""
        if self.filled is None:
            return None
        last = self.drained[-1][0] if self.drained else 0.0
        since = now - self.filled
        for at, after in zip(READINGS, (*READINGS[1:], float("inf")), strict=True):
            if at > last + 0.3 * at and since < at + LATE * (after - at):
                return at
        return None

    def weighing(self) -> Weighing:
        """What was read. Raises InputError at the entry that is missing or cannot be read."""
        depth = _read(self.depth, "length", "depth of the foam") if self.depth.strip() else None
        return Weighing(
            container_volume=_read(self.container, "volume", "the bucket holds"),
            empty=_read(self.empty, "mass", "empty"),
            full=_read(self.full, "mass", "full"),
            fill_time=self.fill_time,
            drained=self.drained,
            depth=depth,
        )


class SampleTimer:
    """The timer of a session. All methods may be called from any thread; ``now`` is session time, s."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._at = Timing()

    def look(self) -> Timing:
        return self._at

    def begin(self) -> None:
        """Ready for the bucket; container and its empty mass stay from the last time."""
        with self._lock:
            if self._at.step == OFF:
                self._at = Timing(READY, self._at.container, self._at.empty, depth=self._at.depth)

    def end(self) -> None:
        with self._lock:
            self._at = replace(self._at, step=OFF)

    def press(self, now: float, typed: dict[str, str], recording: str = "", recorded: float = 0.0) -> str:
        """The large button, with what stands in the fields; gives words to show. Raises InputError for a reading that
        cannot be read; the step then stays.
        """
        with self._lock:
            at = self._at = self._with(typed)
            if at.step == READY:
                self._at = replace(at, step=FILLING, under=now, filled=None, full="", drained=())
                return ""
            if at.step == FILLING:
                self._at = replace(at, step=WEIGH, filled=now, recording=recording, recorded=recorded)
                return ""
            if at.step == WEIGH:
                at.weighing().check()
                self._at = replace(at, step=DRAIN)
                return "weighed"
            if at.step == DRAIN:
                return self._note(now, typed.get("drained", ""))
            return ""

    def push(self, now: float, recording: str = "", recorded: float = 0.0) -> None:
        """The rig's own button: it can do what needs no figures."""
        if self._at.step in {READY, FILLING}:
            self.press(now, {}, recording, recorded)

    def _with(self, typed: dict[str, str]) -> Timing:
        at = self._at
        return replace(
            at,
            container=typed.get("container", at.container).strip(),
            empty=typed.get("empty", at.empty).strip(),
            full=typed.get("full", at.full).strip(),
            depth=typed.get("depth", at.depth).strip(),
        )

    def _note(self, now: float, text: str) -> str:
        at = self._at
        assert at.filled is not None
        if not text.strip():
            raise InputError("nothing is written", where="drained", remedy="Write what stands in the glass, like 12 mL")
        written = text.strip()
        volume = read_in(f"{written} mL" if written.replace(",", ".").replace(".", "", 1).isdigit() else written)
        since = now - at.filled
        if at.drained and volume < at.drained[-1][1]:
            raise InputError(
                f"less than at the last reading ({at.drained[-1][1] * 1e6:.0f} mL)",
                where="drained",
                remedy="Write all that has drained since the bucket was full",
            )
        noted = replace(at, drained=(*at.drained, (since, volume)))
        noted.weighing().check()
        self._at = noted
        return f"noted: {volume * 1e6:.0f} mL after {since:.0f} s"


def read_in(text: str) -> float:
    """A volume as typed, m³. Raises InputError."""
    return _read(text, "volume", "drained")


def _read(text: str, kind: str, where: str) -> float:
    if not text.strip():
        raise InputError("nothing is written", where=where, remedy="Write it, with or without its unit")
    try:
        value = read_quantity(text, kind)
    except ValueError as error:
        raise InputError(str(error), where=where) from None
    if not isfinite(value):
        raise InputError(f"“{text}” is no {kind}", where=where)
    return value
