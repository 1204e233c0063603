"""The figures of a pour plan, and the plan in one sentence."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from frothline.estimate import Estimate
from frothline.foam.batch_order import MeasuredFoam
from frothline.foam.concrete_batch import ConcreteBatch
from frothline.formatting import three_figures
from frothline.pours.duty import Duty
from frothline.pours.plan_density import FinishedDensity
from frothline.pours.plan_order import PlanOrder
from frothline.pours.plan_times import PlanRefills, Timetable
from frothline.pours.prices import Purchase
from frothline.rounding import counted
from frothline.units import METRIC, Unit


@dataclass(frozen=True, repr=False)
class PlanFigures:
    """The figures of a pour plan, SI. ``batch`` is one mix of ``mixes``, ``per_lift`` of them in each of ``lifts``.

    source : name of the chosen air source;  paces : s of a lift by source
    drop : kg that the reservoir's scale drops for one mix, from the first foam;  start_loss : m³ of solution at a start
    seconds : the generator's run for one mix, with air on, None unknown;  starts : in it, each after a refill or a rest
    schedule : of one lift, None without a foam output;  refills : of one lift, None without a reservoir
    lift_height : m;  pressure, force : Pa and N/m at the foot of one lift;  unset_pressure : Pa of all lifts at once;
    NaN without a height
    heat_rise : K at most;  density : of the chosen way to measure foam, ``densities`` of one mix by each way
    solution, agent : m³ for everything, with reserve;  shopping, currency, missing : what to buy, and what has no price
    """

    order: PlanOrder
    foam: MeasuredFoam
    source: str
    paces: Mapping[str, float]
    lifts: int
    per_lift: int
    batch: ConcreteBatch
    method: str
    drop: float
    start_loss: float
    seconds: Estimate | None
    starts: int
    schedule: Timetable | None
    refills: PlanRefills | None
    lift_height: float
    pressure: float
    force: float
    unset_pressure: float
    heat_rise: float
    density: FinishedDensity
    densities: Mapping[str, Estimate | None]
    solution: float
    agent: float
    shopping: tuple[Purchase, ...]
    currency: str
    missing: tuple[str, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    simulated: bool = False  # its foam is of a simulated run
    duty: Duty | None = None  # of the chosen air source

    @property
    def mixes(self) -> int:
        return self.lifts * self.per_lift

    @property
    def not_measured(self) -> bool:
        """Whether the foam was measured or given for another air source than the chosen one."""
        return self.source in self.order.sources

    @property
    def with_source(self) -> str:
        """The chosen air source, for the text of a run time; empty if only the foam as measured could be meant."""
        return f" with “{self.source}”" if len(self.paces) > 1 or self.not_measured else ""

    @property
    def cost(self) -> float:
        """Of everything that has a price; NaN if nothing has."""
        known = [one.cost for one in self.shopping if math.isfinite(one.cost)]
        return sum(known) if known else math.nan

    @property
    def answer(self) -> str:
        """The plan in one sentence, metric."""
        return self.answer_in(METRIC)

    def answer_in(self, system: Mapping[str, Unit]) -> str:
        """The plan in one sentence, in a system of units."""
        mass, volume = system["mass"], system["volume"]
        mix = self.batch.mix
        runs = "" if self.seconds is None else f" ({self.seconds.value:.0f} s{self.with_source})"
        sand = f", {amount(mix.sand, mass)} of sand" if mix.sand > 0.0 else ""
        pace = "" if self.schedule is None else f"; {_lasting(self)}, limited by the {self.schedule.bottleneck}"
        return (
            f"{counted(self.mixes, 'mix', 'mixes')} of {amount(self.batch.order.volume, volume)}, each with "
            f"{amount(mix.cement, mass)} of cement{sand}, {amount(mix.mixer_water, mass)} of water and "
            f"{amount(self.batch.foam_volume, volume)} of foam{runs}{pace}"
        )


def amount(value: float, unit: Unit) -> str:
    """An amount in SI, with three figures in a unit."""
    return f"{three_figures(unit.from_si(value))} {unit.symbol}"


def span(seconds: float) -> str:
    """A time in words: "45 s", "12 min", "1 h 20 min"."""
    if seconds < 89.5:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60.0)
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes // 60} h" + (f" {minutes % 60} min" if minutes % 60 else "")


def _lasting(plan: PlanFigures) -> str:
    assert plan.schedule is not None
    time = span(plan.schedule.duration)
    return f"{time} in all" if plan.lifts == 1 else f"{counted(plan.lifts, 'lift')} of {time} each"
