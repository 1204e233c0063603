"""``whatif``: predicted effect of a change of a build or of its air source."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Mapping
from typing import Any

from frothline.bench.evaluation_input import read_input
from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.curve.operating_point import NoCrossing
from frothline.errors import InputError
from frothline.formatting import full_text
from frothline.generator.build import Build
from frothline.generator.evaluation import Evaluation, evaluate, search_sizes
from frothline.generator.linked_entries import Along
from frothline.generator.prediction_result import Prediction
from frothline.generator.sheet import Sheet, read_sheet, sheet_text
from frothline.generator.sheet_changes import change_sheet, check_entry
from frothline.generator.sheet_form import entry_kind, typed_entry
from frothline.generator.size_search import Wanted
from frothline.label_case import label_case
from frothline.quantities import read_number, read_quantity, shorten, with_unit
from frothline.units import SYSTEMS, Unit, name_of_system

FINE, OBJECTIONS = 0, 1


def run(options: Namespace, say: Say) -> int:

    if options.wanted is not None and options.changes:
        remedy = "Use --wanted with the sheet as built, or save the changed sheet first"
        raise InputError("--wanted and --set cannot be combined", where="--wanted", remedy=remedy)
    target = None if options.wanted is None else _figure(options.wanted, SYSTEMS[options.units])
    recordings = [*options.sweep, *(options.other or ()), *(options.dry_sweep or ()), *(options.wet or ())]
    sensors = sensors_of(options, *recordings, say=say)
    built = read_sheet(options.sheet)
    changes = dict(_change(one, options.units) for one in options.changes)
    wanted: Build = built
    moved: tuple[Along, ...] = ()
    if changes:
        sheet, moved = change_sheet(sheet_text(options.sheet), str(options.sheet), built, changes, alone=options.alone)
        wanted = _changed_build(sheet, options)
    say.progress("reading recordings")
    given = read_input(
        built,
        wanted,
        source=options.sweep,
        new_source=options.other or (),
        holes=options.holes,
        new_holes=options.other_holes,
        now=options.now,
        dry=options.dry_sweep or (),
        wet=options.wet or (),
        folder=options.folder,
        **sensors,
    )
    found = evaluate(given)
    if found.error is not None:
        raise found.error
    went_along = [f"{one.words} (--set {one.path}=… or --alone to change that)" for one in moved]
    if target is not None:
        return _sought(options, target, found, say)
    system, now = SYSTEMS[options.units], found.now
    assert found.built is not None
    assert now is not None
    cautions = [f"caution: {one.words} ({one.grounds})" for one in found.cautions]
    figures = _lines("now", found.built, system)
    data: dict[str, Any] = {"now": _data(found.built)}
    if found.change is not None:
        figures += _lines("then", now, system)
        data |= {
            "then": _data(now),
            "flow_change": found.change.flow_change,
            "pressure_change": found.change.pressure_change,
            "along": {one.path: {"before": one.before, "after": one.after} for one in moved},
        }
    data |= {"findings": found.findings, "words": [*went_along, *found.background], "cautions": cautions}
    say.result(data, "\n".join([*found.findings, *figures, *went_along, *found.background, *cautions]))
    return FINE if found.scaling is not None or not (given.dry or given.wet) else OBJECTIONS


def _changed_build(sheet: Sheet, options: Namespace) -> Build:
    """The build of a changed sheet; an error names the wrong option."""
    if sheet.build is None:
        fatal = next(one for one in sheet.problems if one.fatal)
        typed = next((one for one in options.changes if _change(one)[0] == fatal.path), None)
        raise InputError(fatal.what, where=f"--set {typed}" if typed else fatal.where, remedy=fatal.remedy)
    return sheet.build


def _sought(options: Namespace, target: tuple[Wanted, float, Unit], evaluation: Evaluation, say: Say) -> int:
    """The sizes that reach a target figure."""
    wanted, value, unit = target
    found = search_sizes(evaluation, options.by, wanted, value, alone=options.alone)
    reach = (
        f"sizes reach {unit.from_si(found.range[0]):.3g} to {unit.from_si(found.range[1]):.3g} {unit.symbol}".rstrip()
    )
    lines = [f"{one.words}: {full_text(one.reached, unit)}" for one in found.choices]
    said = [*found.words, *([reach] if found.choices else [])]
    data = {
        "by": found.change,
        "wanted": {"figure": wanted, "value": value, "unit": found.unit},
        "met": found.met,
        "range": found.range,
        "choices": [
            {"value": one.value, "size": one.words, "reached": one.reached, **_data(one.prediction)}
            for one in found.choices
        ],
        "words": [*evaluation.trouble, *found.words, *evaluation.background],
    }
    say.result(data, "\n".join([*evaluation.trouble, *lines, *said, *evaluation.background]))
    return FINE


def _figure(text: str, system: Mapping[str, Unit]) -> tuple[Wanted, float, Unit]:
    """Parts of ``--wanted``: its figure, the value in SI, and the unit of the input."""
    name, _, typed = text.partition("=")
    known: dict[str, tuple[Wanted, Unit, str]] = {
        "pressure": ("pressure", system["pressure"], "pressure"),
        "air": ("air_rate", system["flow"], "air_flow"),
        "ratio": ("air_to_solution", Unit("", 1.0), ""),
    }
    remedy = f"Write --wanted pressure=9, --wanted air=12 or --wanted ratio=20; pressure in {system['pressure'].symbol}"
    remedy += f", air in {system['flow'].symbol}"
    if name.strip() not in known:
        raise InputError(f"“{shorten(text)}” is not a known figure", where="--wanted", remedy=remedy)
    wanted, unit, kind = known[name.strip()]
    try:
        value = read_quantity(typed, kind, name_of_system(system)) if kind else read_number(typed)
    except ValueError as error:
        raise InputError(str(error), where="--wanted", remedy=remedy) from None
    if value <= 0:
        raise InputError(f"“{shorten(typed.strip())}” must be greater than 0", where="--wanted", remedy=remedy)
    return wanted, value, unit


def _change(text: str, system: str = "metric") -> tuple[str, Any]:

    path, equals, value = text.partition("=")
    if not equals:
        raise InputError(f"“{shorten(text)}” changes nothing", where="--set", remedy="Write --set outlet.bore=50x3.7")
    path = check_entry(path, f"--set {shorten(text)}")
    kind = entry_kind(path)
    return path, typed_entry(path, with_unit(value, kind, system) if kind else value)


def _data(one: Prediction) -> dict[str, Any]:

    point = one.point
    meets = not isinstance(point, NoCrossing)
    return {
        "meets": meets,
        "pressure": None if isinstance(point, NoCrossing) else point.pressure,
        "flow": None if isinstance(point, NoCrossing) else point.flow,
        "stability": None if isinstance(point, NoCrossing) else point.stability,
        "air_rate": one.air_rate,
        "hole_velocity": one.hole_velocity,
        "foam_rate": one.foam_rate,
        "air_to_solution": one.air_to_solution,
        "shares": [{"key": s.key, "label": s.label, "pressure": s.pressure, "share": s.share} for s in one.shares],
        "words": list(one.words),
    }


def _lines(when: str, one: Prediction, system: Any) -> list[str]:

    if isinstance(one.point, NoCrossing):
        return [f"{when}: no operating point", *one.words]
    rows = [
        ("operating point", one.point.pressure, "pressure"),
        ("pressure margin", one.point.margin, "pressure"),
        ("air rate", one.air_rate, "flow"),
        ("air speed in holes", one.hole_velocity, "speed"),
        ("foam", one.foam_rate, "foam_rate"),
    ]
    head = f"{label_case(when):5}"
    lines = [f"{head} {label:21} {full_text(e, system[quantity])}" for label, e, quantity in rows if e is not None]
    if one.air_to_solution is not None:
        lines.append(
            f"{head} {'air-to-solution ratio':21} {full_text(one.air_to_solution, Unit('to 1 of solution', 1.0))}"
        )
    if one.point.stability != "stable":
        lines.append(f"{head} {'stability':21} {one.point.stability}")
    shares = ", ".join(f"{s.label} {100 * s.share:.0f} %" for s in one.shares)
    return [*lines, f"{head} {'pressure drop shares':21} {shares}"]
