"""The batch: an order as typed, what it comes to, and what to correct at the mixer. Pure functions; no page here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite

from frothline.bench.batch import CAUTIONS, Batch, Foam, Order, correct_cast, correct_slurry, work_out
from frothline.bench.build import Dilution
from frothline.bench.run_state import RunState
from frothline.bench.sizes import read_quantity
from frothline.errors import FrothlineError, InputError
from frothline.estimate import Estimate
from frothline.screen import forms
from frothline.screen.blocks import Node, node, nodes, table
from frothline.screen.reading import running_time, show_estimate, unit_of

FORM = "batch"
START = {"density": "600", "dry": "cast", "volume": "200", "water": "0.5", "sand": "0", "bag": "25"}
ENTRIES: tuple[tuple[str, str, str, str], ...] = (
    ("density", "wanted density", "kg/m³, or like 37 lb/ft³", "density"),
    ("volume", "volume to fill", "L, or like 50 gal", "volume"),
    ("water", "water to cement, by mass", "", "number"),
    ("sand", "sand to cement, by mass", "0 without sand", "number"),
    ("bag", "a bag of cement", "kg, or like 94 lb", "bag"),
    ("foam", "foam density", "as weighed in this run where it is left empty", "density"),
    ("output", "foam output", "L/min; as in this run where it is left empty", "flow"),
)
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


def typed(wish: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    """The entries as this reader typed them; what was never touched is what is usual."""
    names = [*START, "foam", "output", "slurry", "cup"]
    found = {}
    for name in names:
        said = wish.get(f"{FORM}-{name}")
        found[name] = START.get(name, "") if said is None else "".join(said[:1]).strip()
    return found


def worked(values: Mapping[str, str], run: RunState | None, dilution: Dilution) -> Worked:
    """The order worked out with the foam of the run, or the foam as typed."""
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
    foam, source = _foam(read, run, dilution)
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
    )
    try:
        return Worked(work_out(order, foam), foam, wrong, source)
    except FrothlineError as error:
        wrong["density"] = str(error)
        return Worked(None, foam, wrong, source)


def _read(text: str, kind: str) -> float:
    if kind == "number":
        value = float(text.replace(",", "."))
    elif kind == "bag":
        plain = text.replace(",", ".").strip()
        value = read_quantity(f"{plain} kg" if plain.replace(".", "", 1).isdigit() else text, "mass")
    else:
        value = read_quantity(text, kind)
    if not isfinite(value) or value < 0:
        raise ValueError(f"“{text}” cannot be used here")
    return value


def _foam(read: Mapping[str, float], run: RunState | None, dilution: Dilution) -> tuple[Foam | None, str]:
    density = output = None
    words = []
    if "foam" in read:
        density = Estimate.normal(read["foam"], 0.01 * read["foam"], "kg/m3")
        words.append("foam density as typed, taken as good to 2 %")
    elif run is not None and run.output.density is not None and run.output.density.known:
        density = run.output.density
        words.append("foam density of this run" + ("" if run.samples else ", not weighed yet"))
    if "output" in read and read["output"] > 0:
        output = Estimate.normal(read["output"], 0.025 * read["output"], "m3/s")
        words.append("output as typed, taken as good to 5 %")
    elif run is not None and run.output.foam_rate is not None and run.output.foam_rate.known:
        output = run.output.foam_rate
        words.append("output of this run")
    if density is None:
        return None, "The foam's density is not known: weigh a sample in a run, or write it down here."
    told = ". ".join(text[:1].upper() + text[1:] for text in words) + "."
    return Foam(density, output, agent_parts=dilution.parts, convention=dilution.convention), told


def block(values: Mapping[str, str], found: Worked, dilution: Dilution, system: str) -> list[Node | None]:
    """Form, result, corrections, cautions."""
    form = node(
        "div",
        *(_entry(name, label, hint, values, found.wrong) for name, label, hint, _ in ENTRIES[:1]),
        forms.entry(
            FORM,
            "dry",
            "counted as",
            choices=[("cast", "cast, wet from the mixer"), ("dry", "dry, from the oven")],
            value=values["dry"],
            wish=f"{FORM}-dry",
        ),
        *(_entry(name, label, hint, values, found.wrong) for name, label, hint, _ in ENTRIES[1:]),
        class_="entries",
    )
    parts: list[Node | None] = [form, node("p", found.source, class_="small", role="status")]
    if found.batch is not None and found.foam is not None:
        parts += _result(found.batch, dilution, system)
        parts += _corrections(values, found)
    parts.append(node("ul", *nodes("li", CAUTIONS), class_="batch-cautions"))
    return parts


def _entry(name: str, label: str, hint: str, values: Mapping[str, str], wrong: Mapping[str, str]) -> Node:
    return forms.entry(
        FORM,
        name,
        label,
        value=values[name],
        hint=hint,
        note=wrong.get(name, ""),
        look="wrong" if name in wrong else "",
        mode="text" if name in {"bag", "volume"} else "decimal",
        wish=f"{FORM}-{name}",
    )


def _result(batch: Batch, dilution: Dilution, system: str) -> list[Node | None]:
    per, mix = batch.per_bag, batch.mix
    mass, volume = unit_of("mass", system), unit_of("volume", system)

    def kg(value: float) -> str:
        return f"{mass.from_si(value):.4g} {mass.symbol}"

    def litres(value: float) -> str:
        return f"{volume.from_si(value):.3g} {volume.symbol}"

    def clock(seconds: float) -> str:
        return spoken(seconds) if isfinite(seconds) else "not known"

    run_time = batch.run_time.value if batch.run_time is not None else float("nan")
    sand: list[list[Node]] = [["sand", kg(mix.sand), kg(per["sand"])]] if mix.sand > 0 else []
    rows: list[list[Node]] = [
        ["cement", f"{kg(mix.cement)} = {batch.bags:.1f} bags", kg(per["cement"])],
        *sand,
        ["water into the mixer", kg(mix.mixer_water), kg(per["mixer_water"])],
        ["foam", litres(batch.foam_volume), litres(per["foam_volume"])],
        ["generator runs for", clock(run_time), clock(per["run_time"])],
        [
            f"solution {dilution}, with reserve",
            f"{litres(batch.solution)}: {litres(batch.agent)} agent, {litres(batch.solution_water)} water",
            litres(batch.solution / batch.bags),
        ],
    ]
    said: list[Node] = [node("p", _sentence(text), class_="odd") for text in batch.warnings]
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


def _corrections(values: Mapping[str, str], found: Worked) -> list[Node | None]:
    batch, foam = found.batch, found.foam
    assert batch is not None
    assert foam is not None
    parts: list[Node] = []
    for name, label, hint, _ in CORRECTIONS:
        text, note, look = values[name], "", ""
        if text and name not in found.wrong:
            try:
                density = read_quantity(text, "density")
                told = correct_slurry(batch, foam, density) if name == "slurry" else correct_cast(batch, foam, density)
                note = _sentence(told.words)
                if isfinite(told.run_time) and told.run_time > 0:
                    note += (
                        f" In all, the generator runs for {spoken(told.run_time)}."
                        if name == "slurry"
                        else (f" The generator runs for {spoken(told.run_time)} more.")
                    )
                look = "said"
            except (ValueError, InputError) as error:
                note, look = str(error), "wrong"
        elif name in found.wrong:
            note, look = found.wrong[name], "wrong"
        parts.append(forms.entry(FORM, name, label, value=text, hint=hint, note=note, look=look, wish=f"{FORM}-{name}"))
    return [node("h3", "At the mixer"), node("div", *parts, class_="entries two-wide")]


def spoken(seconds: float) -> str:
    """A time for a hand on a switch: seconds below a minute, minutes and seconds above."""
    return f"{seconds:.0f} s" if seconds < 59.5 else f"{running_time(seconds + 0.5)} min"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."
