"""Foam and solution of a run as it goes, each figure with the interval that is known so far.

Two numbers make foam of air, the caught share η and the air r to one of solution; what is known of them is learnt while
the run goes, see ``knowledge``.

    Q_foam = η Q_a (1 + 1/r)     Q_solution = η Q_a / r     ρ_foam - ρ_g = (ρ_l - ρ_g)/(1 + r)

Densities are those that a bucket on a scale shows, the last line: the air that foam displaces counts for nothing.

Air counts as the anemometer shows it: a sample taken through the same anemometer carries its error already, so that it
drops out of the foam rate. Volumes are those of the bucket, at ambient pressure; in the line the same foam is smaller
(isothermal, ``physics.foam.expansion_at_pressure``), and what the outlet and the foam hose hold has not come out yet.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import exp, hypot, isfinite, log, nan, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

from frothline.estimate import Z95, Estimate
from frothline.foam.prior import NO_SAMPLE_RATIO, CaughtPrior
from frothline.foam.properties import FoamProperties, Observation, estimate_properties, observations_of
from frothline.generator.foam_prior import caught_prior
from frothline.physics.foam import GAS_DENSITY, SOLUTION_DENSITY, expansion_at_pressure, foam_density
from frothline.readings.resample import FORGET
from frothline.run.reservoir_scale import FALLS, ReservoirScale
from frothline.run.state import AIR_ALONE, DRY, FOAMING, PRIMING, THINNING, UNKNOWN, RunFigures
from frothline.run.watch.alarm_kinds import Range, Remaining
from frothline.run.watch.alarm_words import PLENTY

if TYPE_CHECKING:
    from frothline.foam.sample import FoamSample
    from frothline.generator.build import Build
    from frothline.readings.resample import Tick

FILLED_TO = 0.03  # relative: how well a reservoir is filled to what the sheet says; judgement
PUMPED = 0.1  # relative: how well a pump keeps the flow that the sheet says; judgement
SPAN = 0.005  # relative, of a load cell scale over a few kg, at most; common data sheets
# Share of the air that makes the usual foam, from least to most: priming makes between none and all, thinning most
MAKES: dict[str, Range] = {
    AIR_ALONE: (0.0, 0.0),
    PRIMING: (0.0, 1.0),
    FOAMING: (1.0, 1.0),
    THINNING: (0.4, 1.0),
    UNKNOWN: (0.0, 1.0),
    DRY: (0.0, 0.0),
}
NO_FOAM_YET = {
    PRIMING: "still priming",
    AIR_ALONE: "air alone passes: no foam yet",
    DRY: "air alone passes: no foam",
}
SCALE_SILENT = 5.0  # s without a reading after which the scale counts as silent
FAULT = "fault"  # beside the phases: what was made while something was wrong

_DRAWS = np.random.default_rng(20).standard_normal((2048, 4))  # always the same, so that no figure flickers


@dataclass
class FoamBalance:
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
    scale: ReservoirScale = field(default_factory=ReservoirScale)
    observations: list[Observation] = field(default_factory=list)
    samples: int = 0
    emptied: bool = False  # dry now
    u_air: float = 0.02  # relative, systematic, of the anemometer
    _last: float = nan
    _flow: float = nan  # m3/s, smoothed over a second
    _pressure: float = nan
    _ambient: float = 101325.0
    _steady: tuple[float, float] = (0.0, 0.0)  # s and m3 of air of steady foaming, while at least half of it flows
    _load_used: Observation | None = None  # the first load against the air that used it up
    _weighed: float = nan  # s, when the scale was read last
    _unweighed: float = 0.0  # m3 of air that drew solution since; NaN where the flow is not known either
    _uncounted: float = 0.0  # s of foam without a flow reading
    _refilled_unseen: bool = False  # it foamed again after it had run dry
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
        seconds, flowed = self._steady
        steady = phase == FOAMING and left.whole and isfinite(q) and q > 0.0 and 2.0 * q * seconds >= flowed
        if steady:
            self._steady = (seconds + dt, flowed + q * dt)
        self._notice_gaps(tick, phase, q, dt)
        self.scale.feed(tick.time, tick.mass, q * dt if isfinite(q) else 0.0, steady)
        if phase == DRY and not self.emptied:
            self.emptied = True
            if not self._refilled_unseen:
                self._load_used = self._of_load()
        elif phase == FOAMING and self.emptied:
            self.emptied, self._refilled_unseen = False, True

    def _notice_gaps(self, tick: Tick, phase: str, q: float, dt: float) -> None:
        """What is drawn while the scale is silent, and how long foam comes without a flow reading."""
        draws = {FOAMING: 1.0, THINNING: 0.4, UNKNOWN: 1.0, PRIMING: 0.5}.get(phase, 0.0)
        if isfinite(tick.mass):
            self._weighed, self._unweighed = tick.time, 0.0
        elif isfinite(self._weighed) and draws:
            if not self._unweighed:  # the last reading was held for some seconds
                self._unweighed = draws * q * FORGET
            self._unweighed += draws * q * dt
        if phase in (FOAMING, THINNING, UNKNOWN) and not isfinite(q) and self._made_air > 0.0:
            self._uncounted += dt

    @property
    def scale_silent(self) -> bool:
        """Whether the scale was read in this run and says nothing more."""
        return isfinite(self._weighed) and self._last - self._weighed > SCALE_SILENT

    @property
    def left_by_scale(self) -> float:
        """Kg of solution left, by the scale; NaN where it does not tell."""
        if self.scale_silent or not self.scale.seconds:
            return nan
        if self.tare is not None and isfinite(self.scale.mass):
            return max(self.scale.mass - self.tare, 0.0)
        if self.load is None or not self.scale.falls:
            return nan
        return max(self.load + self.scale.refilled - self.scale.used, 0.0)

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
    def prior(self) -> CaughtPrior:
        """Share of the air that is caught, before anything was seen of it."""
        return caught_prior(self.build)

    @property
    def knowledge(self) -> FoamProperties:
        return estimate_properties(self.seen, self.u_air, self.prior)

    @property
    def seen(self) -> list[Observation]:
        """All observations so far: samples, and solution over air by scale, pump or load."""
        return [*self.observations, *self._of_solution()]

    def _of_solution(self) -> list[Observation]:
        """Solution over indicated air, ln κ = ln η - ln r: from the scale, a pump, or the load that was used up."""
        row = (1.0, -1.0)
        scale = self.scale
        if scale.falls:
            used, air = scale.steady_used, scale.steady_air
            if air > 0.0 and used > FALLS * scale.noise:
                u = hypot(SPAN, 1.5 * scale.noise * sqrt(scale.pieces) / used, 0.01)
                return [Observation(row, log(used / SOLUTION_DENSITY / air), u)]
        pumped = self.build.reservoir.flow if self.build is not None else None
        seconds, air = self._steady
        if pumped is not None and air > 0.0:  # what it pumps while no air flows is in no foam
            return [Observation(row, log(pumped * seconds / air), PUMPED)]
        return [self._load_used] if self._load_used is not None else []

    def _of_load(self) -> Observation | None:
        """The same from a reservoir that has run dry just now, with the air that there was until then."""
        if self.load is None or self._made_air <= 0.0 or self.scale.seconds:
            return None
        through = self.through
        air = through[FOAMING] + 0.5 * through[PRIMING] + 0.4 * through[THINNING]  # it draws less in the end
        if air <= 0.0:
            return None
        u = hypot(FILLED_TO, 0.05 + 0.25 * through[PRIMING] / air)
        return Observation((1.0, -1.0), log(self.load / SOLUTION_DENSITY / air), u)

    # --- figures ----------------------------------------------------------------------------------------------------

    def output(self, phase: str) -> RunFigures:
        """All figures now."""
        known = self.knowledge
        caught = (self.prior.words,) if known.guesses_caught else ()
        ratio = (NO_SAMPLE_RATIO,) if known.guesses_ratio else ()
        why: dict[str, str] = {}
        r = known.ratio
        expansion = Estimate.positive(1.0 + r, r / (1.0 + r) * known.along((0.0, 1.0)), "1", assumptions=ratio)
        density = self._density(expansion, ratio)
        rate = self._rate(known, phase, caught, ratio, why)
        used = self._used(known, (*caught, *ratio), why)
        left = self._left(used, why)
        solution_rate = self._solution_rate(known, phase, (*caught, *ratio), why)
        return RunFigures(
            foam_rate=rate,
            foam_total=self._total(known, caught, why),
            foam_left=self._foam_left(known, left, ratio),
            density=density,
            density_in_line=self._in_line(expansion, ratio),
            expansion=expansion,
            capture=replace(known.capture, assumptions=caught),
            air_used=Estimate.normal(
                total := sum(self.air.values()), self.u_air * total, "m3", assumptions=("free air, ambient state",)
            ),
            solution_rate=solution_rate,
            solution_used=used,
            solution_left=left,
            time_left=self._time_left(left, solution_rate, phase, why),
            why=why,
            assumptions=(*caught, *ratio, *self._remarks(phase)),
        )

    def _remarks(self, phase: str) -> tuple[str, ...]:
        words = []
        if phase == THINNING:
            words.append("the solution runs out: the foam is drier than what was weighed, and its rate is a guess")
        if self.scale.seconds >= 20 and not self.scale.falls and phase == FOAMING:
            words.append("the scale does not fall: it is left out (is the reservoir being refilled?)")
        if self.scale_silent:
            words.append("the scale is silent: what is drawn since is calculated from the air")
        if self._uncounted >= 1.0:
            words.append(f"{self._uncounted:.0f} s of foam without a flow reading are not in the totals")
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

    def _rate(
        self, known: FoamProperties, phase: str, caught: tuple[str, ...], ratio: tuple[str, ...], why: dict[str, str]
    ) -> Estimate | None:
        if phase not in (FOAMING, THINNING, UNKNOWN):
            why["foam_rate"] = NO_FOAM_YET.get(phase, "no air yet")
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
            made = known.caught * reaches * self._flow * (1.0 + 1.0 / r)
            return Estimate.positive(made, u, "m3/s", assumptions=caught)
        if self.scale.falls and self.scale.rate > 0.0 and not self.scale_silent:
            Ql = self.scale.rate / SOLUTION_DENSITY
            u = hypot(hypot(r / (1.0 + r) * known.along((0.0, 1.0)), 0.03), thinning)
            said = (*ratio, "from the scale alone: the air flow is not known")
            return Estimate.positive(Ql * (1.0 + r), u, "m3/s", assumptions=said)
        why["foam_rate"] = "the air flow is not known, and no scale falls"
        return None

    def _total(self, known: FoamProperties, said: tuple[str, ...], why: dict[str, str]) -> Estimate | None:
        r = known.ratio
        weighted = sum(middle for middle, _ in self.makes.values())
        if weighted <= 0.0:
            why["foam_total"] = "no air yet" if not self.scale.falls else "the air flow is not known"
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
        """Foam that fills outlet and foam hose and has not come out, m3 as it will be at ambient pressure. What stands
        in the body is not in it: the packing sits at the body's end, and before it there is no foam yet.
        """
        if self.build is None:
            return 0.0
        outlet, body = self.build.outlet, self.build.body.bore
        cone = outlet.length if outlet.shape == "cone" else 0.0
        volume = pi / 4.0 * outlet.bore**2 * outlet.hose
        volume += pi / 12.0 * cone * (body**2 + body * outlet.bore + outlet.bore**2)
        pressure = 0.5 * self._pressure if isfinite(self._pressure) else 0.0  # it falls to nothing along the hose
        inside = float(expansion_at_pressure(1.0 + r, self._ambient, self._ambient + pressure))
        return volume * (1.0 + r) / inside

    def _foam_left(self, known: FoamProperties, left: Estimate | None, said: tuple[str, ...]) -> Estimate | None:
        """Foam of the solution left. Where that is reckoned from the air it hangs on the same ratio as the foam it
        makes, and a high one makes more both ways: hence draws of all together (JCGM 101:2008).
        """
        if left is None:
            return None
        r = known.ratio
        value = left.value * (1.0 + r)
        if value <= 0.0 and self.emptied:
            return Estimate(0.0, 0.0, 0.0, 0.0, "m3", assumptions=left.assumptions)
        logs = known.mean + _DRAWS[:, :2] @ np.linalg.cholesky(known.covariance).T
        if self.scale.falls or (self.tare is not None and isfinite(self.scale.mass)):
            volume = left.value + left.standard_uncertainty * _DRAWS[:, 2]
        else:
            air, u_air = self._drawing_air
            load = (self.load or 0.0) / SOLUTION_DENSITY * (1.0 + FILLED_TO * _DRAWS[:, 2])
            volume = load - np.exp(logs[:, 0] - logs[:, 1]) * np.maximum(air + u_air * _DRAWS[:, 3], 0.0)
            if left.value > 0.0:  # around what is left by all readings, a refill included
                nominal = (self.load or 0.0) / SOLUTION_DENSITY - known.caught / r * max(air, 0.0)
                volume = volume + (left.value - nominal)
        foam = np.maximum(volume, 0.0) * (1.0 + np.exp(logs[:, 1]))
        lower, upper = np.quantile(foam, [0.025, 0.975])
        return Estimate(value, float(foam.std()), float(lower), float(upper), "m3", assumptions=said)

    @property
    def _drawing_air(self) -> tuple[float, float]:
        """m3 of air that drew solution as it does when it foams, and its standard uncertainty: priming draws none or
        as much.
        """
        priming = self.through[PRIMING]
        return self._made_air + 0.5 * priming, 0.5 * priming / sqrt(3.0)

    def _used(self, known: FoamProperties, said: tuple[str, ...], why: dict[str, str]) -> Estimate | None:
        if self.scale.seconds and self.scale.falls and self.scale_silent:
            if not isfinite(self._unweighed):
                why["solution_used"] = "the scale is silent, and the flow is not known"
                return None
            since = known.caught / known.ratio * self._unweighed
            value = max(self.scale.used, 0.0) / SOLUTION_DENSITY + since
            u = hypot(SPAN * value, 1.5 * self.scale.noise / SOLUTION_DENSITY, since * known.along((1.0, -1.0)))
            return Estimate.normal(value, u, "m3", assumptions=("by the scale until it fell silent",))
        if self.scale.seconds and self.scale.falls:
            value = max(self.scale.used, 0.0) / SOLUTION_DENSITY
            return Estimate.normal(
                value,
                hypot(SPAN * value, 1.5 * self.scale.noise / SOLUTION_DENSITY),
                "m3",
                assumptions=("by the scale",),
            )
        air, u_air = self._drawing_air
        if self.scale.seconds >= 20 and self._made_air > 0.0:
            why["solution_used"] = "the scale does not fall"
            return None
        if air <= 0.0:
            why["solution_used"] = "no air yet"
            return None
        u = hypot(known.along((1.0, -1.0)), u_air / air)
        said = ("reckoned from the air; no scale", *said)
        return Estimate.positive(known.caught / known.ratio * air, u, "m3", assumptions=said)

    def _solution_rate(
        self, known: FoamProperties, phase: str, said: tuple[str, ...], why: dict[str, str]
    ) -> Estimate | None:
        if self.scale.falls and isfinite(self.scale.rate) and not self.scale_silent:
            value = max(self.scale.rate, 0.0) / SOLUTION_DENSITY
            u = hypot(0.02 * value, self.scale.noise / 5.0 / SOLUTION_DENSITY)
            return Estimate.normal(value, u, "m3/s", assumptions=("by the scale",))
        if phase in (FOAMING, UNKNOWN) and isfinite(self._flow) and self._flow > 0.0:
            reaches = 0.5 * sum(self._left_by_fault.air)
            value = known.caught / known.ratio * reaches * self._flow
            said = ("reckoned from the air; no scale", *said)
            return Estimate.positive(value, known.along((1.0, -1.0)), "m3/s", assumptions=said)
        why["solution_rate"] = (
            "not foaming steadily" if isfinite(self._flow) else "the air flow is not known, and no scale falls"
        )
        return None

    def _left(self, used: Estimate | None, why: dict[str, str]) -> Estimate | None:
        rho = SOLUTION_DENSITY
        by_scale = self.left_by_scale
        if self.emptied and not (self.load and by_scale > PLENTY * self.load):
            return Estimate(0.0, 0.0, 0.0, 0.0, "m3", assumptions=("it ran dry",))
        if self.tare is not None and isfinite(by_scale):
            value = by_scale / rho
            return Estimate.normal(value, hypot(SPAN * value, 0.02 / rho), "m3", assumptions=("by the scale",))
        if self._refilled_unseen and not self.scale.seconds:
            why["solution_left"] = "it ran dry and foams again: how much was poured in is not known, there is no scale"
            return None
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
        if self.emptied and left.value == 0.0:
            return Estimate(0.0, 0.0, 0.0, 0.0, "s")
        if phase not in (FOAMING, THINNING, UNKNOWN):
            why["time_left"] = NO_FOAM_YET.get(phase, "no air yet")
            return None
        if rate is None or rate.value <= 0.0:
            why["time_left"] = why.get("solution_rate", "no solution is drawn")
            return None
        value = left.value / rate.value
        u_rate = rate.standard_uncertainty / rate.value
        u = hypot(left.standard_uncertainty / rate.value, value * u_rate)
        # used and drawn hang together: a run that draws more has less left and empties it sooner
        lower = left.lower / rate.upper if rate.upper > 0 else 0.0
        upper = left.upper / max(rate.lower, min(1e-9, rate.value))
        return Estimate(value, u, lower, upper, "s", assumptions=left.assumptions)
