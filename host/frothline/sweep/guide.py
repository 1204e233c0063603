"""What every guided sweep shares: readings, the places they come to, and how a person is led from one to the next.

No thread, no clock and no port here: ``SweepGuide.feed`` is said where the reading stands and says what to do next. It
watches places, not valves: a *place* is a steady reading apart from those before it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from frothline.sweep.guide_state import GuideState

HOLD, STEADY, GO_BACK, DONE = "hold", "steady", "go_back", "done"  # phases of every sweep
REFUSAL_SHOWN = 8.0  # s for which a refused press is explained


@dataclass(frozen=True)
class GuideReading:
    """Where the line stands now: s, Pa, m3/s. ``state`` and ``progress`` as ``curve.SteadyState`` has them; a rotor
    that stands still reads as flow 0.
    """

    time: float
    pressure: float
    flow: float
    state: str
    progress: float
    reason: str = ""
    u_flow: float = 0.0  # standard uncertainty of the flow, what all readings share included
    unseen: bool = False  # the rotor has given no pulse yet: whether it works is not known


@dataclass(frozen=True)
class CapturedPoint:
    pressure: float
    flow: float


class SweepGuide:
    """Feed it readings in order of time; it answers each with a SweepState.

    A guide of one kind of sweep adds a method ``_in_<phase>`` for each of its phases, and says in ``missing`` what a
    fit would lack.
    """

    of = "source"  # what is swept, as in SweepState.of
    words: Mapping[str, str]  # phase -> instruction

    def __init__(self, phase: str, wanted: int) -> None:
        self.places: list[CapturedPoint] = []
        self.phase = phase
        self._wanted = wanted
        self._since: float | None = None  # time at which the phase began
        self._went_back = 0
        self._pressed = False
        self._gap: tuple[float, float] | None = None
        self._why = ""
        self._progress = 0.0
        self._time = 0.0
        self._refused: tuple[float, str] | None = None  # time and words of a press that was refused in this phase
        self.anew = False  # set where what held still so far is no part of the sweep; whoever collects takes it back

    @property
    def done(self) -> bool:
        return self.phase == DONE

    def button(self) -> None:
        """Pressed: this is what was asked for. Taken up by the next reading."""
        self._pressed = True

    def feed(self, now: GuideReading) -> GuideState:
        """What to do at this reading."""
        if self._since is None:
            self._since = now.time
        self._time = now.time
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
            points=len(self.places),
            wanted=max(self._wanted, len(self.places)),
            missing=self.missing() if self.done else (),
            gap=self._gap if self.phase == GO_BACK else None,
            done=self.done,
            running=not self.done,
            of=self.of,
            caution=self._caution(),
        )

    def wants(self, flow: float) -> bool:  # noqa: ARG002  of the source everything is wanted
        """Whether a stretch that held still at ``flow``, m3/s, belongs to what is swept."""
        return True

    def missing(self) -> tuple[str, ...]:
        """What a fit would lack, in words; empty when nothing does."""
        return ()

    def _notice(self, now: GuideReading) -> None:
        """Every reading, known or not, before its phase looks at it."""

    def _instruction(self) -> str:
        return self.words[self.phase]

    def _caution(self) -> str:
        return ""

    def _go(self, phase: str, now: GuideReading, why: str) -> None:
        self.phase, self._since, self._why = phase, now.time, why
        self._refused = None

    def _refuse(self, words: str) -> None:
        """The press is not what was asked for; the words are shown for REFUSAL_SHOWN seconds."""
        self._refused = (self._time, words)

    def _refusal(self) -> str | None:
        """Why the last press was refused, while that is shown."""
        if self._refused is None or self._time - self._refused[0] > REFUSAL_SHOWN:
            return None
        return self._refused[1]

    def _waited(self, now: GuideReading) -> float:
        return now.time - (self._since if self._since is not None else now.time)

    def _wait_for_rest(self, now: GuideReading) -> None:
        """Say what is waited for while a reading is not steady yet."""
        drifting = now.state == "drifting"
        self._why = now.reason or ("the reading drifts: wait" if drifting else "the reading settles")

    def _capture(self, now: GuideReading) -> None:
        self.places.append(CapturedPoint(now.pressure, now.flow))
        n = len(self.places)
        self._go(STEADY, now, f"{n} place{'s' if n > 1 else ''} taken")


def widest_gap(places: Sequence[CapturedPoint], limit: float) -> tuple[float, float] | None:
    """Pressures (lower, upper) in Pa of the widest stretch without a place, if it is wider than ``limit``.

    Widths are counted as shares of the range of flow and of the range of pressure; the larger counts.
    """
    if len(places) < 2:
        return None
    ordered = sorted(places, key=lambda place: place.flow)
    range_q = ordered[-1].flow - ordered[0].flow
    pressures = [place.pressure for place in places]
    range_p = max(pressures) - min(pressures)
    widest, found = limit, None
    for a, b in itertools.pairwise(ordered):
        share_q = (b.flow - a.flow) / range_q if range_q > 0 else 0.0
        share_p = abs(b.pressure - a.pressure) / range_p if range_p > 0 else 0.0
        share = max(share_q, share_p)
        if share > widest:
            widest, found = share, (min(a.pressure, b.pressure), max(a.pressure, b.pressure))
    return found


def too_few(places: Sequence[CapturedPoint], of: str) -> tuple[str, ...]:
    """Words where places are too few for what is fitted to them; ``of`` says what needs them ("a curve needs")."""
    if len(places) >= 5:
        return ()
    return (f"only {len(places)} place{'s' if len(places) > 1 else ''}: {of} at least five",)


def gap_words(places: Sequence[CapturedPoint], limit: float) -> tuple[str, ...]:
    """Where the widest stretch without a place lies, in words a builder says."""
    gap = widest_gap(places, limit)
    if gap is None:
        return ()
    highest = max(place.pressure for place in places)
    middle = 0.5 * (gap[0] + gap[1])
    where = "high" if middle > 0.66 * highest else "low" if middle < 0.33 * highest else "middle"
    return (f"places are missing at {where} pressure",)
