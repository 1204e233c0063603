"""A foam sample: evaluation of a weighed and timed container of foam and its drainage.

Two weighings, a stop watch and a measuring glass give foam density, expansion ratio, gas fraction, output, capture
efficiency and the 25 % drainage time, each with its uncertainty, and a verdict against windows with stated sources. The
procedure follows the weighed-container test of the fire services ([arff-foam-test], [imo-foam]): strike off level, wipe
the outside, start the clock when the container is full.

The density of a sample is net mass over volume, as weighed in a bucket: the trade's usual figure, the unit weight of
foam in specifications ([astm-c796]), and the basis of the windows. The empty container was weighed with air in it, so
that this is the foam's own mass per volume less that of the air it displaces (Archimedes), ρ_f - ρ_g. Solution in the
foam follows without a correction: φ = (ρ_f - ρ_g)/(ρ_l - ρ_g), E = 1/φ.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from frothline.errors import InputError
from frothline.estimate import Z95, Estimate
from frothline.foam.drainage_curve import FEWEST, DrainageCurve, check_depth, fit_drainage
from frothline.foam.target_windows import WindowVerdict, judge_figures
from frothline.formatting import three_figures
from frothline.numerics.distributions import chi_square_quantile
from frothline.numerics.scatter import widening
from frothline.numerics.uncertainty import propagate, student_factor
from frothline.physics.foam import GAS_DENSITY, SOLUTION_DENSITY, drainage_time, expansion_ratio

LIGHTEST = 1e-3  # kg, of an empty container: kilograms typed as grams; judgement, no source
LEAST_DENSITY = 5.0  # kg/m3: 200 to 1, where high-expansion foam of the fire services begins (NFPA 11, from memory)
RESOLVED = 3.0  # standard uncertainties of its mass by which the foam's mass must exceed 0
SHORT = 0.1  # relative uncertainty above which a fill time is reported as too short; judgement
QUARTER = 0.25  # of the solution: share of the usual drainage time
GAP_SAID = 0.25  # of the drainage time: half the gap between its two readings above which a note is given; judgement
STABLE_AFTER = 300.0  # s, of the published stability criterion


# figures of a weighing with one number each
_FIGURES = (
    "container_volume",
    "empty",
    "full",
    "fill_time",
    "depth",
    "solution_density",
    "gas_density",
    "u_container_volume",
    "u_mass",
    "u_fill_time",
    "u_drained",
)


@dataclass(frozen=True)
class Weighing:
    """Readings of a sample, SI. Uncertainties are standard; the defaults are those of kitchen equipment.

    ``container_volume`` m3 to the rim, ``empty`` and ``full`` kg, ``fill_time`` s (None if it was not timed),
    ``drained`` pairs of s since full and m3 of liquid, ``depth`` m of foam (drainage depends on it),
    ``solution_density`` and ``gas_density`` kg/m3, the latter of the ambient air.
    """

    container_volume: float
    empty: float
    full: float
    fill_time: float | None = None
    drained: tuple[tuple[float, float], ...] = ()
    depth: float | None = None
    solution_density: float = SOLUTION_DENSITY
    gas_density: float = GAS_DENSITY
    u_container_volume: float | None = None  # m3; default 1 % of the volume: a struck-off bucket
    u_mass: float = 0.6e-3  # kg each: a scale that shows grams (half a division as a rectangle, twice)
    u_fill_time: float = 0.3  # s: a hand on a stop watch; common practice, no source
    u_drained: float = 2e-6  # m3: a glass divided by 5 mL
    note: str = ""
    confirmed: bool = False  # a person has confirmed readings that contradict the run

    @property
    def solution(self) -> float:
        """Solution in the foam, m3: both weighings were made in air, which the solution displaces too."""
        return (self.full - self.empty) / (self.solution_density - self.gas_density)

    def check(self) -> None:
        """Raise InputError for readings that are not numbers or contradict each other, with their field."""
        for name in _FIGURES:
            value = getattr(self, name)
            if value is not None and not math.isfinite(value):
                raise InputError(
                    f"{value} is not a number", where=f"sample: {name}", remedy="Leave out what was not read."
                )
        for name in ("u_container_volume", "u_mass", "u_fill_time", "u_drained"):
            if (getattr(self, name) or 0.0) < 0.0:
                raise InputError("an uncertainty must be 0 or more", where=f"sample: {name}")
        if not 0.0 <= self.gas_density < self.solution_density:
            raise InputError(
                f"air of {self.gas_density:g} and solution of {self.solution_density:g} kg/m3",
                where="sample: gas_density",
                remedy="Give both in kg/m3, about 1.2 and 1000.",
            )
        check_depth(self.depth, "sample: depth")
        net = self.full - self.empty
        if self.container_volume <= 0:
            raise InputError("the volume must be greater than 0", where="sample: container_volume")
        if net <= 0:
            raise InputError(
                f"full ({self.full * 1e3:.0f} g) is not heavier than empty ({self.empty * 1e3:.0f} g)",
                where="sample: full",
                remedy="Check which weighing is which, and that the scale was not zeroed in between.",
            )
        if 0.0 < self.empty < LIGHTEST:
            raise InputError(
                f"no container weighs {three_figures(self.empty * 1e3)} g",
                where="sample: empty",
                remedy="Check the unit; give 0 g where the scale was zeroed with the empty container.",
            )
        if net < RESOLVED * math.sqrt(2.0) * self.u_mass:
            raise InputError(
                f"{net * 1e3:.2g} g of foam is within the uncertainty of the scale, {self.u_mass * 1e3:.2g} g",
                where="sample: full",
                remedy="Check the unit of the weighings; weigh more foam, or use a finer scale.",
            )
        density = net / self.container_volume
        if density >= self.solution_density - self.gas_density:
            raise InputError(
                f"foam of {density:.0f} kg/m3 would be heavier than its solution",
                where="sample: container_volume",
                remedy="Check the volume of the container and the unit of the weighings.",
            )
        if density < LEAST_DENSITY:
            mass, volume, shown = map(three_figures, (net * 1e3, self.container_volume * 1e3, density))
            raise InputError(
                f"{mass} g in {volume} L, {shown} kg/m3, is too light for foam",
                where="sample: full",
                remedy="Check the volume of the container and the unit of the weighings.",
            )
        if self.fill_time is not None and self.fill_time <= 0:
            raise InputError("the fill time must be greater than 0", where="sample: fill_time")
        self._check_drained()

    def _check_drained(self) -> None:
        before = -math.inf
        for number, (time, volume) in enumerate(self.drained, 1):
            where = f"sample: drained, reading {number}"
            if not math.isfinite(time) or not math.isfinite(volume):
                raise InputError("it is not a number", where=where, remedy="Leave it out.")
            if time < 0.0 or time <= before:
                raise InputError("the times of the drainage readings must rise from zero", where=where)
            before = time
            if volume < 0.0:
                raise InputError(f"{volume * 1e6:.0f} mL is less than 0", where=where)
            most = self.solution + 3.0 * math.hypot(self.u_drained, 2.0 * self.u_mass / self.solution_density)
            if volume > most:
                raise InputError(
                    f"{volume * 1e6:.0f} mL drained from foam that holds {self.solution * 1e6:.0f} mL of solution",
                    where=where,
                    remedy="Check the unit of the reading, and the two weighings.",
                )


ANEMOMETER = "the anemometer"  # name of a source of error common to samples
_TIMED = ("output", "solution_rate", "capture")


@dataclass(frozen=True)
class FoamSample:
    """Figures of one sample. An unmeasured figure is None; a drainage time not reached is NaN with a note.

    ``density`` kg/m3, as weighed in air (its own mass per volume is that and the air's density); ``expansion``,
    ``gas_fraction`` 1; ``output`` m3/s of foam at ambient pressure; ``solution_rate`` m3/s that goes into it;
    ``capture`` 1, share of the air captured in bubbles; ``drainage`` s;
    ``drained_share`` 1 of the solution after 300 s. ``shared`` : of each figure, by source, its shift by one standard
        uncertainty of an error common to other samples (JCGM 100:2008, F.1.2.3): the volume of this bucket, the
        anemometer.
    """

    density: Estimate
    expansion: Estimate
    gas_fraction: Estimate
    output: Estimate | None
    solution_rate: Estimate | None
    capture: Estimate | None
    drainage: Estimate | None
    drained_share: Estimate | None
    verdicts: tuple[WindowVerdict, ...]
    remarks: tuple[str, ...] = field(default=())
    depth: float | None = None  # m of foam, where it was written down
    container: float = math.nan  # m3
    shared: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    half_drainage: Estimate | None = None  # s, by the drainage curve


def evaluate(weighing: Weighing, air_flow: Estimate | None = None) -> FoamSample:
    """Evaluate a sample.

    Parameters
    ----------
    weighing
        The readings.
    air_flow
        m3/s of free air during filling, from the rig; without it there is no capture efficiency.

    Raises
    ------
    InputError
        If the readings contradict each other.
    """
    weighing.check()
    w = weighing
    u_volume = 0.01 * w.container_volume if w.u_container_volume is None else w.u_container_volume
    inputs = np.array([w.container_volume, w.empty, w.full, w.fill_time or 1.0, air_flow.value if air_flow else 1.0])
    u_inputs = np.array(
        [u_volume, w.u_mass, w.u_mass, w.u_fill_time, air_flow.standard_uncertainty if air_flow else 0.0]
    )

    steps = np.maximum(u_inputs * 1e-3, np.abs(inputs) * 1e-7 + 1e-9)  # an input may be exact
    sources = {f"the volume of the bucket of {w.container_volume * 1e3:.3g} L": 0, ANEMOMETER: 4}
    shared: dict[str, dict[str, float]] = {}

    def from_inputs(name: str, model: Callable[[np.ndarray], float], unit: str, *assumptions: str) -> Estimate:
        result = propagate(model, inputs, u_inputs, steps)
        shifts = result.sensitivities * u_inputs
        shared[name] = {source: float(shifts[place]) for source, place in sources.items() if shifts[place]}
        if name in _TIMED:  # a short manually timed interval is known to a factor at best, and is positive
            return Estimate.positive(result.value, result.u / result.value, unit, assumptions=assumptions)
        return Estimate.normal(result.value, result.u, unit, assumptions=assumptions)

    def density(x: np.ndarray) -> float:
        return float((x[2] - x[1]) / x[0])

    def expansion(x: np.ndarray) -> float:
        return float(expansion_ratio(density(x) + w.gas_density, w.solution_density, w.gas_density))

    def output(x: np.ndarray) -> float:
        return float(x[0] / x[3])

    def solution(x: np.ndarray) -> float:
        return output(x) / expansion(x)

    timed = w.fill_time is not None
    remarks: list[str] = []
    capture = None
    if w.fill_time is not None and w.u_fill_time > SHORT * w.fill_time:
        remarks.append(
            f"full in {w.fill_time:.1f} s, timed to {w.u_fill_time:.1f} s: too short to time by hand: output and "
            "air retained are rough; use a larger container"
        )
    if timed and air_flow is not None and air_flow.known and air_flow.value > 0:
        capture = from_inputs(
            "capture", lambda x: (output(x) - solution(x)) / float(x[4]), "1", "foam volume taken at ambient pressure"
        )
        if capture.lower > 1:
            remarks.append(
                "more air in the foam than the measured air flow: check the container, its fill time and the anemometer"
            )
    drainage, share = _drainage(w, remarks)
    made_density = from_inputs("density", density, "kg/m3", "as weighed in air")
    figures = {"density": made_density, "drainage": drainage, "drained_share": share}
    return FoamSample(
        density=made_density,
        expansion=from_inputs("expansion", expansion, "1"),
        gas_fraction=from_inputs("gas_fraction", lambda x: 1 - 1 / expansion(x), "1"),
        output=from_inputs("output", output, "m3/s", "filled at a steady rate") if timed else None,
        solution_rate=from_inputs("solution_rate", solution, "m3/s") if timed else None,
        capture=capture,
        drainage=drainage,
        drained_share=share,
        verdicts=judge_figures(figures),
        remarks=tuple(remarks),
        depth=w.depth,
        container=w.container_volume,
        shared=shared,
        half_drainage=_half_drainage(w),
    )


def drainage_curve_of(w: Weighing) -> DrainageCurve:
    """The drainage curve of a weighed sample, with its solution and its depth.

    Raises InputError for fewer than three readings, and where they contradict each other.
    """
    return fit_drainage(w.drained, solution=w.solution, depth=w.depth, u_volume=max(w.u_drained, 1e-9))


def _half_drainage(w: Weighing) -> Estimate | None:
    """The 50 % drainage time by the drainage curve; None where the readings do not determine it."""
    if len(w.drained) < FEWEST:
        return None
    try:
        return drainage_curve_of(w).half
    except InputError:
        return None


def _drainage(w: Weighing, remarks: list[str]) -> tuple[Estimate | None, Estimate | None]:
    """The 25 % drainage time, and the share drained after 300 s, if the readings reach them."""
    if not w.drained:
        return None, None
    times = [t for t, _ in w.drained]
    volumes = [v for _, v in w.drained]
    solution, u_solution = w.solution, math.sqrt(2) * w.u_mass / (w.solution_density - w.gas_density)
    found = drainage_time(times, volumes, solution, QUARTER, w.u_drained, u_solution)
    if found.falling:
        remarks.append(f"drained volume went down at reading {found.falling[0] + 1}: check the reading")
    depth = (f"depth of foam {w.depth * 1e3:.0f} mm",) if w.depth else ("depth of foam not recorded",)
    if found.reached:
        drainage = _between(found.time, found.standard_uncertainty, found.between, "s", depth)
        if 2.0 * GAP_SAID * found.time < found.between[1] - found.between[0]:
            remarks.append(
                f"25 % drained somewhere between {found.between[0]:.0f} and {found.between[1]:.0f} s: take readings "
                "more often"
            )
    else:
        drainage = Estimate(math.nan, math.nan, times[-1], math.inf, "s", assumptions=(f"25 % {found}", *depth))
    share = None
    if times[-1] >= STABLE_AFTER:
        drained = float(np.interp(STABLE_AFTER, [0.0, *times], [0.0, *volumes]))
        u = math.hypot(w.u_drained / solution, drained / solution**2 * u_solution)
        after = next(k for k, time in enumerate(times) if time >= STABLE_AFTER)
        before = volumes[after - 1] if after else 0.0
        ends = (drained, drained) if times[after] == STABLE_AFTER else (before, volumes[after])
        share = _between(drained / solution, u, (min(ends) / solution, max(ends) / solution), "1", depth)
    return drainage, share


def _between(value: float, u: float, ends: tuple[float, float], unit: str, said: tuple[str, ...]) -> Estimate:
    """A figure interpolated between two readings, each good to ``u``. The drained volume only grows, so the value is
    between the ends for any curve. Its distribution is a triangle with its peak on the straight line (JCGM 100:2008,
    4.3.9, here a lopsided one).
    """
    low, high = ends
    spread = low**2 + high**2 + value**2 - low * high - low * value - high * value
    half = Z95 * math.hypot(u, math.sqrt(max(spread, 0.0) / 18.0))
    lower, upper = max(value - half, low - Z95 * u), min(value + half, high + Z95 * u)
    return Estimate(value, half / Z95, max(lower, 0.0), upper, unit, assumptions=said)


@dataclass(frozen=True)
class Repeats:
    """Several samples of the same foam: mean, scatter, and whether the scatter is more than expected."""

    mean: Estimate
    scatter: float
    words: str


def combine(samples: Sequence[Estimate], shared: Sequence[Mapping[str, float]] = ()) -> Repeats:
    """Mean of repeated figures with the uncertainty of the mean. Practice needs at least three weighings.

    ``shared`` : of each figure, by source, its shift by errors common to the samples (``FoamSample.shared``). More
        samples do not reduce these (JCGM 100:2008, F.1.2.3); only the rest decreases with the root of n.

    The rest is widened for the uncertainty of the samples' scatter, see ``numerics.scatter``: two samples may agree by
    chance. There is no test that selects one of the two.

    Raises
    ------
    InputError
        Without a known figure.
    """
    pairs = zip(samples, shared or [{}] * len(samples), strict=True)
    both = [(s, alike) for s, alike in pairs if s.known]
    known = [s for s, _ in both]
    if not known:
        raise InputError("no sample has this value", where="samples", remedy="Weigh and time a sample.")
    values = np.array([s.value for s in known])
    n = len(values)
    common = [sum(alike.get(source, 0.0) for _, alike in both) / n for source in {key for _, a in both for key in a}]
    u_common = math.hypot(*common)
    own = [max(s.standard_uncertainty**2 - sum(c**2 for c in alike.values()), 0.0) for s, alike in both]
    stated = float(np.sqrt(np.mean(own)))
    scatter = float(values.std(ddof=1)) if n > 1 else math.nan
    chi_square = (n - 1) * (scatter / stated) ** 2 if n > 1 and stated > 0.0 else math.nan
    restless = chi_square > chi_square_quantile(0.95, n - 1) if n > 1 else False
    if n > 1 and not stated > 0.0:  # no stated uncertainty: the scatter alone, with Student's factor
        u = scatter / math.sqrt(n) * float(student_factor(n - 1)) / Z95
    else:
        u = stated / math.sqrt(n) * (widening(chi_square, n - 1) if n > 1 else 1.0)
    half = Z95 * math.hypot(u, u_common)
    value = float(values.mean())
    mean = Estimate(value, math.hypot(u, u_common), value - half, value + half, known[0].unit)
    if restless:
        words = "the samples differ by more than the weighing explains: the foam itself is changing"
    elif n < 3:
        words = f"{n} of at least 3 samples: the scatter between samples is not known yet"
    else:
        words = f"{n} samples agree within what the weighing explains"
    return Repeats(mean, scatter, words)
