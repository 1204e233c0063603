"""A pour plan as labelled rows: command line, page, card and notebook show the same ones."""

from __future__ import annotations

import math
from collections.abc import Mapping

from frothline.foam.life import in_minutes
from frothline.formatting import full_text, running_time
from frothline.physics.fresh_concrete import side_pressure
from frothline.pours.plan_figures import PlanFigures, amount, span
from frothline.pours.plan_times import MixTimes
from frothline.pours.prices import Purchase
from frothline.rounding import counted
from frothline.units import FOOT, Unit, name_of_system

Facts = dict[str, list[tuple[str, str]]]
EACH_MIX, PACE, FORM, DENSITY, SHOPPING = "Each mix", "Pace", "Form", "Density", "To buy"
WAYS = {"time": "by time", "bucket": "by the bucket", "scale": "by the scale"}
TIMES_HEAD = ("mix", "load", "air on", "air off", "poured", "")
REFILL = "refill before it"


def facts(plan: PlanFigures, system: Mapping[str, Unit]) -> Facts:
    """Rows by group: label and text, in a system of units."""
    groups = {
        EACH_MIX: _each_mix(plan, system),
        PACE: _pace(plan, system),
        DENSITY: _density(plan, system),
        FORM: _form(plan, system),
        SHOPPING: _shopping(plan, system),
    }
    return {name: rows for name, rows in groups.items() if rows}


def _each_mix(plan: PlanFigures, system: Mapping[str, Unit]) -> list[tuple[str, str]]:
    mass, volume = system["mass"], system["volume"]
    batch, mix = plan.batch, plan.batch.mix
    count = f"{plan.mixes}" if plan.lifts == 1 else f"{plan.mixes}, {plan.per_lift} for each of {plan.lifts} lifts"
    rows = [
        ("mixes", count),
        ("concrete", amount(batch.order.volume, volume)),
        ("cement", f"{amount(mix.cement, mass)} ({mix.cement / batch.order.bag:.2f} bags)"),
    ]
    rows += [("sand", amount(mix.sand, mass))] if mix.sand > 0.0 else []
    rows += [
        ("water into the mixer", amount(mix.mixer_water, mass)),
        ("foam", amount(batch.foam_volume, volume)),
        (
            f"foam by time{plan.with_source}, from air on",
            full_text(plan.seconds, system["time"], reason="the foam output is not known")
            + (f", in {plan.starts} starts" if plan.seconds is not None and plan.starts > 1 else ""),
        ),
        (f"or level buckets of {amount(batch.dosing.bucket, volume)}", f"{batch.dosing.buckets:.1f}"),
        (
            "or drop of the reservoir's scale",
            f"{amount(plan.drop, mass)} from the first foam{' of each start' if plan.starts > 1 else ''}",
        ),
    ]
    if plan.not_measured:
        same = f"the same foam density, {amount(plan.foam.density.value, system['density'])}"
        rows.append((f"assumed of “{plan.source}”", same))
    if plan.start_loss > 0.0:
        lost = f"{plan.foam.start_up.value:.0f} s and {amount(plan.start_loss, volume)} of solution"
        rows.append(("loss at each start", lost))
    return rows


def _pace(plan: PlanFigures, system: Mapping[str, Unit]) -> list[tuple[str, str]]:
    rows = [("foam is used within", f"{in_minutes(plan.foam.life.time)}; {plan.foam.life.origin}")]
    if plan.schedule is not None:
        busy = ", ".join(f"{name} {span(time)}" for name, time in plan.schedule.busy.items())
        rows += [
            ("one lift takes" if plan.lifts > 1 else "the pour takes", span(plan.schedule.duration)),
            ("limited by", f"{plan.schedule.bottleneck} (busy for each mix: {busy})"),
        ]
        if plan.lifts > 1:
            whole = plan.lifts * plan.schedule.duration + (plan.lifts - 1) * plan.order.times.wait
            rows.append(("all lifts, with waiting", span(whole)))
        if len(plan.paces) > 1:
            said = ", ".join(
                f"“{name}” {span(time)}" for name, time in sorted(plan.paces.items(), key=lambda one: one[1])
            )
            rows.append(("a lift by air source", said))
    if plan.duty is not None and plan.schedule is not None:
        rests = sum((one.rest > 0.0) + one.rests for one in plan.schedule.mixes)
        text = f"{counted(rests, 'rest')} of {span(plan.duty.rest)}" if rests else "none needed"
        rows.append(("rests of the air source", f"{text}; it runs {span(plan.duty.on)} at most"))
    refills = plan.refills
    if refills is not None and plan.foam.reservoir is not None:
        count = refills.count(plan.per_lift)
        held = amount(plan.foam.reservoir, system["volume"])
        if refills.before:
            where = "mix " + ", ".join(map(str, refills.before[:8])) + (" …" if len(refills.before) > 8 else "")
            where = "every further mix" if refills.within else where
            text = f"{counted(count, 'time')} a lift, before {where}"
            text += f", and {counted(refills.within, 'time')} in each mix" if refills.within else ""
        else:
            text = f"{counted(refills.within, 'time')} in each mix" if refills.within else f"none: {held} are enough"
        rows.append(("refills of the reservoir", text))
    return rows


def _density(plan: PlanFigures, system: Mapping[str, Unit]) -> list[tuple[str, str]]:
    unit = system["density"]
    rows = [
        ("any one mix", full_text(plan.density.mix, unit)),
        ("mean of the pour", full_text(plan.density.pour, unit)),
    ]
    for way, found in plan.densities.items():
        if way != plan.method:
            rows.append((f"one mix, foam {WAYS[way]}", full_text(found, unit, reason="the foam output is not known")))
    rows[0] = (f"{rows[0][0]}, foam {WAYS[plan.method]}", rows[0][1])
    return rows


def _form(plan: PlanFigures, system: Mapping[str, Unit]) -> list[tuple[str, str]]:
    volume, pressure = system["volume"], system["pressure"]
    poured = plan.order.volume * (1.0 + plan.order.waste)
    waste = f"{100 * plan.order.waste:.3g} %"
    rows = [("to fill", f"{amount(plan.order.volume, volume)}, {amount(poured, volume)} with {waste} waste")]
    rows.append(("core without loss of heat", f"up to {plan.heat_rise:.0f} K warmer"))
    if not math.isfinite(plan.lift_height):
        per_metre = side_pressure(1.0, plan.batch.mix.cast_density)
        rows.append(
            ("pressure on the form", f"{amount(per_metre, pressure)} for each metre of depth; height not given")
        )
        return rows
    rows += [
        ("lifts", f"{plan.lifts} of {amount(plan.lift_height, system['length'])}"),
        ("pressure at the foot of a lift", amount(plan.pressure, pressure)),
        ("force on a side", _force(plan, system)),
    ]
    if plan.lifts > 1:
        rows.append(("pressure if no lift has set", amount(plan.unset_pressure, pressure)))
    return rows


def _force(plan: PlanFigures, system: Mapping[str, Unit]) -> str:
    """Of one lift on a side, for a metre or a foot of its length."""
    length, word = (FOOT, "foot") if name_of_system(system) == "inch-pound" else (1.0, "metre")
    return f"{amount(plan.force * length, system['force'])} on each {word} of its length"


def _shopping(plan: PlanFigures, system: Mapping[str, Unit]) -> list[tuple[str, str]]:
    rows = [(one.name, _purchase(one, plan.currency, system)) for one in plan.shopping]
    rows.append(("foam solution in all", f"{amount(plan.solution, system['volume'])}, with reserve"))
    if math.isfinite(plan.cost):
        lacking = f"; without {' and '.join(plan.missing)}: no price" if plan.missing else ""
        rows.append(("cost", f"{plan.cost:.2f} {plan.currency}".rstrip() + lacking))
    else:
        rows.append(("cost", "not known: no prices"))
    return rows


def _purchase(one: Purchase, currency: str, system: Mapping[str, Unit]) -> str:
    unit = system[one.quantity]
    text = amount(one.amount, unit)
    if math.isfinite(one.packs) and one.packs == int(one.packs):
        text += f": {counted(int(one.packs), 'pack')} of {amount(one.pack, unit)}"
    return f"{text}, {one.cost:.2f} {currency}".rstrip() if math.isfinite(one.cost) else f"{text}, no price"


def _pauses(plan: PlanFigures, mix: MixTimes) -> list[str]:
    said = [REFILL] if mix.refill else []
    if mix.rest > 0.0:
        said.append(f"air source rests {span(mix.rest)} before it")
    if mix.rests and plan.duty is not None:
        said.append(f"air source rests {counted(mix.rests, 'time')} for {span(plan.duty.rest)} in it")
    return said


def times_rows(plan: PlanFigures) -> list[tuple[str, ...]]:
    """The timetable of one lift, as minutes and seconds from its first water; empty without a foam output."""
    if plan.schedule is None:
        return []
    return [
        (
            f"{one.number}",
            *(running_time(at) for at in (one.load, one.foam, one.foamed, one.poured)),
            "; ".join(_pauses(plan, one)),
        )
        for one in plan.schedule.mixes
    ]
