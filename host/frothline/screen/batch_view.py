"""The batch: an order as typed, what it comes to, and what to correct at the mixer. Pure functions; no page here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

from frothline.bench.batch import (
    CAUTIONS,
    U_TYPED_DENSITY,
    U_TYPED_OUTPUT,
    Batch,
    Foam,
    Order,
    correct_cast,
    correct_slurry,
    work_out,
)
from frothline.bench.build import Dilution
from frothline.bench.dosing import SHORTEST_BY_TIME
from frothline.bench.run_state import RunState
from frothline.bench.sizes import read_quantity
from frothline.errors import FrothlineError, InputError
from frothline.estimate import Z95, Estimate
from frothline.formatting import Shown, running_time, show_estimate, show_time, unit_of
from frothline.quantities import is_number, read_number
from frothline.screen import bucket_view, forms
from frothline.screen.blocks import Node, button, node, nodes, table

FORM = "batch"
START = {"density": "600", "dry": "cast", "volume": "200", "water": "0.5", "sand": "0", "bag": "25", "bucket": "10"}
ENTRIES: tuple[tuple[str, str, str, str], ...] = (
    ("density", "wanted density", "kg/m³, or like 37 lb/ft³", "density"),
    ("volume", "volume to fill", "L, or like 50 gal", "volume"),
    ("water", "water to cement, by mass", "", "number"),
    ("sand", "sand to cement, by mass", "0 without sand", "number"),
    ("bag", "a bag of cement", "kg, or like 94 lb", "bag"),
    ("bucket", "bucket for the foam", "L, or like 3 gal", "volume"),
    ("foam", "foam density", "as weighed in this run where it is left empty", "density"),
    ("output", "foam output", "L/min; as in this run where it is left empty", "flow"),
)
_ENTRY_OF = {  # of the check of a batch -> entry of the form
    "batch: volume": "volume",
    "batch: water_cement": "water",
    "batch: sand_cement": "sand",
    "batch: bag": "bag",
    "batch: bucket": "bucket",
    "batch: foam density": "foam",
    "batch: foam output": "output",
}
CORRECTIONS: tuple[tuple[str, str, str, str], ...] = (
    ("slurry", "slurry as weighed, without foam", "kg/m³, or like 118 lb/ft³", "density"),
    ("cup", "cup as weighed, with foam", "kg/m³, before the pour", "density"),
)


@dataclass(frozen=True)
class Worked:
    """What came of an order: the batch, or by entry why there is none."""

    batch: Batch | None
    foam: Foam | None
    wrong: Mapping[str, str]
    source: str  # where the foam's figures come from, in words
    ends: tuple[Batch | None, Batch | None] = (None, None)  # the same with foam as light and as heavy as it may be
    no_output: str = ""  # why the foam's output is not known


def typed(wish: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    """The entries as this reader typed them; what was never touched is what is usual."""
    names = [*START, "foam", "output", "slurry", "cup"]
    found = {}
    for name in names:
        said = wish.get(f"{FORM}-{name}")
        found[name] = START.get(name, "") if said is None else "".join(said[:1]).strip()
    return found


def worked(
    values: Mapping[str, str], run: RunState | None, dilution: Dilution, habits: Mapping[str, Any] | None = None
) -> Worked:
    """The order worked out with the foam of the run, or the foam as typed; ``habits`` as of ``foam_habits``."""
    wrong: dict[str, str] = {}
    read: dict[str, float] = {}
    for name, _, _, kind in (*ENTRIES, *CORRECTIONS):
        text = values.get(name, "")
        if text:
            try:
                read[name] = _read(text, kind)
            except ValueError as error:
                wrong[name] = str(error)
        elif name in START:
            wrong[name] = "Nothing is written."
    foam, source, no_output = _foam(read, run, dilution, habits or {})
    if foam is None:
        return Worked(None, None, wrong, source)
    if wrong:
        return Worked(None, foam, wrong, source)
    order = Order(
        density=read["density"],
        volume=read["volume"],
        water_cement=read["water"],
        sand_cement=read["sand"],
        dry=values.get("dry") == "dry",
        bag=read["bag"],
        bucket=read["bucket"],
    )
    try:
        ends = tuple(_at(order, foam, density) for density in (foam.density.lower, foam.density.upper))
        return Worked(work_out(order, foam), foam, wrong, source, (ends[0], ends[1]), no_output)
    except FrothlineError as error:
        wrong[_ENTRY_OF.get(error.where, "density")] = f"{error.what}. {error.remedy}".strip()
        return Worked(None, foam, wrong, source)


def _at(order: Order, foam: Foam, density: float) -> Batch | None:
    """The batch with foam of another density; None where no batch can be made with it."""
    try:
        return work_out(order, replace(foam, density=Estimate.normal(density, 0.0, "kg/m3")))
    except FrothlineError:
        return None


def _read(text: str, kind: str) -> float:
    if kind == "number":
        value = read_number(text)
    elif kind == "bag":
        value = read_quantity(f"{text} kg" if is_number(text) else text, "mass")
    else:
        value = read_quantity(text, kind)
    if not isfinite(value) or value < 0:
        raise ValueError(f"“{text}” cannot be used here")
    return value


def _foam(
    read: Mapping[str, float], run: RunState | None, dilution: Dilution, habits: Mapping[str, Any]
) -> tuple[Foam | None, str, str]:
    """The foam, where its figures come from, and why its output is not known."""
    no_output = "no run yet" if run is None else run.output.why.get("foam_rate", "")
    stopping = "" if run is None else bucket_view.no_foam(run)
    density = output = None
    words = []
    if "foam" in read:
        density = Estimate.normal(read["foam"], U_TYPED_DENSITY * read["foam"], "kg/m3")
        words.append("foam density as typed, taken as good to 2 %")
    elif run is not None and run.output.density is not None and run.output.density.known:
        density = run.output.density
        words.append("foam density of this run" + ("" if run.samples else ", not weighed yet"))
    if "output" in read:
        output = Estimate.normal(read["output"], U_TYPED_OUTPUT * read["output"], "m3/s")
        words.append("output as typed, taken as good to 5 %")
    elif stopping:
        no_output = stopping
    elif run is not None and run.output.foam_rate is not None and run.output.foam_rate.known:
        output = run.output.foam_rate
        words.append("output of this run")
    if density is None:
        return None, "The foam's density is not known: weigh a sample in a run, or write it down here.", no_output
    told = ". ".join(text[:1].upper() + text[1:] for text in words) + "."
    more = {**habits, "agent_parts": dilution.parts, "convention": dilution.convention}
    return Foam(density, output, **more), told, no_output


def block(values: Mapping[str, str], found: Worked, dilution: Dilution, system: str) -> list[Node | None]:
    """Form, result, corrections, cautions."""
    form = node(
        "div",
        *(_entry(name, label, hint, kind, values, found.wrong) for name, label, hint, kind in ENTRIES[:1]),
        forms.entry(
            FORM,
            "dry",
            "counted as",
            choices=[("cast", "cast, wet from the mixer"), ("dry", "dry, from the oven")],
            value=values["dry"],
            wish=f"{FORM}-dry",
        ),
        *(_entry(name, label, hint, kind, values, found.wrong) for name, label, hint, kind in ENTRIES[1:]),
        class_="entries",
    )
    parts: list[Node | None] = [form, node("p", found.source, class_="small", role="status")]
    if found.batch is not None and found.foam is not None:
        parts += _result(found, dilution, system)
        parts += _corrections(values, found)
    parts.append(node("ul", *nodes("li", CAUTIONS), class_="batch-cautions"))
    return parts


def _entry(name: str, label: str, hint: str, kind: str, values: Mapping[str, str], wrong: Mapping[str, str]) -> Node:
    return forms.entry(
        FORM,
        name,
        label,
        value=values[name],
        hint=hint,
        note=wrong.get(name, ""),
        look="wrong" if name in wrong else "",
        mode="decimal" if kind == "number" else "text",
        wish=f"{FORM}-{name}",
    )


def _result(found: Worked, dilution: Dilution, system: str) -> list[Node | None]:
    batch, (light, heavy) = found.batch, found.ends
    assert batch is not None
    mix, share = batch.mix, 1.0 / batch.bags
    mass = unit_of("mass", system)

    def kg(value: float) -> str:
        return f"{mass.from_si(value):.4g} {mass.symbol}"

    def row(title: str, quantity: str, of: Callable[[Batch], float]) -> list[Node]:
        return [title, *(_between(of, batch, light, heavy, quantity, system, part) for part in (1.0, share))]

    def running(part: float) -> Node:
        reason = found.no_output or "the foam's output is not known"
        return _with_range(show_time(batch.run_time_of(part), reason=reason))

    def litres(value: float) -> str:
        unit = unit_of("volume", system)
        return f"{unit.from_si(value):.3g} {unit.symbol}"

    sand: list[list[Node]] = [["sand", kg(mix.sand), kg(mix.sand * share)]] if mix.sand > 0 else []
    rows: list[list[Node]] = [
        ["cement", f"{kg(mix.cement)} = {batch.bags:.1f} bags", kg(batch.order.bag)],
        *sand,
        row("water into the mixer", "mass", lambda one: one.mix.mixer_water),
        row("foam", "volume", lambda one: one.foam_volume),
        ["generator runs, from air on", running(1.0), running(share)],
        [
            f"or struck buckets of {litres(batch.order.bucket)}",
            *(f"{batch.dosing.buckets * part:.1f}" for part in (1.0, share)),
        ],
        row(f"solution {dilution}, with reserve", "volume", lambda one: one.solution),
        row("of it agent", "volume", lambda one: one.agent),
        row("of it water", "volume", lambda one: one.solution_water),
    ]
    said: list[Node] = [
        node("p", _sentence(text), class_="odd" if text in batch.warnings else "small") for text in batch.said
    ]
    cast = show_estimate(batch.cast_density, "density", system)
    dry = show_estimate(batch.dry_density, "density", system)
    outcome = node(
        "p",
        "Comes out at ",
        node("b", f"{cast.value} {cast.unit}"),
        f" cast ({cast.under}), {dry.value} {dry.unit} dry ({dry.under}); foam fills "
        f"{100 * batch.foam_share:.0f} % of the volume, "
        f"water to cement {batch.true_water_cement:.2f} with the foam's water.",
        class_="outcome",
    )
    return [table("The batch", ("", "for all of it", "for one bag"), rows, name="batch"), outcome, *said]


def _between(
    of: Callable[[Batch], float],
    batch: Batch,
    light: Batch | None,
    heavy: Batch | None,
    quantity: str,
    system: str,
    part: float,
) -> Node:
    """A figure of the batch, from the lightest to the heaviest that the foam may be."""
    value = of(batch) * part
    ends = sorted(of(one) * part for one in (light, heavy) if one is not None)
    if len(ends) < 2 or not ends[0] <= value <= ends[1]:
        unit = unit_of(quantity, system)
        return _with_range(Shown(f"{unit.from_si(value):.2g}", unit.symbol, "how well it is known cannot be told"))
    u = (ends[1] - ends[0]) / (2 * Z95)
    return _with_range(show_estimate(Estimate(value, u, ends[0], ends[1], ""), quantity, system))


def _with_range(shown: Shown) -> Node:
    return node("span", f"{shown.value} {shown.unit}".strip(), " ", node("small", shown.under))


def _corrections(values: Mapping[str, str], found: Worked) -> list[Node | None]:
    batch, foam = found.batch, found.foam
    assert batch is not None
    assert foam is not None
    parts: list[Node] = []
    kept: Node | None = None
    for name, label, hint, _ in CORRECTIONS:
        text, note, look = values[name], "", ""
        if text and name not in found.wrong:
            try:
                density = read_quantity(text, "density")
                told = correct_slurry(batch, foam, density) if name == "slurry" else correct_cast(batch, foam, density)
                note = _sentence(told.words)
                if isfinite(told.run_time) and told.run_time >= SHORTEST_BY_TIME:
                    note += (
                        f" In all, the generator runs for {spoken(told.run_time)}."
                        if name == "slurry"
                        else (f" The generator runs for {spoken(told.run_time)} more.")
                    )
                look = "said"
                if told.survival is not None:
                    cup = (density, batch.mix.cast_density, told.survival.value, told.survival.standard_uncertainty)
                    argument = "/".join(f"{one:.6g}" for one in cup)
                    kept = button("Keep this cup for later batches", f"bucket:keep-cup:{argument}")
            except (ValueError, InputError) as error:
                note, look = str(error), "wrong"
        elif name in found.wrong:
            note, look = found.wrong[name], "wrong"
        parts.append(forms.entry(FORM, name, label, value=text, hint=hint, note=note, look=look, wish=f"{FORM}-{name}"))
    return [node("h3", "At the mixer"), node("div", *parts, class_="entries two-wide"), kept]


def spoken(seconds: float) -> str:
    """A time for a hand on a switch: seconds below a minute, minutes and seconds above."""
    return f"{seconds:.0f} s" if seconds < 59.5 else f"{running_time(seconds + 0.5)} min"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."
