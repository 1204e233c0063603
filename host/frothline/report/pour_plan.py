"""A pour plan as data and text, and as the card for the wall: a mix, the timetable and what to buy on one page."""

from __future__ import annotations

import math
from collections.abc import Mapping
from html import escape
from typing import Any

from frothline.formatting import interval_text, value_text
from frothline.label_case import label_case
from frothline.pours.plan import PourPlan
from frothline.pours.plan_figures import amount
from frothline.pours.plan_rows import DENSITY, EACH_MIX, TIMES_HEAD, facts, times_rows
from frothline.report.html_page import Report, large, page, section, table, words
from frothline.units import METRIC, Unit

ON_CARD = 3  # cautions on the card; the command and the page have them all
MOST_TIMES, MOST_WARNINGS = 6, 3  # mixes in the timetable of the card and warnings on it, which is one page

_CARD = """
main{max-width:46rem}
.card td{font-size:1.12rem;padding:.32rem .4rem}
.card td.n{font-weight:600;font-size:1.2rem;white-space:normal}
.two{display:grid;grid-template-columns:1fr 1fr;gap:0 1.6rem}
@media (max-width:40rem){.two{grid-template-columns:1fr}.card td{font-size:1rem}}
.blank td{width:33%;height:1.9rem;vertical-align:top;border-bottom:1px solid var(--faint)}
@media print{
@page{size:A4;margin:10mm}
body{line-height:1.22}
.card td{font-size:10.5pt;padding:.2mm 1mm}.card td.n{font-size:12pt}
h1{font-size:18pt}h2{margin-top:.3rem;font-size:11pt}.large{margin:.2rem 0}.large b{font-size:19pt}
table{margin:.2rem 0}.wide td,.wide th{font-size:8.4pt;padding-top:.2mm;padding-bottom:.2mm}
.two{grid-template-columns:1fr 1fr 1fr;gap:0 .8rem}section{break-inside:avoid}
ul{margin:.2rem 0;font-size:8.4pt}footer{margin-top:.2rem;font-size:7.5pt}.blank td{height:2.2rem;font-size:9pt}
}
"""


def plan_data(plan: PourPlan) -> dict[str, Any]:
    """The plan for ``--json``, SI."""
    schedule, mix = plan.schedule, plan.batch.mix
    return {
        "title": plan.order.title,
        "simulated": plan.simulated,
        "answer": plan.answer,
        "mixes": plan.mixes,
        "lifts": plan.lifts,
        "mixes_per_lift": plan.per_lift,
        "mix_volume": plan.batch.order.volume,
        "cement": mix.cement,
        "sand": mix.sand,
        "mixer_water": mix.mixer_water,
        "foam_volume": plan.batch.foam_volume,
        "buckets": plan.batch.dosing.buckets,
        "scale_drop": plan.drop,
        "start_loss": plan.start_loss,
        "foam_life": {"time": plan.foam.life.time, "origin": plan.foam.life.origin},
        "run_time": None if plan.seconds is None else plan.seconds.as_dict(),
        "starts": plan.starts,
        "source": plan.source,
        "source_measured": not plan.not_measured,
        "lift_time_by_source": dict(plan.paces),
        "timetable": [] if schedule is None else [vars(one) for one in schedule.mixes],
        "busy": {} if schedule is None else dict(schedule.busy),
        "bottleneck": None if schedule is None else schedule.bottleneck,
        "lift_time": None if schedule is None else schedule.duration,
        "refills": None if plan.refills is None else plan.refills.count(plan.per_lift),
        "lift_height": _known(plan.lift_height),
        "pressure": _known(plan.pressure),
        "force_per_metre": _known(plan.force),
        "unset_pressure": _known(plan.unset_pressure),
        "heat_rise": plan.heat_rise,
        "foam_measured_by": plan.method,
        "mix_density": plan.density.mix.as_dict(),
        "pour_density": plan.density.pour.as_dict(),
        "mix_density_by": {name: None if one is None else one.as_dict() for name, one in plan.densities.items()},
        "solution": plan.solution,
        "agent": plan.agent,
        "shopping": [
            {key: _known(item) if isinstance(item, float) else item for key, item in vars(one).items()}
            for one in plan.shopping
        ],
        "cost": _known(plan.cost),
        "currency": plan.currency,
        "without_price": list(plan.missing),
        "warnings": list(plan.warnings),
        "cautions": list(plan.cautions),
    }


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def plan_lines(plan: PourPlan, system: Mapping[str, Unit] = METRIC) -> list[str]:
    """The plan as lines of text."""
    lines = ["Simulated foam: do not mix from this"] if plan.simulated else []
    lines += [plan.answer_in(system), *(f"warning: {one}" for one in plan.warnings)]
    for group, rows in facts(plan, system).items():
        lines += ["", group, *(f"  {label_case(label):38} {text}" for label, text in rows)]
    times = times_rows(plan)
    if times:
        lines += ["", "Timetable of a lift, from its first water"]
        lines += ["  " + "  ".join(f"{cell:>8}" for cell in row).rstrip() for row in (TIMES_HEAD, *times)]
    return [*lines, "", *plan.cautions]


def plan_card(plan: PourPlan, *, system: Mapping[str, Unit] = METRIC) -> Report:
    """The card for the wall: what goes into each mix in large type, then the timetable, form, density, shopping."""
    groups = facts(plan, system)
    density = system["density"]
    cells = "".join(
        f'<tr><td>{escape(label_case(label))}</td><td class="n">{escape(text)}</td></tr>'
        for label, text in groups.pop(EACH_MIX)[2:]  # number and size of the mixes are above
    )
    foam = "" if plan.seconds is None else f"{value_text(plan.seconds, system['time'])} from air on{plan.with_source}"
    times = times_rows(plan)
    more = len(times) - MOST_TIMES
    head = ("", *TIMES_HEAD[1:])
    rows = [("mix " + row[0], *row[1:]) for row in times[:MOST_TIMES]]
    rest = words([f"{more} more mixes follow in the same way"]) if more > 0 else ""
    parts = [
        section(name, table(["", ""], [(label_case(label), text) for label, text in rows_of]))
        for name, rows_of in groups.items()
        if name != DENSITY
    ]
    blanks = "".join(f"<td>{one}</td>" for one in ("Date, weather", "Slurry weighed", "Cup weighed"))
    sections = [
        large(
            [
                (
                    "mixes",
                    f"{plan.mixes}",
                    f"of {amount(plan.batch.order.volume, system['volume'])}"
                    + (f", {plan.per_lift} for each lift" if plan.lifts > 1 else ""),
                ),
                ("foam for each", amount(plan.batch.foam_volume, system["volume"]), foam),
                (
                    "cup after the foam",
                    f"{density.from_si(plan.batch.mix.cast_density):.0f} {density.symbol}",
                    f"{interval_text(plan.density.mix, density)} to expect",
                ),
            ],
            "predicted",
        ),
        f'<table class="card"><tbody>{cells}</tbody></table>',
        section("Timetable of a lift, from its first water", table(head, rows, right=(1, 2, 3, 4)), rest),
        f'<div class="two">{"".join(f"<div>{one}</div>" for one in parts)}</div>',
        words(plan.warnings[:MOST_WARNINGS]),
        f'<table class="blank"><tbody><tr>{blanks}</tr></tbody></table>',
        words(plan.cautions[:ON_CARD], "caution"),
    ]
    return page(
        plan.order.title or "Pour plan",
        plan.answer_in(system),
        sections,
        plan_data(plan),
        simulated=plan.simulated,
        style=_CARD,
        system=system,
        names=plan._names(),  # noqa: SLF001  the names in its own texts
    )
