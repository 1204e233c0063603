"""Base of guided calibrations: a state machine for command line and page.

All transitions are here:

    ASK     answer(...)   -> HOLD      the person has set the point and typed what it is
    HOLD    feed(...)     -> CHOOSE    the signal stood long enough (or stop() ends a timed filling)
    HOLD    feed(...)     -> HOLD      it moved: the collected stretch is thrown away, ``prompt.problem`` says so
    HOLD    feed(...)     -> CHOOSE    the point contradicts an earlier one: it is refused, ``prompt.problem`` says why
                                       (or ASK where there is no point)
    HOLD    cancel()      -> ASK
    CHOOSE  again()       -> ASK       one more point
    CHOOSE  drop(i)       -> CHOOSE    (or ASK where no point is left)
    CHOOSE  finish(...)   -> DONE      the calibration is made; raises, and stays, where the points make no good line

A call in another state raises InputError and changes nothing.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import ClassVar

import numpy as np

from frothline.errors import FitError, InputError, TooFewPoints
from frothline.numerics.arrays import Floats
from frothline.numerics.autocorrelation import mean_of_stretch
from frothline.numerics.scatter import widening
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_check import Line, refuse_line, refuse_point
from frothline.sensors.calibration_file import INPUTS
from frothline.sensors.calibration_fit import Fit, choose_order, polynomial_both
from frothline.sensors.series import Series, Signal

Figures = Mapping[str, float]


class Stage(Enum):
    ASK = "ask"
    HOLD = "hold"
    CHOOSE = "choose"
    DONE = "done"


@dataclass(frozen=True)
class Question:
    """One figure that the person types, SI; ``quantity`` is the key of ``units`` by which it is shown and read."""

    name: str
    words: str
    quantity: str
    low: float
    high: float
    default: float | None = None


@dataclass(frozen=True)
class Prompt:
    """What to show now. ``say`` is one sentence in large type; ``progress`` 0 to 1 while holding."""

    stage: Stage
    title: str
    say: str
    questions: tuple[Question, ...]
    progress: float
    points: int
    problem: str


WORTH_A_WORD = 1.2  # times wider than stated, from which it is said


@dataclass(frozen=True)
class Point:
    """Input and reference with standard uncertainties; ``note`` says what was set."""

    x: float
    u_x: float
    y: float
    u_y: float
    note: str = ""


@dataclass
class Procedure:
    """Base of the guided procedures. A subclass gives the words, the questions and ``reference``."""

    who: str = ""
    board: str = ""
    expected: Line | None = field(default=None, kw_only=True)  # the data sheet's line, where there is one
    stage: Stage = field(default=Stage.ASK, init=False)
    points: list[Point] = field(default_factory=list, init=False)
    answers: dict[str, float] = field(default_factory=dict, init=False)
    problem: str = field(default="", init=False)
    _time: list[Floats] = field(default_factory=list, init=False)
    _value: list[Floats] = field(default_factory=list, init=False)
    _state: dict[str, list[Floats]] = field(default_factory=dict, init=False)

    # What a subclass says of itself.
    title = ""
    channel = ""
    unit = ""
    how = ""
    hold_seconds = 5.0
    fewest = 2
    follows: ClassVar[tuple[str, ...]] = ()  # series whose mean over the hold the reference needs
    timed = False  # the person ends the hold with stop()

    # --- to be given by a subclass --------------------------------------------------------------------------------

    def questions(self) -> tuple[Question, ...]:
        """What to ask before the next point."""
        return ()

    def say(self) -> str:
        """The sentence for the next point."""
        raise NotImplementedError

    def reference(self, answers: Figures, state: Figures, seconds: float) -> tuple[float, float]:
        """True value of the point and its own standard uncertainty (errors that all points share left out).

        ``state`` holds the means of the series that the procedure follows, and as ``u_<name>`` their systematic
        standard uncertainties; ``seconds`` is how long the hold was.
        """
        raise NotImplementedError

    def shared(self) -> tuple[float, float]:
        """Standard uncertainty that all points share: absolute in ``unit``, and relative."""
        return 0.0, 0.0

    def fitted(self) -> tuple[Fit, Fit | None, str]:
        """The line through the points, the order not chosen, and why."""
        x, ux, y, uy = (np.array([getattr(p, key) for p in self.points]) for key in ("x", "u_x", "y", "u_y"))
        chosen = choose_order(x, y, ux, uy)
        return chosen.fit, chosen.rival, chosen.reason

    def refuse(self, point: Point) -> str:
        """Why this point cannot be right; empty where it can."""
        return refuse_point(self.channel, self.unit, self.points, point, self.expected)

    def line(self) -> tuple[Fit, Fit | None, str, str]:
        """The line through the points, the order not chosen, why, and why it must not be used (empty: it may be)."""
        fit, rival, reason = self.fitted()
        return fit, rival, reason, refuse_line(self.channel, self.unit, self.points, fit, self.expected)

    # --- the machine ----------------------------------------------------------------------------------------------

    def prompt(self) -> Prompt:
        """What to show now."""
        words = {
            Stage.ASK: self.say(),
            Stage.HOLD: "Say stop when it is full." if self.timed else "Hold it there.",
            Stage.CHOOSE: f"{len(self.points)} of at least {self.fewest} points. Another one, or finish?",
            Stage.DONE: "Done.",
        }[self.stage]
        questions = self.questions() if self.stage is Stage.ASK else ()
        held = 0.0 if self.timed else min(1.0, self._seconds() / self.hold_seconds)
        progress = held if self.stage is Stage.HOLD else 0.0
        return Prompt(self.stage, self.title, words, questions, progress, len(self.points), self.problem)

    @property
    def held_seconds(self) -> float:
        """How long the present hold is, s; 0 outside one."""
        return self._seconds() if self.stage is Stage.HOLD else 0.0

    def answer(self, **values: float) -> None:
        """The person's figures, SI. InputError names the one that is missing or beyond reason."""
        self._must_be(Stage.ASK)
        given = dict(self.answers)
        for question in self.questions():
            value = values.pop(question.name, question.default)
            if value is None:
                raise InputError(f"{question.words} is needed", where=self.title)
            if not (math.isfinite(value) and question.low <= value <= question.high):
                raise InputError(
                    f"{question.words} of {value:g} is beyond {question.low:g} to {question.high:g} (SI)",
                    where=self.title,
                    remedy="Look at the unit it was typed in",
                )
            if question.quantity == "count" and value != round(value):
                raise InputError(f"{question.words} is {value:g}, and must be a whole number", where=self.title)
            given[question.name] = float(value)
        if values:
            raise InputError(f"nobody asked for {', '.join(sorted(values))}", where=self.title)
        self.answers = given
        self._clear()
        self.problem = ""
        self.stage = Stage.HOLD

    def feed(self, signals: Mapping[str, Signal], series: Mapping[str, Series]) -> None:
        """The newest batch; outside HOLD it is passed over."""
        if self.stage is not Stage.HOLD:
            return
        signal = signals.get(self.channel)
        if signal is not None:
            good = np.isfinite(signal.value)
            self._time.append(signal.time[good])
            self._value.append(signal.value[good])
        for name in self.follows:
            if name in series:
                one = series[name]
                self._state.setdefault(name, []).append(one.value)
                self._state.setdefault(f"u_{name}", []).append(one.u_systematic if one.u_systematic.size else one.u)
        if not self.timed and self._seconds() >= self.hold_seconds:
            self._take(self._seconds())

    def stop(self, seconds: float | None = None) -> None:
        """Ends a timed hold; ``seconds`` by a stopwatch go before those by the board's clock."""
        self._must_be(Stage.HOLD)
        if not self.timed:
            raise InputError("this hold ends by itself", where=self.title)
        self._take(self._seconds() if seconds is None else seconds)

    def cancel(self) -> None:
        """Leave the hold and set the point again."""
        self._must_be(Stage.HOLD)
        self._clear()
        self.stage = Stage.ASK

    def again(self) -> None:
        """One more point."""
        self._must_be(Stage.CHOOSE)
        self.stage = Stage.ASK

    def drop(self, index: int = -1) -> None:
        """Throw a point away."""
        self._must_be(Stage.CHOOSE)
        if not -len(self.points) <= index < len(self.points):
            raise InputError(f"there is no point {index}", where=self.title)
        del self.points[index]
        self.stage = Stage.CHOOSE if self.points else Stage.ASK

    def finish(self, date: str = "") -> ChannelCalibration:
        """Make the calibration. FitError, and nothing changes, where the points give no line that may be used."""
        self._must_be(Stage.CHOOSE)
        if len(self.points) < self.fewest:
            raise TooFewPoints(
                f"{len(self.points)} points; {self.title} needs at least {self.fewest}",
                where=self.title,
                remedy="Take another point, far from the others",
            )
        fit, rival, reason, refused = self.line()
        if refused:
            raise FitError(
                f"not kept: {refused}",
                where=self.title,
                remedy="Drop the point that is wrong and take it again; the calibration in use stays",
            )
        made = self.calibration(fit, rival, reason, date or dt.datetime.now(dt.UTC).date().isoformat())
        self.stage = Stage.DONE
        return made

    def apply(self, calibration: Calibration, date: str = "") -> Calibration:
        """Finish, and give the calibration with what was found put in."""
        return calibration.with_channel(self.finish(date))

    def calibration(self, fit: Fit, rival: Fit | None, reason: str, date: str) -> ChannelCalibration:
        """The fit with everything that a reader of the file must know."""
        x = np.array([p.x for p in self.points])
        wider = widening(fit.chi_square, fit.dof)
        covariance, remarks = fit.covariance * wider**2, []
        if fit.dof > 0 and fit.chi_square > fit.dof:
            remarks.append(f"points scatter {math.sqrt(fit.chi_square / fit.dof):.1f} times what was said of them")
        if wider > WORTH_A_WORD:
            remarks.append(
                f"{len(self.points)} points leave the scatter uncertain: the interval is {wider:.1f} times that of "
                "their stated uncertainties; more points narrow it"
            )
        absolute, relative = self.shared()
        return ChannelCalibration(
            channel=self.channel,
            input=INPUTS[self.channel][0],
            unit=self.unit,
            coefficients=fit.coefficients,
            covariance=covariance,
            low=float(x.min()),
            high=float(x.max()),
            rival=None if rival is None else rival.coefficients,
            systematic=absolute,
            relative_systematic=relative,
            date=date,
            who=self.who,
            how=self.how,
            board=self.board,
            residuals=tuple(float(r) for r in fit.residuals),
            points=tuple((p.x, p.u_x, p.y, p.u_y) for p in self.points),
            reason=reason,
            remarks=tuple(remarks),
            pulses_per_revolution=round(self.answers.get("pulses", 0.0)),
        )

    # --- inside ---------------------------------------------------------------------------------------------------

    def _take(self, seconds: float) -> None:
        values = np.concatenate(self._value) if self._value else np.empty(0)
        if values.size < 3:
            self.problem = "No signal came while you held: is the sensor fitted and the stream running?"
            self._clear()
            return
        moved = _moved(values)
        if moved and not self.timed:
            self.problem = "It still moves: wait until it stands, then it is taken by itself."
            self._clear()
            return
        mean = mean_of_stretch(values)
        state = {name: float(np.nanmean(np.concatenate(parts))) for name, parts in self._state.items() if parts}
        absent = [name for name in self.follows if not math.isfinite(state.get(name, math.nan))]
        if absent:
            self.problem = f"{', '.join(absent).replace('_', ' ')} must be read for this, and is not."
            self._clear()
            return
        try:
            y, u_y = self.reference(self.answers, state, seconds)
        except InputError as error:  # a figure that no formula covers, such as a hole too large for the pipe
            self._not_taken(f"Point not taken: {error}")
            return
        point = Point(mean.value, max(mean.u, 1e-12 * abs(mean.value)), y, u_y, self._note())
        refused = self.refuse(point)
        if refused:
            self._not_taken(refused)
            return
        self.points.append(point)
        self.problem = "It moved while it was taken; the mean was used." if moved else ""
        self._clear()
        self.stage = Stage.CHOOSE

    def _not_taken(self, why: str) -> None:
        self.problem = why
        self._clear()
        self.stage = Stage.CHOOSE if self.points else Stage.ASK

    def _note(self) -> str:
        return ", ".join(f"{name} {value:g}" for name, value in self.answers.items())

    def _seconds(self) -> float:
        filled = [part for part in self._time if part.size]
        return float(filled[-1][-1] - filled[0][0]) if filled else 0.0

    def _clear(self) -> None:
        self._time, self._value, self._state = [], [], {}

    def _must_be(self, stage: Stage) -> None:
        if self.stage is not stage:
            raise InputError(
                f"this can be done at {stage.value!r}, and it is {self.stage.value!r} now", where=self.title
            )


def _moved(values: Floats) -> bool:
    """Whether the last third of a stretch lies elsewhere than the first, by five of their standard deviations."""
    third = values.size // 3
    first, last = mean_of_stretch(values[:third]), mean_of_stretch(values[-third:])
    apart = abs(last.value - first.value)
    floor = 1e-4 * max(abs(first.value), abs(last.value))
    return bool(apart > max(5 * math.hypot(first.u or 0.0, last.u or 0.0), floor))


def line_through(points: list[Point], order: int) -> Fit:
    """A line of a set order through points with errors in both variables."""
    try:
        x, ux, y, uy = (np.array([getattr(p, key) for p in points]) for key in ("x", "u_x", "y", "u_y"))
        return polynomial_both(x, y, ux, uy, order)
    except FitError as trouble:
        trouble.where = trouble.where or "calibration"
        raise
