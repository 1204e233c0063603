"""Calculation of a batch of foamed concrete: amounts, run time of the generator, and uncertainty of the density.

The proportions are formulas of ``physics.mix`` (absolute volumes, foam water counted). This module applies them to the
measured foam, to bags of cement, to the reservoir, and to the weighed cup before the pour.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.batch_cautions import CAUTIONS, detergent_caution, form_caution, heat_caution
from frothline.foam.batch_check import SLURRY_APART, check_batch, check_figure
from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.dosing import SHORTEST_BY_TIME, Dosing, Refills, dosing, refills
from frothline.foam.generator_run import generator_run
from frothline.foam.life import in_minutes
from frothline.foam.survival import effective_density, survival_of_cup
from frothline.formatting import PERCENT, full_text, three_figures
from frothline.numerics.uncertainty import propagate
from frothline.physics.mix import (
    LARGEST_FOAM_SHARE,
    STIFF_WATER_CEMENT,
    WATER_DENSITY,
    Mix,
    agent_fraction,
    blend_density,
    cast_density_for_dry,
    foam_for_density,
    proportion,
    slurry_for_density,
)
from frothline.presentable import (
    Observations,
    Picture,
    PictureAxis,
    PictureBars,
    Plottable,
    estimate_cells,
    estimate_units,
)
from frothline.presentable import PresentedFigure as Row
from frothline.units import METRIC

RESERVE = 0.15  # more solution than calculated: priming and rest in the reservoir; common practice, no source
FINES_BELOW = 1000.0  # kg/m3 cast: fine aggregate is usually left out below (The Concrete Society, fingertips 355)
UNSTABLE_BELOW = 500.0  # kg/m3 cast: more prone to collapse (Jones, Ozlutas and Zheng, Mag. Concr. Res. 2016)


@dataclass(frozen=True, repr=False)
class ConcreteBatch(Plottable):
    """A calculated batch. Masses kg, volumes m3, time s. ``mix`` is for the whole volume; ``bags`` of cement, not
    rounded. ``cast_density`` is the expected density with its interval. ``dosing`` is the method of measuring out the
    foam, ``refills`` the times of refilling the reservoir (None unknown). ``starts`` of the generator: one more than
    refills, all of them in ``run_time`` and in ``solution``, which has a reserve.
    """

    order: BatchOrder
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
    foam: MeasuredFoam
    dosing: Dosing
    refills: Refills | None
    warnings: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS
    starts: int = 1

    @property
    def per_bag(self) -> dict[str, float]:
        """Cement, sand and mixer water kg, foam m3, run time s (NaN unknown), and solution, agent and its water m3 for
        one bag of cement, mixed alone: its run has starts of its own.
        """
        share = 1 / self.bags
        solution, agent = self.solution_of(share), self.agent_of(share)
        return {
            "cement": self.order.bag,
            "sand": self.mix.sand * share,
            "mixer_water": self.mix.mixer_water * share,
            "foam_volume": self.foam_volume * share,
            "run_time": time.value if (time := self.run_time_of(share)) else math.nan,
            "buckets": self.dosing.buckets * share,
            "solution": solution,
            "agent": agent,
            "solution_water": solution - agent,
        }

    @property
    def said(self) -> tuple[str, ...]:
        """Remarks, the most important first: warnings, dosing of the foam, refills."""
        bag = self.per_bag
        single: tuple[str, ...] = ()
        if self.dosing.by == "time" and self.bags > 1.0 and bag["run_time"] < SHORTEST_BY_TIME:
            words = f"one bag needs only {bag['run_time']:.0f} s: dose single bags by the bucket"
            single = (f"{words}, {bag['buckets']:.1f} of {self.dosing.bucket * 1e3:.3g} L each",)
        held = () if self.refills is None else (self.refills.words,)
        life = self.foam.life
        lives = (f"Foam is used within {in_minutes(life.time)}: {life.origin}.",) if life.measured else ()
        return (*self.warnings, self.dosing.words, *single, *held, *lives)

    def run_time_of(self, share: float) -> Estimate | None:
        """Run time from air on for a share of the foam, with each start; None if the output is unknown."""
        return generator_run(share * self.foam_volume, self.foam).seconds

    def solution_of(self, share: float) -> float:
        """Solution for a share of the foam, made alone, with each start and the reserve, m3."""
        return generator_run(share * self.foam_volume, self.foam).drawn * (1 + RESERVE)

    def agent_of(self, share: float) -> float:
        """Agent in ``solution_of`` a share, m3."""
        return self.solution_of(share) * agent_fraction(self.foam.agent_parts, self.foam.convention)

    @property
    def masses(self) -> dict[str, float]:
        """Masses for the whole volume, kg: weighed ingredients and the foam's solution."""
        mix = self.mix
        return {"cement": mix.cement, "sand": mix.sand, "mixer water": mix.mixer_water, "foam": mix.foam_water}

    def _title(self) -> str:
        litres = f"{three_figures(self.order.volume * 1e3)} L"
        return f"{litres} at {self.cast_density.to('kg/m³')}: cement {three_figures(self.mix.cement)} kg"

    def _figures(self) -> Sequence[Row]:
        no_output = "the foam output is not known"
        return (
            Row("expected cast density", self.cast_density, METRIC["density"]),
            Row("expected dry density", self.dry_density, METRIC["density"]),
            Row("run time from air on", self.run_time, METRIC["time"], no_output),
        )

    def _facts(self) -> Sequence[tuple[str, str]]:
        weighed = [(name, f"{three_figures(value)} kg") for name, value in self.masses.items()]
        volumes = (
            ("foam volume", self.foam_volume),
            ("foam solution", self.solution),
            ("agent", self.agent),
        )
        litres = [(name, f"{three_figures(value * 1e3)} L") for name, value in volumes]
        return (*weighed, *litres, ("bags of cement", three_figures(self.bags)))

    def _words(self) -> Sequence[str]:
        return (*self.said, *self.cautions)

    def _observations(self) -> Observations:
        """Two rows, ``amount``: the whole volume, and one bag of cement."""
        plain = ("cement", "sand", "mixer_water")
        units = {"amount": "", "volume": "m3", **dict.fromkeys(plain, "kg"), "foam_volume": "m3", "solution": "m3"}
        units |= {"agent": "m3", "buckets": "", **estimate_units(run_time="s")}
        units |= estimate_units(cast_density="kg/m3", dry_density="kg/m3")
        rows = []
        for amount, share in (("total volume", 1.0), ("one bag", 1.0 / self.bags)):
            row: dict[str, Any] = {"amount": amount, "volume": share * self.order.volume}
            row |= {name: share * getattr(self.mix, name) for name in plain}
            row |= {"foam_volume": share * self.foam_volume, "solution": self.solution_of(share)}
            row |= {"agent": self.agent_of(share), "buckets": share * self.dosing.buckets}
            time = self.run_time if share == 1.0 else self.run_time_of(share)
            row |= estimate_cells(run_time=time, cast_density=self.cast_density, dry_density=self.dry_density)
            rows.append(row)
        unknown = {} if self.run_time is not None else {"run_time": "the foam output is not known"}
        return Observations(tuple(rows), units, unknown, {"words": list(self.said)})

    def _picture(self) -> Picture:
        masses = {name: value for name, value in self.masses.items() if value > 0.0}
        bars = PictureBars("mass", list(masses), list(masses.values()))
        return Picture(self._title(), PictureAxis("part"), PictureAxis("mass", METRIC["mass"]), (bars,))


def mix_batch(order: BatchOrder, foam: MeasuredFoam) -> ConcreteBatch:
    """Calculate the batch for an order, with this foam.

    The amount of foam includes the share of air lost in the mixer; its water counts in full.

    Raises
    ------
    InputError
        If the order is impossible: a figure that is not finite, no volume, no water left for the mixer, a density above
        that of the slurry.
    """
    check_batch(order, foam)
    target = cast_density_for_dry(order.density, order.water_cement, order.sand_cement) if order.dry else order.density
    effective = effective_density(foam.density.value, foam.survival.value)
    mix = proportion(
        target,
        order.water_cement,
        effective,
        order.sand_cement,
        order.volume,
        order.cement_relative_density,
        order.sand_relative_density,
    )
    # `proportion` counts surviving foam; the dosed foam is more by the lost air
    foam_volume = mix.foam_water / foam.density.value
    run = generator_run(foam_volume, foam)
    time = run.seconds
    dosed = dosing(foam_volume, time, foam.output, foam.start_up, order.bucket, run.starts)
    solution = run.drawn * (1 + RESERVE)
    fraction = agent_fraction(foam.agent_parts, foam.convention)
    agent = solution * fraction
    in_concrete = (solution - run.starts * run.start_loss * (1 + RESERVE)) * fraction
    cast, dry = _result(mix, foam, foam_volume, dosed.u_volume)
    held = None
    if foam.reservoir is not None:
        held = refills(solution, run.drawn, foam.reservoir, foam.output, foam.density.value, run.refills)
    return ConcreteBatch(
        order=order,
        mix=mix,
        foam_volume=foam_volume,
        run_time=time,
        solution=solution,
        agent=agent,
        solution_water=solution - agent,
        bags=mix.cement / order.bag,
        cast_density=cast,
        dry_density=dry,
        true_water_cement=mix.total_water / mix.cement,
        foam_share=foam_volume / order.volume,
        foam=foam,
        dosing=dosed,
        refills=held,
        warnings=(*_warnings(mix, foam, order, target), *_waits(time, foam)),
        cautions=_cautions(mix, in_concrete, target),
        starts=run.starts,
    )


def _waits(time: Estimate | None, foam: MeasuredFoam) -> tuple[str, ...]:
    """A warning where the first foam is older than it may be before the last is made; only by a measured drainage."""
    made = math.nan if time is None else time.value - foam.start_up.value
    if not foam.life.measured or not made > foam.life.time:
        return ()
    said = f"the first foam is {in_minutes(made)} old when the last of it is made, and it is to be used within "
    return (f"{said}{in_minutes(foam.life.time)} ({foam.life.origin}): make smaller batches.",)


def _cautions(mix: Mix, agent: float, target: float) -> tuple[str, ...]:
    """The cautions for this batch, with its own figures."""
    heat = heat_caution(mix.cement, mix.total_water, mix.sand)
    dose = detergent_caution(agent * WATER_DENSITY, mix.cement)
    return (*CAUTIONS[:2], *filter(None, (heat, dose)), *CAUTIONS[2:], form_caution(target))


def _result(mix: Mix, foam: MeasuredFoam, foam_volume: float, u_dosing: float) -> tuple[Estimate, Estimate]:
    """Cast and dry density with the uncertainty of foam volume, foam density and survival.

    ``u_dosing`` : relative standard uncertainty of the dosed foam volume
    """
    slurry_mass = mix.cement + mix.sand + mix.mixer_water
    u_volume = foam_volume * u_dosing
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


def _warnings(mix: Mix, foam: MeasuredFoam, order: BatchOrder, target: float) -> tuple[str, ...]:
    found = []
    if mix.too_stiff:
        found.append(
            f"the slurry has only {three_figures(mix.mixer_water_cement)} of water to cement before the foam (below "
            f"{STIFF_WATER_CEMENT}): the slurry takes water out of the foam. Make drier foam or raise the ratio."
        )
    share = mix.foam_water / foam.density.value / mix.volume
    if share > LARGEST_FOAM_SHARE:
        found.append(
            f"foam is {100 * share:.0f} % of the volume; above {100 * LARGEST_FOAM_SHARE:.0f} % mixes became "
            "unstable in a published study (Bagheri and Samea). Make a small mix first."
        )
    if target < UNSTABLE_BELOW:
        found.append(
            f"below {UNSTABLE_BELOW:.0f} kg/m3 cast, the risk of collapse is higher: pour a small piece first."
        )
    if order.sand_cement > 0 and target < FINES_BELOW:
        found.append(f"sand is usually left out below {FINES_BELOW:.0f} kg/m3: sand sinks through the foam.")
    return tuple(found)


# --- corrections at the mixer -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class SlurryCorrection:
    """A correction: ``foam`` m3 or ``slurry`` m3 to add, one of them zero; ``run_time`` s of the generator from air on
    (NaN unknown); ``survival`` of the foam's air by a cup, None without a cup.
    """

    foam: float
    slurry: float
    run_time: float
    words: str
    survival: Estimate | None = None


def correct_slurry(batch: ConcreteBatch, foam: MeasuredFoam, weighed_density: float) -> SlurryCorrection:
    """Correct the foam for a slurry whose weighed density differs from the calculated one.

    ``weighed_density`` kg/m3 of the slurry without foam; its volume follows from the masses put in. The difference in
    ``words`` is against the foam volume of the batch sheet.
    Raises InputError for a density that the masses of the sheet cannot give.
    """
    mass = batch.mix.cement + batch.mix.sand + batch.mix.mixer_water
    check_figure("slurry", weighed_density, "slurry sample")
    if abs(weighed_density / batch.mix.base_density - 1.0) > SLURRY_APART:
        side = "less water" if weighed_density > batch.mix.base_density else "more water, or air of the mixing,"
        raise InputError(
            f"the slurry weighs {weighed_density:.0f} kg/m³, and the masses of the sheet give "
            f"{batch.mix.base_density:.0f} kg/m³: {side} is in it, or the weighing is wrong",
            where="slurry sample",
            remedy="Weigh it again in a full container. If the water is wrong, correct it before any foam goes in",
        )
    effective = effective_density(foam.density.value, foam.survival.value)
    surviving = foam_for_density(weighed_density, mass / weighed_density, batch.mix.cast_density, effective)
    needed = surviving * effective / foam.density.value
    more = needed - batch.foam_volume
    words = f"{'add' if more >= 0 else 'leave out'} {abs(more) * 1e3:.1f} L of foam compared with the batch sheet"
    return SlurryCorrection(needed, 0.0, _seconds(needed, foam), words)


def correct_cast(
    batch: ConcreteBatch, foam: MeasuredFoam, cup_density: float, volume: float | None = None
) -> SlurryCorrection:
    """Correct a mixed batch, weighed in a cup, to the target density: more foam if too heavy, more slurry if too light.

    ``cup_density`` kg/m3 of the foamed concrete; ``volume`` m3 in the mixer (default: from the masses). The cup also
    gives the survival of the foam's air in this mixer; added foam is assumed to survive equally. Raises InputError if
    the cup cannot be of this batch.
    """
    check_figure("cup", cup_density, "cup")
    target = batch.mix.cast_density
    slurry_mass = batch.mix.cement + batch.mix.sand + batch.mix.mixer_water
    survived = survival_of_cup(
        slurry_volume=batch.mix.base_volume,
        slurry_mass=slurry_mass,
        foam_volume=Estimate.normal(batch.foam_volume, batch.dosing.u_volume * batch.foam_volume, "m3"),
        foam_density=foam.density,
        cup_density=cup_density,
    )
    inside = (slurry_mass + batch.foam_volume * foam.density.value) / cup_density if volume is None else volume
    share = f"by this cup {full_text(survived, PERCENT)} of the foam's air survived"
    if cup_density >= target:
        effective = effective_density(foam.density.value, survived.value)
        extra = foam_for_density(cup_density, inside, target, effective) * effective / foam.density.value
        seconds = _seconds(extra, foam)
        return SlurryCorrection(
            extra, 0.0, seconds, f"add {extra * 1e3:.1f} L of foam{_buckets(batch, extra)}; {share}", survived
        )
    slurry = slurry_for_density(cup_density, inside, target, batch.mix.base_density)
    words = f"add {slurry * 1e3:.1f} L of slurry from the same batch sheet; {share}"
    return SlurryCorrection(0.0, slurry, 0.0, words, survived)


def blended(batch: ConcreteBatch, foam: MeasuredFoam) -> float:
    """Cast density kg/m3 from slurry and surviving foam volume, as a check of the calculation."""
    effective = effective_density(foam.density.value, foam.survival.value)
    surviving = batch.foam_volume * foam.density.value / effective
    return blend_density(batch.mix.base_density, batch.mix.base_volume, effective, surviving)


def _buckets(batch: ConcreteBatch, volume: float) -> str:
    """A volume of foam in level buckets, for a small correction."""
    bucket = batch.order.bucket
    return f" ({volume / bucket:.1f} level buckets of {bucket * 1e3:.3g} L)"


def _seconds(volume: float, foam: MeasuredFoam) -> float:
    time = generator_run(volume, foam).seconds if volume > 0.0 else None
    return math.nan if time is None else time.value
