"""The balance of foam and solution during a run, each figure with its present uncertainty.

Two numbers relate foam to air: the captured share η and the air-to-solution ratio r. Their estimates improve during the
run, see ``foam.properties``.

    Q_foam = η Q_a (1 + 1/r)     Q_solution = η Q_a / r     ρ_foam - ρ_g = (ρ_l - ρ_g)/(1 + r)

Densities are as weighed with a bucket on a scale, see the last equation: the displaced air is subtracted.

Air is used as indicated by the anemometer. A sample measured with the same anemometer has the same error, so that this
error cancels in the foam rate. Volumes are those of the bucket, at ambient pressure; in the line the same foam is
smaller (isothermal, ``physics.foam.expansion_at_pressure``), and what the outlet and the foam hose hold has not come
out yet.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import hypot, isfinite, log, nan, sqrt
from typing import TYPE_CHECKING

from frothline.estimate import Z95
from frothline.foam.prior import FoamPrior
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

FILLED_TO = 0.03  # relative: uncertainty of a reservoir's filling against the sheet; judgement
PUMPED = 0.1  # relative: uncertainty of a pump's flow against the sheet; judgement
SPAN = 0.005  # relative, of a load cell scale over a few kg, at most; common data sheets
# Share of the air that makes the usual foam, from least to most: none to all in priming, most in thinning
MAKES: dict[str, Range] = {
    AIR_ALONE: (0.0, 0.0),
    PRIMING: (0.0, 1.0),
    FOAMING: (1.0, 1.0),
    THINNING: (0.4, 1.0),
    UNKNOWN: (0.0, 1.0),
    DRY: (0.0, 0.0),
}
SCALE_SILENT = 5.0  # s without a reading after which the scale counts as silent
FAULT = "fault"  # key next to the phases: air during a fault


@dataclass
class FoamBalance:
    """Sums of a run. Feed it ticks with their phase and the share of foam that a fault leaves;
    ``foam_figures.figures_of`` returns the figures.

    ``air`` is the measured air, ``through`` the part that reached the generator, m3 of free air by phase; ``makes`` is
    the air that made the usual foam, as (middle, half of the range) by phase, with FAULT next to the phases.

    build : for reservoir and foam hose
    load : kg of solution at the beginning, default from the sheet
    tare : kg of the empty reservoir on the scale, if known
    before : the prior of the foam from other builds; None for the usual one of this feed
    """

    build: Build | None = None
    load: float | None = None
    tare: float | None = None
    before: FoamPrior | None = None
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
    _load_used: Observation | None = None  # the first load against the air that consumed it
    _weighed: float = nan  # s, time of the last scale reading
    unweighed: float = 0.0  # m3 of air that drew solution since then; NaN if the flow is unknown too
    uncounted: float = 0.0  # s of foam without a flow reading
    refilled_unseen: bool = False  # it foamed again after it had run dry
    left_by_fault: Remaining = field(default_factory=Remaining)

    def __post_init__(self) -> None:
        if self.load is None and self.build is not None:
            self.load = self.build.reservoir.volume * SOLUTION_DENSITY

    @property
    def begun(self) -> float:
        """Content at the beginning, kg: ``load``, or less if refills would not have fitted in; NaN if unknown."""
        if self.load is None:
            return nan
        if self.build is None:
            return self.load
        holds = max(self.build.reservoir.volume * SOLUTION_DENSITY, self.load)
        return max(min(self.load, holds - self.scale.gained), 0.0)

    @property
    def begun_short(self) -> bool:
        """Whether refills show that the reservoir was not full at the beginning."""
        return self.load is not None and self.begun < self.load * (1.0 - Z95 * FILLED_TO)

    # --- feeding ----------------------------------------------------------------------------------------------------

    def feed(self, tick: Tick, phase: str, left: Remaining | None = None) -> None:
        """Take ticks. ``left`` : share of foam that a fault leaves; without it there is no fault."""
        left = left or Remaining()
        self.left_by_fault = left
        dt = tick.time - self._last if isfinite(self._last) else 0.0
        self._last = tick.time
        if dt > 1.0:  # a gap in the readings adds nothing
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
        """Count the draw while the scale is silent, and the time of foam without a flow reading."""
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
        """Whether the scale gave readings in this run and stopped."""
        return isfinite(self._weighed) and self._last - self._weighed > SCALE_SILENT

    @property
    def left_by_scale(self) -> float:
        """Solution left by the scale, kg; NaN if unknown."""
        if self.scale_silent or not self.scale.seconds:
            return nan
        if self.tare is not None and isfinite(self.scale.mass):
            return max(self.scale.mass - self.tare, 0.0)
        if self.load is None or not self.scale.falls:
            return nan
        return max(self.begun + self.scale.refilled - self.scale.used, 0.0)

    def _count(self, air: float, phase: str, left: Remaining) -> None:
        """Count ``air`` m3 of measured free air."""
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
    def prior(self) -> FoamPrior:
        """The foam before any observation."""
        return self.before or caught_prior(self.build)

    @property
    def knowledge(self) -> FoamProperties:
        return estimate_properties(self.seen, self.u_air, self.prior)

    @property
    def seen(self) -> list[Observation]:
        """All observations so far: samples, and solution-to-air ratio by scale, pump or load."""
        return [*self.observations, *self._of_solution()]

    @property
    def by_scale(self) -> Observation | None:
        """Solution over indicated air by the scale, ln κ = ln η - ln r; None while it does not fall enough."""
        scale = self.scale
        if scale.falls:
            used, air = scale.steady_used, scale.steady_air
            if air > 0.0 and used > FALLS * scale.noise:
                u = hypot(SPAN, 1.5 * scale.noise * sqrt(scale.pieces) / used, 0.01)
                return Observation((1.0, -1.0), log(used / SOLUTION_DENSITY / air), u)
        return None

    def _of_solution(self) -> list[Observation]:
        """Solution over indicated air: from the scale, a pump, or the consumed load."""
        row = (1.0, -1.0)
        if (weighed := self.by_scale) is not None:
            return [weighed]
        pumped = self.build.reservoir.flow if self.build is not None else None
        seconds, air = self._steady
        if pumped is not None and air > 0.0:  # solution pumped without air flow makes no foam
            return [Observation(row, log(pumped * seconds / air), PUMPED)]
        return [self._load_used] if self._load_used is not None else []

    def _of_load(self) -> Observation | None:
        """Solution over indicated air from a reservoir that has just run dry, with the air until then."""
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
        """m3 of air that drew solution at the usual ratio, and its standard uncertainty: priming draws between none and
        the usual amount.
        """
        priming = self.through[PRIMING]
        return self.made_air + 0.5 * priming, 0.5 * priming / sqrt(3.0)
