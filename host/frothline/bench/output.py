"""Foam and solution of a run as it goes, each figure with the interval that is known so far.

Two numbers make foam of air: the share of the air that is caught in bubbles, and how many volumes of caught air come
to one of solution (the expansion ratio less one). Both are kept as normal in their logarithms and start from what is
usual, a wide guess that is said to be one. What is learnt narrows them, as observations with uncertainties of their own
(least squares with prior, JCGM 100:2008 F.1.2): a weighed sample tells the ratio by its density and, where it was
timed, the caught share; a scale under the reservoir tells solution over air.

    Q_foam = η Q_a (1 + 1/r)     Q_solution = η Q_a / r     ρ_foam - ρ_g = (ρ_l - ρ_g)/(1 + r)

Densities are those that a bucket on a scale shows, the last line: the air that foam displaces counts for nothing.

Air counts as the anemometer shows it: a sample taken through the same anemometer carries its error already, so that it
drops out of the foam rate. Volumes are those of the bucket, at ambient pressure; in the line the same foam is smaller
(isothermal, ``physics.foam.expansion_at_pressure``), and what the foam hose holds has not come out yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp, hypot, isfinite, log, nan, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from frothline.estimate import Estimate
from frothline.physics.foam import GAS_DENSITY, SOLUTION_DENSITY, expansion_at_pressure, foam_density

from .generator import USUAL_EXPANSION
from .run_state import DRY, FOAMING, PRIMING, THINNING, UNKNOWN, Output
from .watch.remaining import Range, Remaining

if TYPE_CHECKING:
    from .build import Build
    from .sample import FoamSample
    from .watch.ticks import Tick

Array = NDArray[np.float64]
Z95 = 1.959963984540054

# What is usual before anything was weighed: a factor of two either way at 95 %. Foams in use lie between 35 and 125
# kg/m3, generators catch between a third and all of their air; common practice, no source
USUAL_CAUGHT = 0.6
U_CAUGHT = 0.35  # standard uncertainty of the logarithm
U_RATIO = 0.35
REPEAT = 0.03  # relative: how alike foam is from one sample to the next of a steady run; judgement
FILLED_TO = 0.03  # relative: how well a reservoir is filled to what the sheet says; judgement
FALLS = 4.0  # standard uncertainties by which a scale must have fallen to count
SPAN = 0.005  # relative, of a load cell scale over a few kg, at most; common data sheets
# Share of the air that makes the usual foam, from least to most: priming makes between none and all, thinning most
MAKES: dict[str, Range] = {
    PRIMING: (0.0, 1.0),
    FOAMING: (1.0, 1.0),
    THINNING: (0.4, 1.0),
    UNKNOWN: (1.0, 1.0),
    DRY: (0.0, 0.0),
}
FAULT = "fault"  # beside the phases: what was made while something was wrong

PRIOR = (
    f"no sample of this build yet: {USUAL_CAUGHT:.0%} of the air caught and {USUAL_EXPANSION:.0f} volumes of foam from "
    "one of solution are taken as usual, each good to a factor of two"
)


def spread(value: float, u_log: float, unit: str, *said: str) -> Estimate:
    """A positive figure with a log-normal 95 % interval."""
    half = Z95 * u_log
    return Estimate(value, value * u_log, value * exp(-half), value * exp(half), unit, assumptions=said)


@dataclass(frozen=True)
class Knowledge:
    """Logarithms of caught share and ratio: ``mean`` (2,), ``covariance`` (2, 2)."""

    mean: Array
    covariance: Array

    def along(self, gradient: Sequence[float]) -> float:
        """Standard uncertainty of a logarithm with these derivatives."""
        row = np.asarray(gradient)
        return sqrt(max(float(row @ self.covariance @ row), 0.0))

    @property
    def caught(self) -> float:
        return exp(float(self.mean[0]))

    @property
    def ratio(self) -> float:
        return exp(float(self.mean[1]))


@dataclass(frozen=True)
class Observation:
    """A logarithm that was seen: its derivatives with respect to both, its value, its standard uncertainty."""

    row: tuple[float, float]
    value: float
    u: float


def learn(observations: Sequence[Observation], u_anemometer: float = 0.0) -> Knowledge:
    """What is known after the observations. ``u_anemometer`` relative: it adds to the usual share alone."""
    precision = np.diag([1.0 / (U_CAUGHT**2 + u_anemometer**2), 1.0 / U_RATIO**2])
    vector = precision @ np.array([log(USUAL_CAUGHT), log(USUAL_EXPANSION - 1.0)])
    for seen in observations:
        row = np.array(seen.row)
        precision = precision + np.outer(row, row) / seen.u**2
        vector = vector + row * seen.value / seen.u**2
    covariance = np.linalg.inv(precision)
    return Knowledge(covariance @ vector, covariance)


def observations_of(sample: FoamSample, indicated_air: float | None) -> list[Observation]:
    """What a sample tells; ``indicated_air``: m3/s of free air by the anemometer while the container filled."""
    E = sample.expansion
    seen = [Observation((0.0, 1.0), log(E.value - 1.0), hypot(E.standard_uncertainty / (E.value - 1.0), REPEAT))]
    if sample.output is not None and indicated_air is not None and indicated_air > 0.0:
        caught = sample.output.value * (1.0 - 1.0 / E.value) / indicated_air
        u = hypot(sample.output.standard_uncertainty / sample.output.value, REPEAT)
        seen.append(Observation((1.0, 0.0), log(caught), u))
    elif sample.capture is not None and sample.capture.value > 0.0:
        u = hypot(sample.capture.standard_uncertainty / sample.capture.value, REPEAT)
        seen.append(Observation((1.0, 0.0), log(sample.capture.value), u))
    return seen


@dataclass
class Scale:
    """Solution used, from the mass on a scale: falls add up, a rise is a refill. Medians over a second."""

    used: float = 0.0  # kg
    refilled: float = 0.0
    mass: float = nan
    noise: float = 0.0  # kg, of one reading, by the median deviation
    seconds: int = 0
    _second: list[float] = field(default_factory=list)
    _until: float = nan
    _steps: list[float] = field(default_factory=list)
    rate: float = nan  # kg/s, over the last ten seconds
    _recent: list[tuple[float, float]] = field(default_factory=list)

    def feed(self, time: float, mass: float) -> None:
        if not isfinite(mass):
            return
        if not isfinite(self._until):
            self._until = time + 1.0
        self._second.append(mass)
        if time < self._until:
            return
        mean = float(np.median(self._second))  # a median: a refill in the middle of a second falls to one side
        self.noise = max(1.48 * float(np.median(np.abs(np.array(self._second) - mean))), 1e-4)
        self._second, self._until = [], time + 1.0
        if isfinite(self.mass):
            fall = self.mass - mean
            usual = abs(float(np.median(self._steps))) if self._steps else 0.0
            if fall < -max(6.0 * self.noise, 3.0 * usual, 0.05):
                self.refilled -= fall
                self._recent.clear()
            else:
                self.used += fall
                self._steps = [*self._steps[-29:], fall]
        self.mass = mean
        self.seconds += 1
        self._recent = [*self._recent[-9:], (time, mean)]
        if len(self._recent) >= 4:
            t, m = np.array(self._recent).T
            self.rate = -float(np.polyfit(t - t.mean(), m, 1)[0])

    @property
    def falls(self) -> bool:
        """Whether it has fallen by more than its noise explains."""
        return self.seconds >= 5 and self.used > FALLS * self.noise * 2.0


@dataclass
class Ledger:
    """Adds up a run. Feed it ticks with the phase they belong to and what a fault leaves; ``output`` gives the figures.

    ``air`` is what was measured, ``through`` what of it reached the generator, m3 of free air by phase; ``makes`` is
    the air that made the usual foam, as (middle, half of the range) by phase, with FAULT beside the phases.

    build : for reservoir and foam hose;  load : kg of solution at the beginning, from the sheet if not given
    tare : kg of the empty reservoir on the scale, where it is known
    """

    build: Build | None = None
    load: float | None = None
    tare: float | None = None
    air: dict[str, float] = field(default_factory=lambda: dict.fromkeys(MAKES, 0.0))
    through: dict[str, float] = field(default_factory=lambda: dict.fromkeys(MAKES, 0.0))
    makes: dict[str, tuple[float, float]] = field(default_factory=lambda: dict.fromkeys((*MAKES, FAULT), (0.0, 0.0)))
    scale: Scale = field(default_factory=Scale)
    observations: list[Observation] = field(default_factory=list)
    samples: int = 0
    emptied: bool = False
    u_air: float = 0.02  # relative, systematic, of the anemometer
    _last: float = nan
    _flow: float = nan  # m3/s, smoothed over a second
    _pressure: float = nan
    _ambient: float = 101325.0
    _at_foaming: tuple[float, float] | None = None  # used kg and air m3 when foaming began
    _steady: tuple[float, float] = (0.0, 0.0)  # the same, since then, while it foamed steadily
    _left_by_fault: Remaining = field(default_factory=Remaining)

    def __post_init__(self) -> None:
        if self.load is None and self.build is not None:
            self.load = self.build.reservoir.volume * SOLUTION_DENSITY

    # --- feeding ----------------------------------------------------------------------------------------------------

    def feed(self, tick: Tick, phase: str, left: Remaining | None = None) -> None:
        """``left`` : what a fault leaves of the foam, nothing wrong if not given."""
        left = left or Remaining()
        self._left_by_fault = left
        dt = tick.time - self._last if isfinite(self._last) else 0.0
        self._last = tick.time
        if dt > 1.0:  # a gap in the readings: nothing is known of it, nothing is added
            dt = 0.0
        q = tick.free_air
        if isfinite(q):
            if phase in self.air:
                self._count(q * dt, phase, left)
            self._flow = q if not isfinite(self._flow) else self._flow + (q - self._flow) * min(dt / 1.0, 1.0)
        else:
            self._flow = nan
        if isfinite(tick.pressure):
            self._pressure = (
                tick.pressure
                if not isfinite(self._pressure)
                else self._pressure + (tick.pressure - self._pressure) * dt
            )
        if isfinite(tick.ambient):
            self._ambient = tick.ambient
        self.scale.feed(tick.time, tick.mass)
        if phase == FOAMING and left.whole:
            if self._at_foaming is None:
                self._at_foaming = (self.scale.used, self._made_air)
            self._steady = (self.scale.used - self._at_foaming[0], self._made_air - self._at_foaming[1])
        if phase == DRY and not self.emptied:
            self.emptied = True

    def _count(self, air: float, phase: str, left: Remaining) -> None:
        """``air`` m3 of free air have been measured."""
        self.air[phase] += air
        self.through[phase] += 0.5 * (left.air[0] + left.air[1]) * air
        least, most = (
            own * reached * made for own, reached, made in zip(MAKES[phase], left.air, left.foam, strict=True)
        )
        key = phase if left.whole else FAULT
        middle, half = self.makes[key]
        self.makes[key] = middle + 0.5 * (most + least) * air, half + 0.5 * (most - least) * air

    @property
    def _made_air(self) -> float:
        return self.through[FOAMING] + self.through[THINNING] + self.through[UNKNOWN]

    def add_sample(self, sample: FoamSample, indicated_air: float | None) -> None:
        self.observations += observations_of(sample, indicated_air)
        self.samples += 1

    # --- what is known ----------------------------------------------------------------------------------------------

    @property
    def knowledge(self) -> Knowledge:
        return learn([*self.observations, *self._of_solution()], self.u_air)

    def _of_solution(self) -> list[Observation]:
        """Solution over indicated air, ln κ = ln η - ln r: from the scale, a pump, or the load that is used up."""
        row = (1.0, -1.0)
        if self.scale.falls:
            used, air = self._steady
            if air > 0.0 and used > FALLS * self.scale.noise:
                u = hypot(SPAN, 1.5 * self.scale.noise / used)
                return [Observation(row, log(used / SOLUTION_DENSITY / air), hypot(u, 0.01))]
        pumped = self.build.reservoir.flow if self.build is not None else None
        if pumped is not None and self._flow > 0.0:
            return [Observation(row, log(pumped / self._flow), 0.1)]
        if self.emptied and self.load is not None and self._made_air > 0.0 and not self.scale.seconds:
            through = self.through
            air = through[FOAMING] + 0.5 * through[PRIMING] + 0.4 * through[THINNING]  # it draws less in the end
            u = hypot(FILLED_TO, 0.05 + 0.25 * through[PRIMING] / air)
            return [Observation(row, log(self.load / SOLUTION_DENSITY / air), u)]
        return []

    # --- figures ----------------------------------------------------------------------------------------------------

    def output(self, phase: str) -> Output:
        """All figures now."""
        known = self.knowledge
        said = () if self.samples else (PRIOR,)
        why: dict[str, str] = {}
        r = known.ratio
        expansion = spread(1.0 + r, r / (1.0 + r) * known.along((0.0, 1.0)), "1", *said)
        density = self._density(expansion, said)
        rate = self._rate(known, phase, said, why)
        used = self._used(known, why)
        left = self._left(used, why)
        solution_rate = self._solution_rate(known, phase, why)
        indicated = 1.0 if self.samples else 0.0  # the anemometer's own error, where a sample went through it
        capture = spread(known.caught, hypot(known.along((1.0, 0.0)), indicated * self.u_air), "1", *said)
        return Output(
            foam_rate=rate,
            foam_total=self._total(known, said, why),
            foam_left=None if left is None else _product(left, expansion, "m3", said),
            density=density,
            density_in_line=self._in_line(expansion, said),
            expansion=expansion,
            capture=_below_one(capture),
            air_used=Estimate.normal(
                total := sum(self.air.values()), self.u_air * total, "m3", assumptions=("free air, ambient state",)
            ),
            solution_rate=solution_rate,
            solution_used=used,
            solution_left=left,
            time_left=self._time_left(left, solution_rate, phase, why),
            why=why,
            assumptions=(*said, *self._remarks(phase)),
        )

    def _remarks(self, phase: str) -> tuple[str, ...]:
        words = []
        if phase == THINNING:
            words.append("the solution runs out: the foam is drier than what was weighed, and its rate is a guess")
        if self.scale.seconds >= 20 and not self.scale.falls and phase == FOAMING:
            words.append("the scale does not fall: it is left out (is the reservoir being refilled?)")
        if self.samples:
            words.append(f"{self.samples} sample{'s' if self.samples > 1 else ''} of this build")
        return tuple(words)

    def _density(self, expansion: Estimate, said: tuple[str, ...]) -> Estimate:
        value, low, high = (
            float(foam_density(max(E, 1.0))) - GAS_DENSITY for E in (expansion.value, expansion.upper, expansion.lower)
        )
        u = value * expansion.standard_uncertainty / expansion.value
        return Estimate(value, u, low, high, "kg/m3", assumptions=said)

    def _in_line(self, expansion: Estimate, said: tuple[str, ...]) -> Estimate | None:
        if not isfinite(self._pressure):
            return None
        p0, p1 = self._ambient, self._ambient + max(self._pressure, 0.0)
        inside = [
            float(foam_density(float(expansion_at_pressure(max(E, 1.0), p0, p1)), gas_density=GAS_DENSITY * p1 / p0))
            - GAS_DENSITY
            for E in (expansion.value, expansion.upper, expansion.lower)
        ]
        u = inside[0] * expansion.standard_uncertainty / expansion.value
        return Estimate(inside[0], u, inside[1], inside[2], "kg/m3", assumptions=said)

    def _rate(self, known: Knowledge, phase: str, said: tuple[str, ...], why: dict[str, str]) -> Estimate | None:
        if phase not in (FOAMING, THINNING, UNKNOWN):
            why["foam_rate"] = {PRIMING: "still priming", DRY: "no solution: no foam"}.get(phase, "no air yet")
            return None
        left = self._left_by_fault
        if left.words:
            why["foam_rate"] = left.words
            return None
        r = known.ratio
        thinning = 0.3 if phase == THINNING else 0.0
        if isfinite(self._flow) and self._flow > 0.0:
            reaches = 0.5 * (left.air[0] + left.air[1])
            u_reaches = (left.air[1] - left.air[0]) / (2.0 * sqrt(3.0)) / reaches
            u = hypot(known.along((1.0, -1.0 / (1.0 + r))), thinning, u_reaches)
            return spread(known.caught * reaches * self._flow * (1.0 + 1.0 / r), u, "m3/s", *said)
        if self.scale.falls and self.scale.rate > 0.0:
            Ql = self.scale.rate / SOLUTION_DENSITY
            u = hypot(hypot(r / (1.0 + r) * known.along((0.0, 1.0)), 0.03), thinning)
            return spread(Ql * (1.0 + r), u, "m3/s", *said, "from the scale alone: there is no anemometer")
        why["foam_rate"] = "no anemometer, and no scale that falls"
        return None

    def _total(self, known: Knowledge, said: tuple[str, ...], why: dict[str, str]) -> Estimate | None:
        r = known.ratio
        weighted = sum(middle for middle, _ in self.makes.values())
        if weighted <= 0.0:
            why["foam_total"] = "no air yet" if not self.scale.falls else "no anemometer"
            return None
        # each range is a rectangle (JCGM 100, 4.3.7), and they are independent of each other
        u_parts = hypot(*(half for _, half in self.makes.values())) / sqrt(3.0) / weighted
        u = hypot(known.along((1.0, -1.0 / (1.0 + r))), u_parts)
        made = known.caught * weighted * (1.0 + 1.0 / r)
        held = min(self._held(r), made)
        total = made - held
        half = Z95 * u
        return Estimate(
            total,
            made * u,
            max(made * exp(-half) - held, 0.0),
            made * exp(half) - 0.5 * held,
            "m3",
            assumptions=said,
        )

    def _held(self, r: float) -> float:
        """Foam that fills body and foam hose and has not come out, m3 as it will be at ambient pressure."""
        if self.build is None:
            return 0.0
        outlet = self.build.outlet
        volume = pi / 4.0 * outlet.bore**2 * outlet.hose
        pressure = 0.5 * self._pressure if isfinite(self._pressure) else 0.0  # it falls to nothing along the hose
        inside = float(expansion_at_pressure(1.0 + r, self._ambient, self._ambient + pressure))
        return volume * (1.0 + r) / inside

    def _used(self, known: Knowledge, why: dict[str, str]) -> Estimate | None:
        if self.scale.seconds and self.scale.falls:
            value = max(self.scale.used, 0.0) / SOLUTION_DENSITY
            return Estimate.normal(
                value,
                hypot(SPAN * value, 1.5 * self.scale.noise / SOLUTION_DENSITY),
                "m3",
                assumptions=("by the scale",),
            )
        air = self._made_air + 0.5 * self.through[PRIMING]
        if self.scale.seconds >= 20 and self._made_air > 0.0:
            why["solution_used"] = "the scale does not fall"
            return None
        if air <= 0.0:
            why["solution_used"] = "no air yet"
            return None
        u = hypot(known.along((1.0, -1.0)), 0.5 * self.through[PRIMING] / sqrt(3.0) / air)
        return spread(known.caught / known.ratio * air, u, "m3", "reckoned from the air; no scale")

    def _solution_rate(self, known: Knowledge, phase: str, why: dict[str, str]) -> Estimate | None:
        if self.scale.falls and isfinite(self.scale.rate):
            value = max(self.scale.rate, 0.0) / SOLUTION_DENSITY
            u = hypot(0.02 * value, self.scale.noise / 5.0 / SOLUTION_DENSITY)
            return Estimate.normal(value, u, "m3/s", assumptions=("by the scale",))
        if phase in (FOAMING, UNKNOWN) and isfinite(self._flow) and self._flow > 0.0:
            reaches = 0.5 * sum(self._left_by_fault.air)
            value = known.caught / known.ratio * reaches * self._flow
            return spread(value, known.along((1.0, -1.0)), "m3/s", "reckoned from the air; no scale")
        why["solution_rate"] = "not foaming steadily" if isfinite(self._flow) else "no anemometer and no scale"
        return None

    def _left(self, used: Estimate | None, why: dict[str, str]) -> Estimate | None:
        rho = SOLUTION_DENSITY
        if self.emptied:
            return Estimate(0.0, 0.0, 0.0, 0.0, "m3", assumptions=("it ran dry",))
        if self.tare is not None and isfinite(self.scale.mass):
            value = max(self.scale.mass - self.tare, 0.0) / rho
            return Estimate.normal(value, hypot(SPAN * value, 0.02 / rho), "m3", assumptions=("by the scale",))
        if self.load is None:
            why["solution_left"] = "what the reservoir held at the beginning is not known"
            return None
        if used is None:
            why["solution_left"] = "what was used is not known"
            return None
        begun = (self.load + self.scale.refilled) / rho
        u_begun = FILLED_TO * self.load / rho
        value = max(begun - used.value, 0.0)
        u = hypot(u_begun, used.standard_uncertainty)
        low = begun - Z95 * u_begun - used.upper if used.upper - used.value > 2 * u_begun else value - Z95 * u
        high = begun + Z95 * u_begun - used.lower if used.upper - used.value > 2 * u_begun else value + Z95 * u
        return Estimate(
            value, u, max(low, 0.0), max(high, 0.0), "m3", assumptions=("the reservoir was filled as the sheet says",)
        )

    def _time_left(
        self, left: Estimate | None, rate: Estimate | None, phase: str, why: dict[str, str]
    ) -> Estimate | None:
        if left is None:
            why["time_left"] = why.get("solution_left", "what is left is not known")
            return None
        if self.emptied:
            return Estimate(0.0, 0.0, 0.0, 0.0, "s")
        if rate is None or rate.value <= 0.0 or phase not in (FOAMING, THINNING, UNKNOWN):
            why["time_left"] = why.get("solution_rate", "no solution is drawn")
            return None
        value = left.value / rate.value
        u_rate = rate.standard_uncertainty / rate.value
        u = hypot(left.standard_uncertainty / rate.value, value * u_rate)
        # used and drawn hang together: a run that draws more has less left and empties it sooner
        lower = left.lower / rate.upper if rate.upper > 0 else 0.0
        upper = left.upper / max(rate.lower, 1e-9)
        return Estimate(value, u, lower, upper, "s", assumptions=left.assumptions)


def _product(a: Estimate, b: Estimate, unit: str, said: tuple[str, ...]) -> Estimate:
    """Product of two positive figures taken as independent."""
    u = hypot(a.standard_uncertainty * b.value, b.standard_uncertainty * a.value)
    value = a.value * b.value
    if value <= 0.0:
        return Estimate(value, u, 0.0, a.upper * b.value, unit, assumptions=said)
    u_log = sqrt(log(1.0 + (u / value) ** 2))
    return spread(value, u_log, unit, *said)


def _below_one(share: Estimate) -> Estimate:
    """No share is above one; where readings contradict each other the value may be, and is left to be seen."""
    if share.value > 1.0 or share.upper <= 1.0:
        return share
    return Estimate(
        share.value, share.standard_uncertainty, share.lower, 1.0, share.unit, assumptions=share.assumptions
    )
