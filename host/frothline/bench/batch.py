"""From foam to a batch: how much of everything, for how long the generator runs, and how near the result will be.

The proportions themselves are formulas of ``physics.mix`` (absolute volumes, foam water counted); here they meet the
foam that was measured, bags as they are sold, the reservoir, and the weighed cup before the pour.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.physics.foam import SOLUTION_DENSITY
from frothline.physics.mix import (
    CEMENT_RELATIVE_DENSITY,
    LARGEST_FOAM_SHARE,
    SAND_RELATIVE_DENSITY,
    STIFF_WATER_CEMENT,
    WATER_DENSITY,
    DilutionConvention,
    Mix,
    agent_fraction,
    blend_density,
    cast_density_for_dry,
    foam_for_density,
    proportion,
    slurry_for_density,
)
from frothline.sensors.uncertainty import propagate

RESERVE = 0.15  # more solution than reckoned: priming, what stays in the reservoir; common practice, no source
FINES_BELOW = 1000.0  # kg/m3 cast: fine aggregate is usually left out below (The Concrete Society, fingertips 355)
UNSTABLE_BELOW = 500.0  # kg/m3 cast: more prone to collapse (Jones, Ozlutas and Zheng, Mag. Concr. Res. 2016)

CAUTIONS = (
    "Not structural unless a licensed engineer says so, on tests of your own specimens.",
    "Wet cement burns skin and eyes, often without pain at first: alkali-proof gloves, closed goggles; wash at once.",
    "Cement and sand dust harm the lungs: a fitting respirator for dry powder and for cutting cured blocks; cut wet.",
    "Blower and mixer on a residual-current device; keep plugs and the rig above the wet.",
)


@dataclass(frozen=True)
class Order:
    """What is wanted. ``density`` kg/m3, ``dry`` says whether it is the oven-dry density; ``volume`` m3 to fill;
    ``water_cement`` and ``sand_cement`` by mass; ``bag`` kg of cement in one bag.
    """

    density: float
    volume: float
    water_cement: float = 0.5
    sand_cement: float = 0.0
    dry: bool = False
    bag: float = 25.0
    cement_relative_density: float = CEMENT_RELATIVE_DENSITY
    sand_relative_density: float = SAND_RELATIVE_DENSITY


@dataclass(frozen=True)
class Foam:
    """The foam as measured: ``density`` kg/m3 and ``output`` m3/s (None where no sample was timed); ``survival`` is the
    share of its air that is still there after mixing, 1 until a cast cup has told; ``agent_parts`` with ``convention``
    say how the solution is diluted.
    """

    density: Estimate
    output: Estimate | None = None
    survival: Estimate = field(default_factory=lambda: Estimate.normal(1.0, 0.03, "1", assumptions=(_SURVIVAL,)))
    agent_parts: float = 40.0
    convention: DilutionConvention = "1+N"


_SURVIVAL = "all air survives mixing, give or take 3 %: judgement, until a cast cup has been weighed"


@dataclass(frozen=True)
class Batch:
    """A worked batch. Masses kg, volumes m3, time s. ``mix`` is for the whole volume; ``bags`` of cement, rounded up by
    nothing: a part of a bag is a part of a bag. ``cast_density`` is what will come out, with its interval.
    """

    order: Order
    mix: Mix
    foam_volume: float
    run_time: Estimate | None
    solution: float
    agent: float
    solution_water: float
    bags: float
    cast_density: Estimate
    dry_density: Estimate
    true_water_cement: float
    foam_share: float
    warnings: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS

    @property
    def per_bag(self) -> dict[str, float]:
        """Cement, sand and mixer water kg, foam m3, and run time s (NaN unknown) for one bag of cement."""
        share = 1 / self.bags
        return {
            "cement": self.order.bag,
            "sand": self.mix.sand * share,
            "mixer_water": self.mix.mixer_water * share,
            "foam_volume": self.foam_volume * share,
            "run_time": self.run_time.value * share if self.run_time else math.nan,
        }


def work_out(order: Order, foam: Foam) -> Batch:
    """The batch for an order, with this foam.

    Foam is measured out with the share of its air that dies in the mixer added on top; its water is counted in full.

    Raises
    ------
    InputError
        Where a wish cannot be met: a figure that is not finite, no volume, no water left for the mixer, a density above
        that of the bare slurry.
    """
    for name, value in vars(order).items():
        if not math.isfinite(value):
            raise InputError(f"{name} = {value} is not a number", where="batch", remedy="Give a finite number")
    if order.volume <= 0 or order.bag <= 0:
        raise InputError("volume to fill and bag must be above zero", where="batch")
    if not foam.density.known:
        raise InputError(
            "the foam's density is not known", where="batch: foam", remedy="Weigh a sample of the foam first."
        )
    target = cast_density_for_dry(order.density, order.water_cement, order.sand_cement) if order.dry else order.density
    effective = _effective_density(foam.density.value, foam.survival.value)
    mix = proportion(
        target,
        order.water_cement,
        effective,
        order.sand_cement,
        order.volume,
        order.cement_relative_density,
        order.sand_relative_density,
    )
    # `proportion` reckons with foam as it survives; what is blown in is more by the air that dies
    foam_volume = mix.foam_water / foam.density.value
    run_time = None
    if foam.output is not None and foam.output.known and foam.output.value > 0:
        relative = foam.output.standard_uncertainty / foam.output.value
        seconds = foam_volume / foam.output.value
        run_time = Estimate.normal(seconds, seconds * relative, "s", assumptions=foam.output.assumptions)
    solution = mix.foam_water / SOLUTION_DENSITY * (1 + RESERVE)
    agent = solution * agent_fraction(foam.agent_parts, foam.convention)
    cast, dry = _result(mix, foam, foam_volume)
    return Batch(
        order=order,
        mix=mix,
        foam_volume=foam_volume,
        run_time=run_time,
        solution=solution,
        agent=agent,
        solution_water=solution - agent,
        bags=mix.cement / order.bag,
        cast_density=cast,
        dry_density=dry,
        true_water_cement=mix.total_water / mix.cement,
        foam_share=foam_volume / order.volume,
        warnings=_warnings(mix, foam, order, target),
    )


def _effective_density(density: float, survival: float) -> float:
    """kg/m3 of foam whose dead air has left: the same water in less volume."""
    liquid = density / WATER_DENSITY
    return density / (liquid + survival * (1 - liquid))


def _result(mix: Mix, foam: Foam, foam_volume: float) -> tuple[Estimate, Estimate]:
    """Cast and dry density that come out when foam volume, foam density and survival are only so well known."""
    slurry_mass = mix.cement + mix.sand + mix.mixer_water
    u_volume = foam_volume * (
        foam.output.standard_uncertainty / foam.output.value if foam.output and foam.output.known else 0.02
    )
    values = np.array([foam_volume, foam.density.value, foam.survival.value])
    u_values = np.array([u_volume, foam.density.standard_uncertainty, foam.survival.standard_uncertainty])

    def final(x: np.ndarray) -> tuple[float, float]:
        water = x[0] * x[1]
        volume = mix.base_volume + water / WATER_DENSITY + x[2] * (x[0] - water / WATER_DENSITY)
        return float((slurry_mass + water) / volume), float(volume)

    def estimate(model: Callable[[np.ndarray], float], *assumptions: str) -> Estimate:
        result = propagate(model, values, u_values)
        return Estimate.normal(result.value, result.u, "kg/m3", assumptions=assumptions)

    dry_mass = mix.dry_density * mix.volume
    assumed = foam.survival.assumptions
    return (
        estimate(lambda x: final(x)[0], *assumed, "weighing of cement, sand and water taken as exact"),
        estimate(lambda x: dry_mass / final(x)[1], *assumed, "20 % of the cement's mass stays as bound water"),
    )


def _warnings(mix: Mix, foam: Foam, order: Order, target: float) -> tuple[str, ...]:
    found = []
    if mix.too_stiff:
        found.append(
            f"the slurry has only {mix.mixer_water_cement:.2f} of water to cement before the foam (below "
            f"{STIFF_WATER_CEMENT}): it will take water out of the foam. Make drier foam or raise the ratio."
        )
    share = mix.foam_water / foam.density.value / mix.volume
    if share > LARGEST_FOAM_SHARE:
        found.append(
            f"foam is {100 * share:.0f} % of the volume; above {100 * LARGEST_FOAM_SHARE:.0f} % mixes became unstable "
            "in a published study (Bagheri and Samea). Try a small one first."
        )
    if target < UNSTABLE_BELOW:
        found.append(f"below {UNSTABLE_BELOW:.0f} kg/m3 cast, collapse is likelier: pour a small piece first.")
    if order.sand_cement > 0 and target < FINES_BELOW:
        found.append(f"sand is usually left out below {FINES_BELOW:.0f} kg/m3: it sinks through the foam.")
    return tuple(found)


# --- corrections at the mixer -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Correction:
    """What to add: ``foam`` m3 or ``slurry`` m3, one of them zero; ``run_time`` s of the generator (NaN unknown)."""

    foam: float
    slurry: float
    run_time: float
    words: str


def correct_slurry(batch: Batch, foam: Foam, weighed_density: float) -> Correction:
    """Foam for a slurry that was weighed before the pour and is not what was reckoned.

    ``weighed_density`` kg/m3 of the slurry without foam; its volume is taken from the masses put in. The difference in
    ``words`` is against the foam volume of the batch sheet.
    """
    mass = batch.mix.cement + batch.mix.sand + batch.mix.mixer_water
    if not 1000 < weighed_density < 2600:
        raise InputError(
            f"{weighed_density:.0f} kg/m3 is not the density of a slurry",
            where="slurry sample",
            remedy="Weigh a full container of known volume without foam in it.",
        )
    effective = _effective_density(foam.density.value, foam.survival.value)
    surviving = foam_for_density(weighed_density, mass / weighed_density, batch.mix.cast_density, effective)
    needed = surviving * effective / foam.density.value
    more = needed - batch.foam_volume
    words = f"{'add' if more >= 0 else 'leave out'} {abs(more) * 1e3:.1f} L of foam against the sheet"
    return Correction(needed, 0.0, _seconds(needed, foam), words)


def correct_cast(batch: Batch, foam: Foam, cup_density: float, volume: float | None = None) -> Correction:
    """What brings a mixed batch, weighed in a cup, to the wanted density: more foam if heavy, more slurry if light.

    ``cup_density`` kg/m3 of the foamed concrete; ``volume`` m3 that is in the mixer (from the masses if not given).
    """
    target = batch.mix.cast_density
    mass = batch.mix.cement + batch.mix.sand + batch.mix.mixer_water + batch.foam_volume * foam.density.value
    inside = mass / cup_density if volume is None else volume
    if cup_density >= target:
        effective = _effective_density(foam.density.value, foam.survival.value)
        extra = foam_for_density(cup_density, inside, target, effective) * effective / foam.density.value
        return Correction(extra, 0.0, _seconds(extra, foam), f"add {extra * 1e3:.1f} L of foam")
    slurry = slurry_for_density(cup_density, inside, target, batch.mix.base_density)
    return Correction(0.0, slurry, 0.0, f"add {slurry * 1e3:.1f} L of slurry made by the same sheet")


def blended(batch: Batch, foam: Foam) -> float:
    """Cast density kg/m3 by the volumes of the sheet, as a check of the sums: slurry and foam that survives."""
    effective = _effective_density(foam.density.value, foam.survival.value)
    surviving = batch.foam_volume * foam.density.value / effective
    return blend_density(batch.mix.base_density, batch.mix.base_volume, effective, surviving)


def _seconds(volume: float, foam: Foam) -> float:
    return volume / foam.output.value if foam.output and foam.output.known else math.nan
