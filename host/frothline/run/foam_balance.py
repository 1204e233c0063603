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

from dataclasses import dataclass, field
from math import hypot, isfinite, log, nan, sqrt
from typing import TYPE_CHECKING

from frothline.foam.prior import CaughtPrior
from frothline.foam.properties import FoamProperties, Observation, estimate_properties, observations_of
from frothline.generator.foam_prior import caught_prior
from frothline.physics.foam import SOLUTION_DENSITY
from frothline.readings.resample import FORGET
from frothline.run.reservoir_scale import FALLS, ReservoirScale
from frothline.run.state import AIR_ALONE, DRY, FOAMING, PRIMING, THINNING, UNKNOWN
from frothline.run.watch.alarm_kinds import Range, Remaining

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
SCALE_SILENT = 5.0  # s without a reading after which the scale counts as silent
FAULT = "fault"  # next to the phases: what was made while something was wrong


@dataclass
class FoamBalance:
    """Adds up a run. Feed it ticks with the phase they belong to and what a fault leaves of the foam;
    ``foam_figures.figures_of`` gives the figures.

    ``air`` is what was measured, ``through`` what of it reached the generator, m3 of free air by phase; ``makes`` is
    the air that made the usual foam, as (middle, half of the range) by phase, with FAULT next to the phases.

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
    flow: float = nan  # m3/s, smoothed over a second
    pressure: float = nan
    ambient: float = 101325.0
    _steady: tuple[float, float] = (0.0, 0.0)  # s and m3 of air of steady foaming, while at least half of it flows
    _load_used: Observation | None = None  # the first load against the air that used it up
    _weighed: float = nan  # s, when the scale was read last
    unweighed: float = 0.0  # m3 of air that drew solution since; NaN where the flow is not known either
    uncounted: float = 0.0  # s of foam without a flow reading
    refilled_unseen: bool = False  # it foamed again after it had run dry
    left_by_fault: Remaining = field(default_factory=Remaining)

    def __post_init__(self) -> None:
        if self.load is None and self.build is not None:
            self.load = self.build.reservoir.volume * SOLUTION_DENSITY

    # --- feeding ----------------------------------------------------------------------------------------------------

    def feed(self, tick: Tick, phase: str, left: Remaining | None = None) -> None:
        """``left`` : what a fault leaves of the foam, nothing wrong if not given."""
        left = left or Remaining()
        self.left_by_fault = left
        dt = tick.time - self._last if isfinite(self._last) else 0.0
        self._last = tick.time
        if dt > 1.0:  # a gap in the readings: nothing is known of it, nothing is added
            dt = 0.0
        q = tick.free_air
        if isfinite(q):
            if phase in self.air:
                self._count(q * dt, phase, left)
            self.flow = q if not isfinite(self.flow) else self.flow + (q - self.flow) * min(dt / 1.0, 1.0)
        else:
            self.flow = nan
        if isfinite(tick.pressure):
            self.pressure = (
                tick.pressure if not isfinite(self.pressure) else self.pressure + (tick.pressure - self.pressure) * dt
            )
        if isfinite(tick.ambient):
            self.ambient = tick.ambient
        seconds, flowed = self._steady
        steady = phase == FOAMING and left.whole and isfinite(q) and q > 0.0 and 2.0 * q * seconds >= flowed
        if steady:
            self._steady = (seconds + dt, flowed + q * dt)
        self._notice_gaps(tick, phase, q, dt)
        self.scale.feed(tick.time, tick.mass, q * dt if isfinite(q) else 0.0, steady)
        if phase == DRY and not self.emptied:
            self.emptied = True
            if not self.refilled_unseen:
                self._load_used = self._of_load()
        elif phase == FOAMING and self.emptied:
            self.emptied, self.refilled_unseen = False, True

    def _notice_gaps(self, tick: Tick, phase: str, q: float, dt: float) -> None:
        """What is drawn while the scale is silent, and how long foam comes without a flow reading."""
        draws = {FOAMING: 1.0, THINNING: 0.4, UNKNOWN: 1.0, PRIMING: 0.5}.get(phase, 0.0)
        if isfinite(tick.mass):
            self._weighed, self.unweighed = tick.time, 0.0
        elif isfinite(self._weighed) and draws:
            if not self.unweighed:  # the last reading was held for some seconds
                self.unweighed = draws * q * FORGET
            self.unweighed += draws * q * dt
        if phase in (FOAMING, THINNING, UNKNOWN) and not isfinite(q) and self.made_air > 0.0:
            self.uncounted += dt

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
    def made_air(self) -> float:
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
        if self.load is None or self.made_air <= 0.0 or self.scale.seconds:
            return None
        through = self.through
        air = through[FOAMING] + 0.5 * through[PRIMING] + 0.4 * through[THINNING]  # it draws less in the end
        if air <= 0.0:
            return None
        u = hypot(FILLED_TO, 0.05 + 0.25 * through[PRIMING] / air)
        return Observation((1.0, -1.0), log(self.load / SOLUTION_DENSITY / air), u)

    @property
    def drawing_air(self) -> tuple[float, float]:
        """m3 of air that drew solution as it does when it foams, and its standard uncertainty: priming draws none or
        as much.
        """
        priming = self.through[PRIMING]
        return self.made_air + 0.5 * priming, 0.5 * priming / sqrt(3.0)
