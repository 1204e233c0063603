"""Base of guided calibrations: a state machine for command line and page.

All transitions:

    ASK     answer(...)   -> HOLD      the point is set and its value entered
    HOLD    feed(...)     -> CHOOSE    the signal was steady long enough (or stop() ends a timed filling)
    HOLD    feed(...)     -> HOLD      the signal moved: the collected stretch is discarded, see ``prompt.problem``
    HOLD    feed(...)     -> CHOOSE    the point contradicts an earlier one and is refused, see ``prompt.problem``
                                       (or ASK without any point)
    HOLD    cancel()      -> ASK
    CHOOSE  again()       -> ASK       one more point
    CHOOSE  drop(i)       -> CHOOSE    (or ASK without any point)
    CHOOSE  finish(...)   -> DONE      the calibration is complete; on an unusable line it raises and stays

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
    """One figure entered by the user, SI; ``quantity`` is the key of ``units`` for its unit on the screen."""

    name: str
    words: str
    quantity: str
    low: float
    high: float
    default: float | None = None


@dataclass(frozen=True)
class Prompt:
    """What to show now. ``say`` is one sentence in large type; ``progress`` is 0 to 1 during a hold."""

    stage: Stage
    title: str
    say: str
    questions: tuple[Question, ...]
    progress: float
    points: int
    problem: str


REMARKABLE_WIDENING = 1.2  # times the stated width; a remark is added from here on


@dataclass(frozen=True)
class Point:
    """Reading ``x`` and reference ``y`` with standard uncertainties; ``note`` describes the setting."""

    x: float
    u_x: float
    y: float
    u_y: float
    note: str = ""


@dataclass
class Procedure:
    """Base of the guided procedures. A subclass gives the texts, the questions and ``reference``."""

    who: str = ""
    board: str = ""
    expected: Line | None = field(default=None, kw_only=True)  # the data sheet's line, if there is one
    stage: Stage = field(default=Stage.ASK, init=False)
    points: list[Point] = field(default_factory=list, init=False)
    answers: dict[str, float] = field(default_factory=dict, init=False)
    problem: str = field(default="", init=False)
    _time: list[Floats] = field(default_factory=list, init=False)
    _value: list[Floats] = field(default_factory=list, init=False)
    _state: dict[str, list[Floats]] = field(default_factory=dict, init=False)

    # Overridden by a subclass.
    title = ""
    channel = ""
    unit = ""
    how = ""
    hold_seconds = 5.0
    fewest = 2
    follows: ClassVar[tuple[str, ...]] = ()  # series whose mean over the hold is an input of the reference
    timed = False  # the user ends the hold with stop()

    # --- overridden by a subclass ---------------------------------------------------------------------------------

    def questions(self) -> tuple[Question, ...]:
        """Questions before the next point."""
        return ()

    def say(self) -> str:
        """Instruction for the next point."""
        raise NotImplementedError

    def reference(self, answers: Figures, state: Figures, seconds: float) -> tuple[float, float]:
        """True value of the point and its own standard uncertainty, without errors common to all points.

        ``state`` has the means of the followed series, and as ``u_<name>`` their systematic standard uncertainties;
        ``seconds`` is the length of the hold.
        """
        raise NotImplementedError

    def shared(self) -> tuple[float, float]:
        """Standard uncertainty common to all points: absolute in ``unit``, and relative."""
        return 0.0, 0.0

    def fitted(self) -> tuple[Fit, Fit | None, str]:
        """The line through the points, the order not chosen, and the reason."""
        x, ux, y, uy = (np.array([getattr(p, key) for p in self.points]) for key in ("x", "u_x", "y", "u_y"))
        chosen = choose_order(x, y, ux, uy)
        return chosen.fit, chosen.rival, chosen.reason

    def refuse(self, point: Point) -> str:
        """Reason why this point is refused; empty if it is accepted."""
        return refuse_point(self.channel, self.unit, self.points, point, self.expected)

    def line(self) -> tuple[Fit, Fit | None, str, str]:
        """The line through the points, the order not chosen, the reason, and why it is refused (empty if it is not)."""
        fit, rival, reason = self.fitted()
        return fit, rival, reason, refuse_line(self.channel, self.unit, self.points, fit, self.expected)

    # --- the machine ----------------------------------------------------------------------------------------------

    def prompt(self) -> Prompt:
        """What to show now."""
        words = {
            Stage.ASK: self.say(),
            Stage.HOLD: "Press stop when the bag is full." if self.timed else "Hold the setting.",
            Stage.CHOOSE: f"{len(self.points)} of at least {self.fewest} points. Another one, or finish?",
            Stage.DONE: "Done.",
        }[self.stage]
        questions = self.questions() if self.stage is Stage.ASK else ()
        held = 0.0 if self.timed else min(1.0, self._seconds() / self.hold_seconds)
        progress = held if self.stage is Stage.HOLD else 0.0
        return Prompt(self.stage, self.title, words, questions, progress, len(self.points), self.problem)

    @property
    def held_seconds(self) -> float:
        """Length of the present hold, s; 0 without one."""
        return self._seconds() if self.stage is Stage.HOLD else 0.0

    def answer(self, **values: float) -> None:
        """Figures entered by the user, SI. InputError names one that is missing or out of range."""
        self._must_be(Stage.ASK)
        given = dict(self.answers)
        for question in self.questions():
            value = values.pop(question.name, question.default)
            if value is None:
                raise InputError(f"enter the {question.words}", where=self.title)
            if not (math.isfinite(value) and question.low <= value <= question.high):
                raise InputError(
                    f"{question.words} of {value:g} is outside {question.low:g} to {question.high:g} (SI)",
                    where=self.title,
                    remedy="Check the unit",
                )
            if question.quantity == "count" and value != round(value):
                raise InputError(f"{question.words} is {value:g}, and must be a whole number", where=self.title)
            given[question.name] = float(value)
        if values:
            raise InputError(f"unknown: {', '.join(sorted(values))}", where=self.title)
        self.answers = given
        self._clear()
        self.problem = ""
        self.stage = Stage.HOLD

    def feed(self, signals: Mapping[str, Signal], series: Mapping[str, Series]) -> None:
        """The latest batch; ignored outside HOLD."""
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
        """End a timed hold; ``seconds`` by a stopwatch take precedence over the board's clock."""
        self._must_be(Stage.HOLD)
        if not self.timed:
            raise InputError("this hold ends automatically", where=self.title)
        self._take(self._seconds() if seconds is None else seconds)

    def cancel(self) -> None:
        """Leave the hold and set the point again."""
        self._must_be(Stage.HOLD)
        self._clear()
        self.stage = Stage.ASK

    def again(self) -> None:
        """Ask for one more point."""
        self._must_be(Stage.CHOOSE)
        self.stage = Stage.ASK

    def drop(self, index: int = -1) -> None:
        """Discard a point."""
        self._must_be(Stage.CHOOSE)
        if not -len(self.points) <= index < len(self.points):
            raise InputError(f"unknown point {index}", where=self.title)
        del self.points[index]
        self.stage = Stage.CHOOSE if self.points else Stage.ASK

    def finish(self, date: str = "") -> ChannelCalibration:
        """Make the calibration. Raises FitError and changes nothing where the points give no usable line."""
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
                f"not saved: {refused}",
                where=self.title,
                remedy="Drop the point that is wrong and take it again; the calibration in use does not change",
            )
        made = self.calibration(fit, rival, reason, date or dt.datetime.now(dt.UTC).date().isoformat())
        self.stage = Stage.DONE
        return made

    def apply(self, calibration: Calibration, date: str = "") -> Calibration:
        """Finish, and return a copy of ``calibration`` with the result."""
        return calibration.with_channel(self.finish(date))

    def calibration(self, fit: Fit, rival: Fit | None, reason: str, date: str) -> ChannelCalibration:
        """The fit with all entries of the calibration file."""
        x = np.array([p.x for p in self.points])
        wider = widening(fit.chi_square, fit.dof)
        covariance, remarks = fit.covariance * wider**2, []
        if fit.dof > 0 and fit.chi_square > fit.dof:
            remarks.append(f"scatter is {math.sqrt(fit.chi_square / fit.dof):.1f}× the stated uncertainty")
        if wider > REMARKABLE_WIDENING:
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
            self.problem = "No signal during the hold: check that the sensor is fitted and the stream is running."
            self._clear()
            return
        moved = _moved(values)
        if moved and not self.timed:
            self.problem = "The reading still moves: wait until it is steady; it is then taken automatically."
            self._clear()
            return
        mean = mean_of_stretch(values)
        state = {name: float(np.nanmean(np.concatenate(parts))) for name, parts in self._state.items() if parts}
        absent = [name for name in self.follows if not math.isfinite(state.get(name, math.nan))]
        if absent:
            self.problem = f"{', '.join(absent).replace('_', ' ')} is required here and not measured."
            self._clear()
            return
        try:
            y, u_y = self.reference(self.answers, state, seconds)
        except InputError as error:  # outside the validity of a formula, such as a hole too large for the pipe
            self._not_taken(f"Point not taken: {error}")
            return
        point = Point(mean.value, max(mean.u, 1e-12 * abs(mean.value)), y, u_y, self._note())
        refused = self.refuse(point)
        if refused:
            self._not_taken(refused)
            return
        self.points.append(point)
        self.problem = "The reading moved during the hold; the mean is used." if moved else ""
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
            raise InputError(f"not possible at {self.stage.value!r}, only at {stage.value!r}", where=self.title)


def _moved(values: Floats) -> bool:
    """True if the means of the first and last third differ by more than five of their standard uncertainties."""
    third = values.size // 3
    first, last = mean_of_stretch(values[:third]), mean_of_stretch(values[-third:])
    apart = abs(last.value - first.value)
    floor = 1e-4 * max(abs(first.value), abs(last.value))
    return bool(apart > max(5 * math.hypot(first.u or 0.0, last.u or 0.0), floor))


def line_through(points: list[Point], order: int) -> Fit:
    """A polynomial of given order through points with errors in both variables."""
    try:
        x, ux, y, uy = (np.array([getattr(p, key) for p in points]) for key in ("x", "u_x", "y", "u_y"))
        return polynomial_both(x, y, ux, uy, order)
    except FitError as trouble:
        trouble.where = trouble.where or "calibration"
        raise
