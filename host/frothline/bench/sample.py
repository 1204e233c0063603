"""A foam sample: a container of foam weighed, timed and watched while it drains.

From what a person with a bucket can read (two weighings, a stop watch, a measuring glass) come foam density, expansion
ratio, gas fraction, output, capture efficiency and the 25 % drainage time, each with its uncertainty, and a verdict
against windows whose provenance is stated. The procedure follows the weighed-container test of the fire services
([arff-foam-test], [imo-foam]): strike off level, wipe the outside, start the clock when the container is full.

The density of a sample is net mass over volume, as a bucket weighs it: that is what the trade tells each other, what
specifications mean by the unit weight of foam ([astm-c796]), and so what the windows below are for. The empty
container was weighed with air in it, so that this is the foam's own mass per volume less that of the air it displaces
(Archimedes), ρ_f - ρ_g. Solution in the foam follows from it without a correction: φ = (ρ_f - ρ_g)/(ρ_l - ρ_g), E = 1/φ.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy import stats

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.physics.foam import GAS_DENSITY, SOLUTION_DENSITY, drainage_time, expansion_ratio
from frothline.sensors.uncertainty import propagate

LEAST_DENSITY = 1.0  # kg/m3 of solution: high-expansion foam of the fire services, 1000 to 1, is the lightest in use
QUARTER = 0.25  # of the solution: the drainage time that the trade compares
STABLE_AFTER = 300.0  # s, of the published stability criterion


@dataclass(frozen=True)
class Weighing:
    """What was read, SI. Uncertainties are standard; the defaults are those of kitchen gear.

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

    @property
    def solution(self) -> float:
        """m3 of solution in the foam: both weighings were made in air, which the solution displaces too."""
        return (self.full - self.empty) / (self.solution_density - self.gas_density)

    def check(self) -> None:
        """InputError for readings that contradict each other, with the field that does."""
        net = self.full - self.empty
        if self.container_volume <= 0:
            raise InputError("the container has no volume", where="sample: container_volume")
        if net <= 0:
            raise InputError(
                f"full ({self.full * 1e3:.0f} g) is not heavier than empty ({self.empty * 1e3:.0f} g)",
                where="sample: full",
                remedy="Check which weighing is which, and that the scale was not zeroed in between.",
            )
        density = net / self.container_volume
        if density >= self.solution_density - self.gas_density:
            raise InputError(
                f"foam of {density:.0f} kg/m3 would be heavier than its solution",
                where="sample: container_volume",
                remedy="Check the volume of the container and the unit of the weighings.",
            )
        if density < LEAST_DENSITY:
            raise InputError(
                f"{density:.2f} kg/m3 is no foam",
                where="sample: full",
                remedy="Check the volume of the container and the unit of the weighings.",
            )
        if self.fill_time is not None and self.fill_time <= 0:
            raise InputError("the fill time must be above zero", where="sample: fill_time")


@dataclass(frozen=True)
class Window:
    """Where a figure should lie, and how far that advice can be trusted."""

    quantity: str
    low: float
    high: float
    unit: str
    words: str
    provenance: str


WINDOWS = (
    Window("density", 70, 100, "kg/m3", "target for household detergent", "common practice, no source"),
    Window(
        "density",
        32,
        64,
        "kg/m3",
        "usual for foaming agents",
        "specifications in the manner of ACI 523.1R, from memory (2 to 4 lb/ft3)",
    ),
    Window("density", 30, 120, "kg/m3", "outside this it is not worth pouring", "judgement, no source"),
    Window(
        "drained_share",
        0.0,
        0.12,
        "1",
        "stable: less than 12 % drained after 300 s",
        "Ranjani and Ramamurthy, Materials and Structures 43 (2010) 1317, abstract",
    ),
    Window(
        "drainage",
        625.0,
        math.inf,
        "s",
        "25 % drained no earlier than this",
        "the line above carried on as a straight line",
    ),
)


@dataclass(frozen=True)
class Verdict:
    """``state``: inside, below, above, or open where the 95 % interval reaches over the edge."""

    window: Window
    state: str


@dataclass(frozen=True)
class FoamSample:
    """Figures of one sample. What was not measured is None; a drainage time that was not reached has NaN and says so.

    ``density`` kg/m3, as weighed in air (its own mass per volume is that and the air's density); ``expansion``,
    ``gas_fraction`` 1; ``output`` m3/s of foam at ambient pressure;
    ``solution_rate`` m3/s that goes into it; ``capture`` 1, share of the air that ended in bubbles; ``drainage`` s;
    ``drained_share`` 1 of the solution after 300 s.
    """

    density: Estimate
    expansion: Estimate
    gas_fraction: Estimate
    output: Estimate | None
    solution_rate: Estimate | None
    capture: Estimate | None
    drainage: Estimate | None
    drained_share: Estimate | None
    verdicts: tuple[Verdict, ...]
    remarks: tuple[str, ...] = field(default=())


def evaluate(weighing: Weighing, air_flow: Estimate | None = None) -> FoamSample:
    """All that a sample tells.

    Parameters
    ----------
    weighing
        What was read.
    air_flow
        m3/s of free air while the container filled, from the rig; without it there is no capture efficiency.

    Raises
    ------
    InputError
        Where the readings contradict each other.
    """
    weighing.check()
    w = weighing
    u_volume = 0.01 * w.container_volume if w.u_container_volume is None else w.u_container_volume
    inputs = np.array([w.container_volume, w.empty, w.full, w.fill_time or 1.0, air_flow.value if air_flow else 1.0])
    u_inputs = np.array(
        [u_volume, w.u_mass, w.u_mass, w.u_fill_time, air_flow.standard_uncertainty if air_flow else 0.0]
    )

    def from_inputs(model: Callable[[np.ndarray], float], unit: str, *assumptions: str) -> Estimate:
        result = propagate(model, inputs, u_inputs)
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
    if timed and air_flow is not None and air_flow.known and air_flow.value > 0:
        capture = from_inputs(
            lambda x: (output(x) - solution(x)) / float(x[4]), "1", "foam volume taken at ambient pressure"
        )
        if capture.lower > 1:
            remarks.append(
                "more air in the foam than was blown in: the container, its fill time or the anemometer is wrong"
            )
    drainage, share = _drainage(w, remarks)
    made_density = from_inputs(density, "kg/m3")
    figures = {"density": made_density, "drainage": drainage, "drained_share": share}
    return FoamSample(
        density=made_density,
        expansion=from_inputs(expansion, "1"),
        gas_fraction=from_inputs(lambda x: 1 - 1 / expansion(x), "1"),
        output=from_inputs(output, "m3/s", "filled at a steady rate") if timed else None,
        solution_rate=from_inputs(solution, "m3/s") if timed else None,
        capture=capture,
        drainage=drainage,
        drained_share=share,
        verdicts=tuple(_judge(window, figures[window.quantity]) for window in WINDOWS if figures[window.quantity]),
        remarks=tuple(remarks),
    )


def _drainage(w: Weighing, remarks: list[str]) -> tuple[Estimate | None, Estimate | None]:
    """The 25 % drainage time, and the share drained after 300 s, where the readings reach them."""
    if not w.drained:
        return None, None
    times = [t for t, _ in w.drained]
    volumes = [v for _, v in w.drained]
    solution, u_solution = w.solution, math.sqrt(2) * w.u_mass / (w.solution_density - w.gas_density)
    found = drainage_time(times, volumes, solution, QUARTER, w.u_drained, u_solution)
    if found.falling:
        remarks.append(f"drained volume went down at reading {found.falling[0] + 1}: check the glass")
    depth = (f"depth of foam {w.depth * 1e3:.0f} mm",) if w.depth else ("depth of foam not written down",)
    if found.reached:
        drainage = Estimate.normal(found.time, found.standard_uncertainty, "s", assumptions=depth)
    else:
        drainage = Estimate(math.nan, math.nan, times[-1], math.inf, "s", assumptions=(f"25 % {found}", *depth))
    share = None
    if times[-1] >= STABLE_AFTER:
        drained = float(np.interp(STABLE_AFTER, [0.0, *times], [0.0, *volumes]))
        u = math.hypot(w.u_drained / solution, drained / solution**2 * u_solution)
        share = Estimate.normal(drained / solution, u, "1", assumptions=depth)
    return drainage, share


def _judge(window: Window, figure: Estimate | None) -> Verdict:
    assert figure is not None
    if figure.lower >= window.low and figure.upper <= window.high:
        return Verdict(window, "inside")
    if figure.upper < window.low:
        return Verdict(window, "below")
    if figure.lower > window.high:
        return Verdict(window, "above")
    return Verdict(window, "open")


@dataclass(frozen=True)
class Repeats:
    """Several samples of the same foam: their mean, the scatter between them, and whether it is more than expected."""

    mean: Estimate
    scatter: float
    words: str


def combine(samples: Sequence[Estimate]) -> Repeats:
    """Mean of repeated figures with the uncertainty of the mean. Practice asks for at least three weighings.

    As long as the samples scatter no more than their stated uncertainty explains (chi square at 5 %), that uncertainty
    is the better known of the two and counts: three samples that agree by chance prove nothing. Beyond it the scatter
    counts, with Student's t for as few as they are.

    Raises
    ------
    InputError
        Without a known figure.
    """
    known = [s for s in samples if s.known]
    if not known:
        raise InputError("no sample has this figure", where="samples", remedy="Weigh and time one.")
    values = np.array([s.value for s in known])
    n = len(values)
    stated = float(np.sqrt(np.mean([s.standard_uncertainty**2 for s in known])))
    scatter = float(values.std(ddof=1)) if n > 1 else math.nan
    restless = n > 1 and scatter**2 * (n - 1) > stated**2 * float(stats.chi2.ppf(0.95, n - 1))
    u = (scatter if restless else stated) / math.sqrt(n)
    half = (float(stats.t.ppf(0.975, n - 1)) if restless else 1.959963984540054) * u
    value = float(values.mean())
    mean = Estimate(value, u, value - half, value + half, known[0].unit)
    if restless:
        words = "the samples differ by more than the weighing explains: the foam itself is changing"
    elif n < 3:
        words = f"{n} of at least 3 samples: the scatter from one to the next is not known yet"
    else:
        words = f"{n} samples agree within what the weighing explains"
    return Repeats(mean, scatter, words)
