"""Steady points of the live readings, the guided sweep that uses them, and the fit of the source curve.

The live thread feeds readings. A worker thread fits, so that a fit never delays them. ``look`` returns a consistent
copy.
"""

from __future__ import annotations

import itertools
import threading
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from frothline.curve.blower import BlowerCurve
from frothline.curve.steady import OnlineSteady
from frothline.errors import FrothlineError
from frothline.readings.steady_input import steady_columns
from frothline.sensors.series import NO_PULSE, Status
from frothline.sweep.generator_guide import STATES, WET, GeneratorSweepGuide
from frothline.sweep.guide import GuideReading, SweepGuide
from frothline.sweep.guide_state import GuideState, SteadyProgress
from frothline.sweep.source_guide import SourceSweepGuide

if TYPE_CHECKING:
    from frothline.curve.blower import BlowerFit
    from frothline.curve.steady_points import SteadyPoint
    from frothline.sensors.series import Series

GUIDE_STEP = 0.25  # s of readings between two looks of the guide, also where readings come in larger batches
UNKNOWN = SteadyProgress("unknown", 0.0, "waiting for pressure and flow")


@dataclass(frozen=True)
class LiveSweepView:
    steady: SteadyProgress
    points: tuple[SteadyPoint, ...]
    fit: BlowerFit | None
    refused: str
    fitting: bool
    sweep: GuideState | None
    through: Mapping[str, tuple[SteadyPoint, ...]]


class LiveSweep:
    """The guided sweep of a session. The live thread calls ``feed``, ``gap`` and ``button``; any thread the rest."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self.time = float("nan")  # s, of the newest reading passed to a guide
        self._steady: Any = None
        self._names: tuple[str, ...] = ()  # of the columns fed to it
        self._state = UNKNOWN
        self._points: tuple[SteadyPoint, ...] = ()
        self._guide: SweepGuide | None = None
        self._gathered: tuple[SteadyPoint, ...] = ()  # of the current sweep through a generator
        self._through: dict[str, tuple[SteadyPoint, ...]] = {}  # of finished sweeps, by kind
        self._sweep: GuideState | None = None
        self._fit: BlowerFit | None = None
        self._refused = "no point yet"
        self._fitted: tuple[SteadyPoint, ...] | None = None
        self._work = threading.Event()
        self._closing = False
        self._worker: threading.Thread | None = None
        self._fitting = False

    # --- the sweep --------------------------------------------------------------------------------------------------

    def begin_sweep(self, through: str = "") -> None:
        """Begin a sweep with a new guide and no points. Points belong to the source or, with ``through`` ("dry",
        "wet"), to the generator; these are stored separately, because they are not points of the source's curve.
        """
        with self._lock:
            self._gathered = ()
            if through:
                self._guide = GeneratorSweepGuide(wet=through == WET)
            else:
                self._forget()
                self._guide = SourceSweepGuide()
            self._sweep = self._guide.state()
            self._steady = None

    def end_sweep(self) -> None:
        """End the sweep. A steady stretch that is still open becomes a point; points and fit stay."""
        with self._lock:
            if self._guide is None:
                return
            self._end()
            if self._sweep is not None:
                self._sweep = replace(self._sweep, running=False)

    def _end(self) -> None:
        self._finish()
        guide, self._guide = self._guide, None
        if guide is not None and guide.of in STATES and self._gathered:
            self._through = {**self._through, guide.of: self._gathered}

    @property
    def sweeping(self) -> bool:
        return self._guide is not None

    def button(self) -> None:
        with self._lock:
            if self._guide is not None:
                self._guide.button()

    def redo(self) -> tuple[float, float] | None:
        """Discard the newest captured point of the sweep, so that it is measured again.

        Returns the range of reading times that no longer count, s: from the begin of the point to now. None if there
        is no point to redo.
        """
        with self._lock:
            captured = None if self._guide is None else self._guide.redo()
            if captured is None or self._guide is None:
                return None
            self._finish()
            mine = self._gathered if self._guide.of in STATES else self._points
            gone = [point for point in mine if point.end > captured]
            kept = tuple(point for point in mine if point.end <= captured)
            if self._guide.of in STATES:
                self._gathered = kept
            else:
                self._points = kept
                self._fit = self._fitted = None
                self._refused = "no point yet"
                self._ask_for_fit()
            self._sweep = self._guide.state()
            return min([captured, *(point.start for point in gone)]), self.time

    def clear(self) -> None:
        with self._lock:
            self._forget()
            self._sweep = None if self._guide is None else self._sweep

    def _forget(self) -> None:
        self._points, self._fit, self._fitted = (), None, None
        self._refused = "no point yet"

    # --- readings -------------------------------------------------------------------------------------------------

    def feed(self, found: Mapping[str, Series]) -> bool:
        """Take the next batch, times on the session's clock; True if it ended the sweep."""
        columns = steady_columns(found)
        if columns is None:
            self._guide_without(found)
            return False
        with self._lock:
            if self._steady is not None and tuple(columns) != self._names:
                self._finish()  # another calibration or element has other errors
            if self._steady is None:
                self._steady, self._names = self._new_finder(), tuple(columns)
            for part in _parts(columns["time"]):
                if self._steady is None:  # the guide has discarded what came before
                    self._steady = self._new_finder()
                state = self._steady.feed(**{name: column[part] for name, column in columns.items()})
                self._state = SteadyProgress(state.state, float(state.progress), state.reason)
                self._collect()
                if self._guide is not None and self._guide_on(columns, found, part):
                    return True
        return False

    def _guide_without(self, found: Mapping[str, Series]) -> None:
        """Handle a batch without pressure or flow: the guide names the missing one and ignores presses."""
        with self._lock:
            some = found.get("line_pressure") or found.get("standard_flow")
            if self._guide is not None and some is not None and len(some.time):
                self.time = float(some.time[-1])
                unknown = GuideReading(
                    self.time, np.nan, np.nan, "unknown", 0.0, _missing_words(found), unseen=_unseen(found)
                )
                self._sweep = self._guide.feed(unknown)

    def _new_finder(self) -> Any:
        return OnlineSteady()

    def _guide_on(self, columns: Mapping[str, NDArray[np.float64]], found: Mapping[str, Series], part: slice) -> bool:
        """Pass the newest readings of ``part`` to the guide; True if they ended the sweep."""
        assert self._guide is not None
        newest = slice(max(part.start, part.stop - 20), part.stop)
        q = columns["flow"][newest]
        p = columns["pressure"][newest]
        u_q = found["standard_flow"].u[newest]
        known = np.isfinite(p).any() and np.isfinite(q).any()
        reading = GuideReading(
            time=float(columns["time"][part.stop - 1]),
            pressure=float(np.nanmean(p)) if np.isfinite(p).any() else np.nan,
            flow=float(np.nanmean(q)) if np.isfinite(q).any() else np.nan,
            state=self._state.state,
            progress=self._state.progress,
            reason=self._state.reason if known else _missing_words(found),
            u_flow=float(np.nanmean(u_q)) if np.isfinite(u_q).any() else 0.0,
            unseen=_unseen(found),
        )
        self.time = reading.time
        self._sweep = self._guide.feed(reading)
        if self._guide.anew:
            self._guide.anew = False
            self._steady, self._gathered = None, ()
        if not self._guide.done:
            return False
        self._end()
        return True

    def _finish(self) -> None:
        if self._steady is not None:
            self._steady.finish()
            self._collect()
            self._steady = None

    def _collect(self) -> None:
        fresh = tuple(self._steady.points)
        self._steady.points.clear()  # in a session of days, with no sweep to take them, they would fill the memory
        self._steady.refused.clear()
        if not fresh or self._guide is None:
            return
        if self._guide.of in STATES:
            self._gathered = (*self._gathered, *(point for point in fresh if self._guide.wants(point.flow)))
        else:
            self._points = (*self._points, *fresh)
            self._ask_for_fit()

    def gap(self) -> None:
        """Handle a gap in the readings: close the current hold and restart the finder."""
        with self._lock:
            self._finish()
            self._steady = None
            self._state = UNKNOWN

    # --- the fit ----------------------------------------------------------------------------------------------------

    def _ask_for_fit(self) -> None:
        self._fitting = True
        if self._worker is None:
            self._worker = threading.Thread(target=self._fit_when_asked, name="frothline-fit", daemon=True)
            self._worker.start()
        self._work.set()

    def _fit_when_asked(self) -> None:
        while True:
            self._work.wait()
            self._work.clear()
            if self._closing:
                return
            with self._lock:
                points = self._points
            fit, refused = fit_of(points)
            with self._lock:
                if self._points[: len(points)] == points:  # unless cleared meanwhile
                    self._fit, self._refused, self._fitted = fit, refused, points
                self._fitting = self._work.is_set()

    def close(self) -> None:
        self._closing = True
        self._work.set()
        if self._worker is not None:
            self._worker.join(5.0)

    def look(self) -> LiveSweepView:
        with self._lock:
            return LiveSweepView(
                self._state, self._points, self._fit, self._refused, self._fitting, self._sweep, self._through
            )


def _parts(time: NDArray[np.float64]) -> list[slice]:
    """Slices of at most GUIDE_STEP s, so that the guide sees as much in one large batch as in many small ones."""
    if not len(time):
        return []
    cuts = np.nonzero(np.diff(np.floor((time - time[0]) / GUIDE_STEP)))[0] + 1
    edges = [0, *cuts.tolist(), len(time)]
    return [slice(begin, end) for begin, end in itertools.pairwise(edges)]


def _unseen(found: Mapping[str, Series]) -> bool:
    """Whether the rotor has given no pulse so far."""
    flow = found.get("standard_flow")
    return flow is not None and len(flow.time) > 0 and bool(flow.status[-1] & Status.UNSEEN)


def _missing_words(found: Mapping[str, Series]) -> str:
    """Names pressure or flow, if unknown at the newest samples, with the reason."""
    words = []
    for name, what, sensor in (
        ("line_pressure", "pressure", "the pressure sensor"),
        ("standard_flow", "flow", "the anemometer or the differential pressure sensor"),
    ):
        one = found.get(name)
        if one is None or not len(one.time):
            words.append(f"no {what} is measured: fit {sensor}, or check its plug")
        elif not np.isfinite(one.value[-20:]).any():
            status = int(one.status[-1])
            cause = (
                f"{sensor} is at the end of its range"
                if status & Status.SATURATED
                else f"{NO_PULSE}: open the line until it turns, or check its plug and cable"
                if status & Status.UNSEEN
                else f"no signal from {sensor}: check its plug"
                if status & Status.SILENT
                else f"wait, or check the plug of {sensor}"
            )
            words.append(f"the {what} is not known: {cause}")
    return "; ".join(words)


def fit_of(points: tuple[SteadyPoint, ...]) -> tuple[BlowerFit | None, str]:
    """The blower curve through the points, or the reason why there is none, as text."""
    if not points:
        return None, "no point yet"
    try:
        return BlowerCurve().fit(points), ""
    except FrothlineError as error:
        return None, f"{error.what}. {error.remedy}" if error.remedy else error.what
    except (ArithmeticError, ValueError, np.linalg.LinAlgError) as error:
        return None, f"the fit failed ({error})"
