"""The pour plan: mixes, foam, timetable, lifts, shopping, and the density to expect."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from frothline.errors import InputError
from frothline.foam.batch_order import MeasuredFoam
from frothline.foam.concrete_batch import RESERVE, mix_batch
from frothline.foam.dosing import run_time
from frothline.foam.generator_run import GeneratorRun, generator_run
from frothline.foam.life import entered_life, in_minutes
from frothline.physics.foam import SOLUTION_DENSITY
from frothline.physics.fresh_concrete import adiabatic_rise, side_force, side_pressure
from frothline.physics.mix import agent_fraction
from frothline.pours.duty import Duty
from frothline.pours.plan_density import METHODS, finished_density
from frothline.pours.plan_figures import PlanFigures, span
from frothline.pours.plan_order import MOST_MIXES, PlanOrder
from frothline.pours.plan_rows import facts
from frothline.pours.plan_times import plan_refills, timetable
from frothline.pours.prices import Prices, purchases
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
from frothline.rounding import counted
from frothline.units import METRIC

MEASURED = "foam as measured"  # name of the source whose foam was measured or entered
NO_OUTPUT = "the foam output is not known: time a sample, or give it"


@dataclass(frozen=True, repr=False)
class PourPlan(PlanFigures, Plottable):
    """A pour plan, SI; see ``PlanFigures`` for its fields. ``table()`` has one row a mix."""

    def _title(self) -> str:
        return f"{self.order.title}: {self.answer}" if self.order.title else self.answer

    def _figures(self) -> Sequence[Row]:
        density = METRIC["density"]
        return (
            Row("density of any one mix", self.density.mix, density),
            Row("mean density of the pour", self.density.pour, density),
            Row("generator run for one mix", self.seconds, METRIC["time"], NO_OUTPUT),
        )

    def _facts(self) -> Sequence[tuple[str, str]]:
        return [row for rows in facts(self, METRIC).values() for row in rows]

    def _words(self) -> Sequence[str]:
        return (*self.warnings, *self.cautions)

    def _names(self) -> Sequence[str]:
        return tuple(filter(None, (self.order.title, self.source, *self.paces)))

    def _observations(self) -> Observations:
        """One row a mix: its times from the first water of its lift, and what goes into it."""
        plain = {
            "lift": "",
            "mix": "",
            "load": "s",
            "foam": "s",
            "foamed": "s",
            "poured": "s",
            "placed": "s",
            "refill": "",
        }
        masses = {
            "cement": "kg",
            "sand": "kg",
            "mixer_water": "kg",
            "foam_volume": "m3",
            "buckets": "",
            "scale_drop": "kg",
        }
        units = plain | masses | estimate_units(run_time="s")
        mix = self.batch.mix
        goes_in = {
            "cement": mix.cement,
            "sand": mix.sand,
            "mixer_water": mix.mixer_water,
            "foam_volume": self.batch.foam_volume,
            "buckets": self.batch.dosing.buckets,
            "scale_drop": self.drop,
            **estimate_cells(run_time=self.seconds),
        }
        rows: list[dict[str, Any]] = []
        for lift in range(1, self.lifts + 1):
            for number in range(1, self.per_lift + 1):
                row: dict[str, Any] = {"lift": lift, "mix": number}
                at = None if self.schedule is None else self.schedule.mixes[number - 1]
                for name in ("load", "foam", "foamed", "poured", "placed"):
                    row[name] = math.nan if at is None else getattr(at, name)
                row["refill"] = False if at is None else at.refill
                rows.append(row | goes_in)
        unknown = {} if self.schedule is not None else dict.fromkeys(("load", "foam", "run_time"), NO_OUTPUT)
        return Observations(tuple(rows), units, unknown, {"words": list(self.warnings)})

    def _picture(self) -> Picture:
        if self.schedule is None:
            raise InputError(NO_OUTPUT, where="plot", remedy="See .table() for the masses")
        busy = self.schedule.busy
        bars = PictureBars("busy for one mix", list(busy), list(busy.values()))
        axes = PictureAxis("step"), PictureAxis("busy for one mix", METRIC["time"])
        return Picture("What limits the pace", *axes, (bars,))


def make_plan(
    order: PlanOrder,
    foam: MeasuredFoam,
    prices: Prices | None = None,
    *,
    source: str = MEASURED,
    seed: int = 0,
    simulated: bool = False,
) -> PourPlan:
    """Plan a pour.

    foam : as measured or given; its output is that of ``source``, and ``order.sources`` may have more
    prices : the builder's own, None without;  simulated : the foam is of a simulated run

    The source that pours a lift soonest is chosen. Raises InputError for a plan that is impossible.
    """
    if order.life is not None:
        foam = replace(foam, life=entered_life(order.life))
    outputs = dict(order.sources)
    if foam.output is not None and foam.output.known:
        outputs = {source: foam.output, **outputs}
    rests = {source: order.duty, **order.duties}
    layouts = {
        name: _Layout(order, replace(foam, output=output), name, rests.get(name)) for name, output in outputs.items()
    }
    paces = {name: one.schedule.duration for name, one in layouts.items() if one.schedule is not None}
    chosen = min(paces, key=lambda name: paces[name]) if paces else ""
    layout = layouts[chosen] if chosen else _Layout(order, replace(foam, output=None))
    return replace(layout.plan(chosen, paces, prices, seed), simulated=simulated)


class _Layout:
    """The parts of a plan that depend on the foam's output."""

    def __init__(self, order: PlanOrder, foam: MeasuredFoam, source: str = MEASURED, duty: Duty | None = None) -> None:
        self.order, self.foam, self.source, self.duty = order, foam, source, duty
        volume = order.volume * (1.0 + order.waste)
        known = math.isfinite(order.height)
        self.lifts = math.ceil(order.height / order.lift - 1e-9) if known else 1
        litre = mix_batch(replace(order.concrete, volume=1.0), foam)
        # slurry and all the foam are in the mixer at once, before any air is lost
        full = litre.mix.base_volume + litre.foam_volume
        self.per_lift = math.ceil(volume / self.lifts * full / order.usable - 1e-9)
        if self.lifts * self.per_lift > MOST_MIXES:
            raise InputError(
                f"the pour needs {self.lifts * self.per_lift} mixes, more than {MOST_MIXES}",
                where="mixer",
                remedy="Check the units of form and mixer, or give a larger mixer",
            )
        self.batch = mix_batch(replace(order.concrete, volume=volume / (self.lifts * self.per_lift)), foam)
        single = run_time(self.batch.foam_volume, foam.output, foam.start_up)
        self.run = self._run(None if single is None else single.value)
        self.refills = plan_refills(self.run, foam.reservoir, self.per_lift)
        start = foam.start_up.value
        self.schedule = (
            None if single is None else timetable(order, single.value, start, self.per_lift, self.refills, duty)
        )

    def _run(self, single: float | None) -> GeneratorRun:
        """The run for one mix, rests included. ``single`` : its s with one start; None with an unknown output."""
        run = generator_run(self.batch.foam_volume, self.foam)
        if self.duty is None or single is None:
            return run
        start, rests = self.foam.start_up.value, 0
        # a rest costs a start, which draws solution, which may cost a refill, whose start may cost a rest
        while (more := self.duty.rests_within(single + run.refills * start, start)) > rests:
            rests = more
            run = generator_run(self.batch.foam_volume, self.foam, rests)
        return run

    def plan(self, source: str, paces: Mapping[str, float], prices: Prices | None, seed: int) -> PourPlan:
        order, foam, batch = self.order, self.foam, self.batch
        mixes = self.lifts * self.per_lift
        method = batch.dosing.by if order.dose == "auto" else order.dose
        density = finished_density(batch, foam, method, mixes, seed=seed, starts=self.run.starts)
        if density is None:
            raise InputError(
                "foam cannot be measured by time without its output",
                where="dose",
                remedy="Give the foam output, or measure by bucket or scale",
            )
        every = {one: finished_density(batch, foam, one, seed=seed, starts=self.run.starts) for one in METHODS}
        solution = mixes * self.run.drawn * (1.0 + RESERVE)
        agent = solution * agent_fraction(foam.agent_parts, foam.convention)
        amounts = {
            "cement": mixes * batch.mix.cement,
            "sand": mixes * batch.mix.sand,
            "agent": agent,
            "water": mixes * batch.mix.mixer_water / SOLUTION_DENSITY + solution - agent,
        }
        shopping = purchases(amounts, prices, {"cement": order.concrete.bag})
        cast = batch.mix.cast_density
        lift = order.height / self.lifts
        known = math.isfinite(lift)
        rise = adiabatic_rise(batch.mix.cement, batch.mix.total_water, batch.mix.sand)
        return PourPlan(
            order=order,
            foam=foam,
            source=source,
            paces=paces,
            lifts=self.lifts,
            per_lift=self.per_lift,
            batch=batch,
            method=method,
            drop=batch.mix.foam_water,
            start_loss=self.run.start_loss,
            seconds=self.run.seconds,
            starts=self.run.starts,
            schedule=self.schedule,
            refills=self.refills,
            lift_height=lift,
            pressure=side_pressure(lift, cast) if known else math.nan,
            force=side_force(lift, cast) if known else math.nan,
            unset_pressure=side_pressure(order.height, cast) if known else math.nan,
            heat_rise=rise,
            density=density,
            densities={one: None if found is None else found.mix for one, found in every.items()},
            solution=solution,
            agent=agent,
            shopping=shopping,
            currency="" if prices is None else prices.currency,
            missing=tuple(one.name for one in shopping if not math.isfinite(one.cost)),
            warnings=(*self._warnings(), *batch.warnings, *(() if prices is None else prices.problems)),
            cautions=batch.cautions,
            duty=self.duty,
        )

    def _warnings(self) -> list[str]:
        order, found = self.order, []
        times, schedule = order.times, self.schedule
        if schedule is None:
            found.append(
                f"{NO_OUTPUT}; without it there is no timetable, and foam is measured by the bucket or the scale."
            )
        else:
            if schedule.duration > times.setting:
                found.append(
                    f"one lift takes {span(schedule.duration)}, and cement may set from {span(times.setting)} on: the "
                    f"layers may not join. The pace is limited by the {schedule.bottleneck}: make the lift smaller, or "
                    "relieve that step."
                )
            if self.duty is not None and schedule.mixes[0].rests and self.run.seconds is not None:
                rests = schedule.mixes[0].rests
                found.append(
                    f"foam for a mix takes {span(self.run.seconds.value)}, and the air source ({self.source}) may run "
                    f"for {span(self.duty.on)}: it rests {counted(rests, 'time')} for {span(self.duty.rest)} in every "
                    "mix. Make smaller mixes, or take another air source."
                )
            waits = schedule.mixes[0].foamed - schedule.mixes[0].foam - self.foam.start_up.value + times.fold
            life = self.foam.life
            if waits > life.time:
                found.append(
                    f"the first foam of a mix is {in_minutes(waits)} old when all is folded in, and it is to be used "
                    f"within {in_minutes(life.time)} ({life.origin}): make smaller mixes, or add the foam while the "
                    "mixer turns."
                )
        if self.refills is None:
            found.append("the reservoir's size is not known: refills are not planned.")
        elif self.refills.within:
            found.append(
                f"one filling of the reservoir is not enough for a mix ({self.run.drawn * 1e3:.3g} L): refill it "
                f"{counted(self.refills.within, 'time')} in every mix, and before every further mix."
            )
        return found
