"""Base of all guided sweeps: readings, captured points, and the instruction for the next point.

There is no thread, clock or port here: ``SweepGuide.feed`` takes a reading and returns the next instruction. The guide
has no valve positions. A captured point is a steady reading that differs from all earlier points.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from frothline.sweep.guide_state import CapturedPoint, GuideState

HOLD, STEADY, GO_BACK, DONE = "hold", "steady", "go_back", "done"  # phases of every sweep
REFUSAL_SHOWN = 8.0  # s for which a refused press is explained


@dataclass(frozen=True)
class GuideReading:
    """The present reading: s, Pa, m3/s. ``state`` and ``progress`` as in ``curve.SteadyState``; a stopped rotor reads
    as flow 0.
    """

    time: float
    pressure: float
    flow: float
    state: str
    progress: float
    reason: str = ""
    u_flow: float = 0.0  # standard uncertainty of the flow, with the error common to all readings
    unseen: bool = False  # the rotor has given no pulse yet: its function is unknown


class SweepGuide:
    """Base class of a guide. Feed it readings in order of time; it answers each with a SweepState.

    A subclass adds a method ``_in_<phase>`` for each of its phases, and ``missing`` for what a fit lacks.
    """

    of = "source"  # the swept object, as in SweepState.of
    words: Mapping[str, str]  # phase -> instruction

    def __init__(self, phase: str, wanted: int) -> None:
        self.captured: list[CapturedPoint] = []
        self.phase = phase
        self._wanted = wanted
        self._since: float | None = None  # time at which the phase began
        self._went_back = 0
        self._pressed = False
        self._gap: tuple[float, float] | None = None
        self._why = ""
        self._progress = 0.0
        self._time = 0.0
        self._pressure = self._flow = math.nan  # Pa and m3/s, of the newest reading
        self._refused: tuple[float, str] | None = None  # time and text of a press refused in this phase
        self.anew = False  # set if the steady stretches so far are not part of the sweep; the collector resets it

    @property
    def done(self) -> bool:
        return self.phase == DONE

    def button(self) -> None:
        """Confirm the instruction; the next reading takes the press into account."""
        self._pressed = True

    def feed(self, now: GuideReading) -> GuideState:
        """Take a reading and return the next instruction."""
        if self._since is None:
            self._since = now.time
        self._time, self._pressure, self._flow = now.time, now.pressure, now.flow
        self._notice(now)
        known = math.isfinite(now.pressure) and math.isfinite(now.flow)
        self._progress = 0.0
        if not self.done:
            if known:
                getattr(self, f"_in_{self.phase}")(now)
            else:
                self._why = now.reason or "waiting for pressure and flow"
                if self._pressed:
                    self._refuse(f"not taken: {self._why}. Press again when the reading is back")
        self._pressed = False
        return self.state()

    def state(self) -> GuideState:
        return GuideState(
            phase=self.phase,
            instruction=self._instruction(),
            why=self._why if self._refusal() is None else str(self._refusal()),
            progress=1.0 if self.phase in {STEADY, DONE} else self._progress,
            points=len(self.captured),
            wanted=max(self._wanted, len(self.captured)),
            missing=self.missing() if self.done else (),
            gap=self._gap if self.phase == GO_BACK else None,
            target=self._target(),
            pressure=self._pressure,
            flow=self._flow,
            can_redo=self._can_redo(),
            captured=tuple(self.captured),
            done=self.done,
            running=not self.done,
            of=self.of,
            caution=self._caution(),
        )

    def wants(self, flow: float) -> bool:  # noqa: ARG002  of the source everything is wanted
        """Whether a steady stretch at ``flow``, m3/s, is part of the sweep."""
        return True

    def missing(self) -> tuple[str, ...]:
        """What is missing for a fit, as text; empty if nothing is."""
        return ()

    def _notice(self, now: GuideReading) -> None:
        """Take every reading, known or unknown, before its phase evaluates it."""

    def redo(self) -> float | None:
        """Discard the newest captured point and measure it again; returns the time of its capture, s. None if there is
        no point to redo in this phase.
        """
        if not self._can_redo():
            return None
        discarded = self.captured.pop()
        self._redone()
        self._since, self._refused = self._time, None
        return discarded.time

    def _can_redo(self) -> bool:
        """Whether the newest point can be measured again now."""
        return bool(self.captured) and not self.done

    def _redone(self) -> None:
        """Set the phase in which the discarded point is measured again."""
        self.phase, self._why = HOLD, "measuring this point again: hold while the reading settles"

    def _target(self) -> tuple[float, float] | None:
        """Pressure (lowest, highest) to go to in this phase, Pa; None without one."""
        return None

    def _instruction(self) -> str:
        return self.words[self.phase]

    def _caution(self) -> str:
        return ""

    def _go(self, phase: str, now: GuideReading, why: str) -> None:
        self.phase, self._since, self._why = phase, now.time, why
        self._refused = None

    def _refuse(self, words: str) -> None:
        """Refuse the press; the text is shown for REFUSAL_SHOWN seconds."""
        self._refused = (self._time, words)

    def _refusal(self) -> str | None:
        """The reason of the last refused press, while it is shown."""
        if self._refused is None or self._time - self._refused[0] > REFUSAL_SHOWN:
            return None
        return self._refused[1]

    def _waited(self, now: GuideReading) -> float:
        return now.time - (self._since if self._since is not None else now.time)

    def _wait_for_rest(self, now: GuideReading) -> None:
        """Explain the wait while a reading is not steady yet."""
        drifting = now.state == "drifting"
        self._why = now.reason or ("the reading drifts: wait" if drifting else "the reading settles")

    def _capture(self, now: GuideReading) -> None:
        self.captured.append(CapturedPoint(now.pressure, now.flow, now.time))
        n = len(self.captured)
        self._go(STEADY, now, f"{n} point{'s' if n > 1 else ''} saved")


def middle_of(gap: tuple[float, float]) -> tuple[float, float]:
    """The middle of a gap, Pa, in which a point is not too near to its neighbours."""
    margin = 0.35 * (gap[1] - gap[0])
    return gap[0] + margin, gap[1] - margin


WAY = 1.479  # length of the parabola p = q^2 from q = 0 to 1: sqrt(5)/2 + asinh(2)/4


def next_target(share: float, left: int, width: float) -> tuple[float, float]:
    """Where to take the next of ``left`` points: nearest and farthest share of the pressure.

    The points are evenly spread along a parabola p = q^2, from the newest one to its end.

    ``share`` of the pressure, 0 to 1, at the newest point; ``width`` : half the width of the target, in steps.
    """
    here = way_along(min(max(share, 0.0), 1.0))
    step = (1.0 - here) / max(left, 1)
    return _share(here + (1.0 - width) * step), _share(min(here + (1.0 + width) * step, 1.0))


def way_along(share: float) -> float:
    """Way along the parabola p = q^2 to where the pressure is ``share``, as a share of its length from 0 to 1."""
    q = math.sqrt(share)
    return (0.5 * q * math.sqrt(1.0 + 4.0 * share) + 0.25 * math.asinh(2.0 * q)) / WAY


def _share(way: float) -> float:
    """The inverse of ``way_along``, by bisection; both from 0 to 1."""
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if way_along(middle) < way else (low, middle)
    return 0.5 * (low + high)


def widest_gap(points: Sequence[CapturedPoint], limit: float) -> tuple[float, float] | None:
    """Pressures (lower, upper) in Pa of the widest range without a point, if it is wider than ``limit``.

    Widths are shares of the range of flow and of pressure; the larger share counts.
    """
    if len(points) < 2:
        return None
    ordered = sorted(points, key=lambda point: point.flow)
    range_q = ordered[-1].flow - ordered[0].flow
    pressures = [point.pressure for point in points]
    range_p = max(pressures) - min(pressures)
    widest, found = limit, None
    for a, b in itertools.pairwise(ordered):
        share_q = (b.flow - a.flow) / range_q if range_q > 0 else 0.0
        share_p = abs(b.pressure - a.pressure) / range_p if range_p > 0 else 0.0
        share = max(share_q, share_p)
        if share > widest:
            widest, found = share, (min(a.pressure, b.pressure), max(a.pressure, b.pressure))
    return found


def too_few(points: Sequence[CapturedPoint], of: str) -> tuple[str, ...]:
    """Text if there are too few points for the fit; ``of`` begins it ("a curve needs")."""
    if len(points) >= 5:
        return ()
    return (f"only {len(points)} point{'s' if len(points) > 1 else ''}: {of} at least five",)


def gap_words(points: Sequence[CapturedPoint], limit: float) -> tuple[str, ...]:
    """The widest range without a point, in plain words."""
    gap = widest_gap(points, limit)
    if gap is None:
        return ()
    highest = max(point.pressure for point in points)
    middle = 0.5 * (gap[0] + gap[1])
    where = "high" if middle > 0.66 * highest else "low" if middle < 0.33 * highest else "middle"
    return (f"points are missing at {where} pressure",)
