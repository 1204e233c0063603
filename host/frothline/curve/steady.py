"""Detection of steady stretches of pressure and flow, by the same code live and from a recording.

``OnlineSteady`` collects samples in blocks and blocks in stretches; ``steadiness_test`` has the tests and their
sources.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite, nan, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frothline.curve.steadiness_test import (
    WARMING,
    Block,
    SteadySettings,
    channels,
    drift_words,
    settled,
    slope_of,
    trend_statistic,
)
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import InputError
from frothline.estimate import NOT_CALIBRATED
from frothline.numerics.arrays import spread
from frothline.numerics.autocorrelation import mean_of

State = Literal["unsteady", "settling", "steady", "drifting"]


@dataclass(frozen=True)
class Refusal:
    """A stretch that gave no point: from ``start`` to ``end`` (s), with the reason as text."""

    start: float
    end: float
    reason: str

    def __iter__(self) -> Iterator[float | str]:
        """Unpack as (start, end, reason)."""
        return iter((self.start, self.end, self.reason))


@dataclass(frozen=True)
class SteadyReport:
    points: tuple[SteadyPoint, ...]
    refused: tuple[Refusal, ...]


@dataclass(frozen=True)
class SteadyState:
    """The current state. ``progress`` is 0 to 1 while a stretch becomes long enough for a point."""

    state: State
    progress: float
    reason: str
    time: float  # s, end of the last whole block
    pressure: float  # Pa, mean of the stretch so far
    flow: float  # m3/s
    finished: SteadyPoint | None = None  # the point completed by the last samples, returned once


class OnlineSteady:
    """Steadiness detector fed with samples; returns ``SteadyState``.

    ``points`` and ``refused`` collect complete results. A point is complete when the line moves, when the stretch
    reaches ``settings.longest`` or on ``finish()``.
    """

    def __init__(self, settings: SteadySettings | None = None, source: int = 0) -> None:
        self.settings = settings or SteadySettings()
        self.source = source
        self.points: list[SteadyPoint] = []
        self.refused: list[Refusal] = []
        self._pending: list[NDArray[np.float64]] = []  # rows: time, p, q, then the channels of ``_names``
        self._names: tuple[str, ...] = ()
        self._edge = nan  # start of the block being filled
        self._blocks: list[Block] = []
        self._hold: list[Block] = []  # since the last movement by hand, across stretches
        self._was_steady = False
        self._last = SteadyState("unsteady", 0.0, "waiting for readings", nan, nan, nan)

    @property
    def state(self) -> SteadyState:
        return self._last

    def feed(self, time: ArrayLike, pressure: ArrayLike, flow: ArrayLike, **more: ArrayLike) -> SteadyState:
        """Samples in order of time: s, Pa, m3/s, each (n,) or a number; NaN where unknown.

        ``more``: ``u_pressure``, ``u_flow`` (standard uncertainty common to the samples), ``mass_flow``,
        ``line_temperature``, ``ambient_density``, ``u_ambient_density``, ``stopped`` (rotor at rest), ``unseen`` (no
        rotor pulse so far), ``uncalibrated`` (flow element without calibration), and for each common error that is
        known by name ``common pressure <name>`` with ``common flow <name>``, the effect of one standard uncertainty of
        it on the two; the same names in every call. Raises InputError if arrays differ in length or names change.
        """
        names = tuple(sorted(more))
        if self._names and names != self._names:
            raise InputError(f"channels changed from {self._names} to {names}", where="OnlineSteady.feed")
        self._names = names
        columns = [np.atleast_1d(np.asarray(item, dtype=np.float64)) for item in (time, pressure, flow)]
        columns += [spread(np.asarray(more[name], dtype=np.float64), columns[0].shape) for name in names]
        if any(len(column) != len(columns[0]) for column in columns):
            raise InputError("time, pressure and flow differ in length", where="OnlineSteady.feed")
        rows = np.stack(columns, axis=1)
        finished: SteadyPoint | None = None
        if len(rows):
            if not isfinite(self._edge):
                self._edge = float(rows[0, 0])
            number = np.floor((rows[:, 0] - self._edge) / self.settings.block + 1e-9).astype(np.int64)
            cuts = (np.flatnonzero(number[1:] != number[:-1]) + 1).tolist()
            origin, current = self._edge, 0
            for begin, stop in pairwise([0, *cuts, len(rows)]):
                ahead = int(number[begin])
                if ahead != current:  # the block being filled is complete
                    finished = self._complete() or finished
                    if ahead > current + 2:
                        finished = self._break("no readings") or finished
                    current = ahead
                    self._edge = origin + current * self.settings.block
                self._pending.append(rows[begin:stop])
        if finished is not None:
            self._last = _with_finished(self._last, finished)
        elif self._last.finished is not None:
            self._last = _with_finished(self._last, None)
        return self._last

    def finish(self) -> SteadyPoint | None:
        """End of the samples: close the open stretch and return its point, if there is one."""
        self._complete()
        return self._close()

    # -- blocks ---------------------------------------------------------------------------------------------------

    def _complete(self) -> SteadyPoint | None:
        if not self._pending:
            return None
        rows = np.concatenate(self._pending)
        self._pending = []
        end = self._edge + self.settings.block
        p, q = rows[:, 1], rows[:, 2]
        more = {name: rows[:, 3 + i] for i, name in enumerate(self._names)}
        stopped = more.get("stopped", np.zeros(len(p))) > 0.5
        known = np.isfinite(p) & np.isfinite(q)
        if known.sum() < max(1, len(p) // 2):
            unseen = more.get("unseen", np.zeros(len(p))) > 0.5
            what = (
                "no pulse from the rotor"
                if unseen.any()
                else "the anemometer does not turn"
                if stopped.any()
                else "pressure or flow is not known"
            )
            finished = self._break(what)
            self._last = SteadyState("unsteady", 0.0, what, end, nan, nan)
            return finished
        block = Block(self._edge, end, p[known], q[known], {name: item[known] for name, item in more.items()})
        return self._consider(block)

    def _consider(self, block: Block) -> SteadyPoint | None:
        s = self.settings
        finished: SteadyPoint | None = None
        self._keep_hold(block)
        moved = self._stepped(block)
        if moved:
            finished = self._break(f"{moved} moved")
            self._hold = self._hold[-1:]
        self._blocks.append(block)
        window = self._blocks[-s.window :]
        progress = min(1.0, len(window) / s.window)
        if len(window) < s.window:
            state: State = "unsteady" if moved or len(window) < 3 else "settling"
            self._say(state, progress, f"{moved} moved" if moved else "hold still")
            return finished
        trending = self._trending(window)
        if trending and self._was_steady:
            # the change began some blocks ago; these belong to the next stretch
            back = min(s.window // 2, max(len(self._blocks) - s.window, 1))
            later = self._blocks[-back:]
            self._blocks = self._blocks[:-back]
            finished = self._break(f"{trending} is moving", cut=0)
            self._blocks = later
            self._say("unsteady", len(later) / s.window, f"{trending} is moving")
        elif trending:
            self._blocks = window[1:]
            self._say("unsteady", 0.5, f"{trending} is moving")
        else:
            self._was_steady = True
            drift = self._drifting(self._blocks)
            self._say("drifting" if drift else "steady", 1.0, drift or "steady")
            if block.end - self._blocks[0].start >= s.longest:
                finished = self._close()
        return finished

    def _keep_hold(self, block: Block) -> None:
        recent = self._hold[-self.settings.window :]
        for _, values, floor in channels([*recent, block], self.settings):
            level = float(values[:-1].mean()) if len(recent) else 0.0
            if recent and abs(float(values[-1]) - level) > max(2 * self.settings.gross * abs(level), 4 * floor):
                self._hold = []
                break
        self._hold.append(block)
        del self._hold[: -round(2 * self.settings.longest / self.settings.block)]

    def _drifting(self, blocks: list[Block]) -> str:
        """Text if the stretch, or the hold it is part of, drifts slowly.

        Turbulence splits a long hold into stretches that are each too short to show the drift of the hold.
        """
        found = drift_words(blocks, self.settings) if len(blocks) >= self.settings.window else ""
        long = self._hold[-1].end - self._hold[0].start > WARMING if self._hold else False
        return found or (drift_words(self._hold, self.settings) if long else "")

    def _say(self, state: State, progress: float, reason: str) -> None:
        held = self._blocks
        p = float(np.mean([block.mean_p for block in held])) if held else nan
        q = float(np.mean([block.mean_q for block in held])) if held else nan
        self._last = SteadyState(state, progress, reason, held[-1].end if held else nan, p, q)

    def _stepped(self, block: Block) -> str:
        if len(self._blocks) < 3:
            return ""
        for word, values, floor in channels([*self._blocks[-2 * self.settings.window :], block], self.settings):
            recent, new = values[:-1], float(values[-1])
            # from successive differences, so that a slow trend does not hide a step
            noise = sqrt(float(np.mean(np.diff(recent) ** 2)) / 2)
            # few blocks determine the noise badly: approximately Student's factor at the same two-sided risk
            factor = self.settings.step * (1 + 6 / len(recent))
            level = float(recent.mean())
            if abs(new - level) > max(factor * noise, self.settings.negligible * abs(level), floor):
                return word
        return ""

    def _trending(self, window: list[Block]) -> str:
        for word, values, floor in channels(window, self.settings):
            if trend_statistic(values) > self.settings.trend:
                slope, u = slope_of(values)
                third = len(values) // 3
                ends = abs(float(values[-third:].mean() - values[:third].mean()))
                change, level = max(abs(slope) * len(values), ends), abs(float(values.mean()))
                unexplained = min(self.settings.trend * u * len(values), self.settings.gross * level)
                if change > max(self.settings.negligible * level, floor, unexplained):
                    return word
        return ""

    # -- stretches ------------------------------------------------------------------------------------------------

    def _break(self, reason: str, cut: int = 1) -> SteadyPoint | None:
        """End of the stretch; the last ``cut`` blocks may already have been moving."""
        finished = self._close(cut) if self._was_steady else None
        if not self._was_steady and len(self._blocks) >= 2 * self.settings.window // 3:
            self.refused.append(Refusal(self._blocks[0].start, self._blocks[-1].end, f"{reason} before it was steady"))
        self._blocks = []
        self._was_steady = False
        return finished

    def _close(self, cut: int = 0) -> SteadyPoint | None:
        blocks, was_steady = self._blocks, self._was_steady
        self._blocks, self._was_steady = [], False
        if not was_steady:
            return None
        if cut and len(blocks) - cut >= self.settings.window:
            blocks = blocks[:-cut]
        blocks = settled(blocks, self.settings)
        drift = self._drifting(blocks)
        if drift:
            self.refused.append(Refusal(blocks[0].start, blocks[-1].end, drift))
            return None
        point = _point(blocks, self.settings, self.source)
        self.points.append(point)
        return point


def find_steady(
    time: ArrayLike,
    pressure: ArrayLike,
    flow: ArrayLike,
    u_pressure: ArrayLike | None = None,
    u_flow: ArrayLike | None = None,
    *,
    settings: SteadySettings | None = None,
    common: Mapping[str, tuple[ArrayLike, ArrayLike]] | None = None,
    source: int = 0,
    **more: ArrayLike,
) -> SteadyReport:
    """All steady points of a recording: s, Pa, m3/s at 1.2 kg/m3, each (n,), NaN where unknown.

    ``u_pressure`` and ``u_flow`` are standard uncertainties common to the samples (sensor, calibration); they become
    the common errors "pressure sensor" and "flow sensor". ``common`` replaces the two: it names each common error with
    the effect of one standard uncertainty of it on pressure and flow. The random part comes from the samples
    themselves.
    ``more`` as for ``OnlineSteady.feed``.
    Raises InputError if arrays differ in length.
    """
    finder = OnlineSteady(settings, source)
    if common is not None:
        for name, (on_pressure, on_flow) in common.items():
            more[f"common pressure {name}"] = on_pressure
            more[f"common flow {name}"] = on_flow
    else:
        if u_pressure is not None:
            more["u_pressure"] = u_pressure
        if u_flow is not None:
            more["u_flow"] = u_flow
    finder.feed(time, pressure, flow, **more)
    finder.finish()
    return SteadyReport(tuple(finder.points), tuple(finder.refused))


def _with_finished(state: SteadyState, finished: SteadyPoint | None) -> SteadyState:
    return SteadyState(state.state, state.progress, state.reason, state.time, state.pressure, state.flow, finished)


def _point(blocks: list[Block], settings: SteadySettings, source: int) -> SteadyPoint:
    p = np.concatenate([block.p for block in blocks])
    q = np.concatenate([block.q for block in blocks])
    more = {name: np.concatenate([block.more[name] for block in blocks]) for name in blocks[0].more}
    mean = mean_of(np.stack([p, q], axis=1))
    u_p, u_q = (sqrt(float(v)) if v >= 0 else inf for v in np.diag(mean.covariance))
    notes: list[str] = []
    if "stopped" in more and float(np.mean(more["stopped"])) > 0.5:
        notes.append("the anemometer did not turn: the flow is below its start-up flow")
    if "uncalibrated" in more and bool(np.any(more["uncalibrated"] > 0.5)):
        notes.append(NOT_CALIBRATED)
    for word, values, floor in channels(blocks, settings):
        slope, u = slope_of(values)
        if abs(slope) > settings.trend * u and abs(slope) * len(values) > floor / 2:
            # uncertainty of a slow change within the stretch: rectangular over the change
            extra = abs(slope) * len(values) / sqrt(12)
            u_p, u_q = (sqrt(u_p**2 + extra**2), u_q) if word == "pressure" else (u_p, sqrt(u_q**2 + extra**2))
            notes.append(
                f"{word} drifted by {100 * slope * len(values) / float(values.mean()):+.2f} % within the stretch"
            )
    common = [
        CommonError("pressure sensor", _known_mean(more["u_pressure"]), 0.0) if "u_pressure" in more else None,
        CommonError("flow sensor", 0.0, _known_mean(more["u_flow"])) if "u_flow" in more else None,
    ]
    common += [
        CommonError(name, _known_mean(item), _known_mean(more[f"common flow {name}"]))
        for key, item in more.items()
        if (name := key.removeprefix("common pressure ")) != key
    ]
    return SteadyPoint.from_parts(
        pressure=float(mean.value[0]),
        flow=float(mean.value[1]),
        random=(u_p, u_q, float(mean.covariance[0, 1])),
        common=[part for part in common if part is not None and isfinite(part.on_pressure + part.on_flow)],
        start=blocks[0].start,
        end=blocks[-1].end,
        mass_flow=_known_mean(more.get("mass_flow")),
        line_temperature=_known_mean(more.get("line_temperature")),
        ambient_density=_known_mean(more.get("ambient_density")),
        u_ambient_density=_known_mean(more.get("u_ambient_density")),
        n=mean.n,
        n_effective=float(mean.n_effective.min()),
        source=source,
        notes=tuple(notes),
    )


def _known_mean(values: NDArray[np.float64] | None) -> float:
    """Mean of the known values; a slow channel has no value at some samples."""
    if values is None or not np.any(np.isfinite(values)):
        return nan
    return float(np.nanmean(values))
