"""The block of the batch page: form, result and corrections at the mixer. Pure functions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import isfinite

from frothline.bench.batch_form import CORRECTIONS, ENTRIES, FORM, WorkedBatch
from frothline.errors import InputError
from frothline.estimate import Z95, Estimate
from frothline.foam.batch_cautions import CAUTIONS
from frothline.foam.concrete_batch import ConcreteBatch, correct_cast, correct_slurry
from frothline.foam.dilution import Dilution
from frothline.foam.dosing import SHORTEST_BY_TIME
from frothline.formatting import Shown, running_time, show_estimate, show_time, unit_of
from frothline.quantities import read_quantity
from frothline.sentence_units import in_units
from frothline.web import form_fields
from frothline.web.elements import Node, button, node, nodes, table
from frothline.web.pages.batch import labels
from frothline.web.texts import sentence


def block(values: Mapping[str, str], found: WorkedBatch, dilution: Dilution, system: str) -> list[Node | None]:
    """Form, result and corrections."""
    form = node(
        "div",
        *(_entry(name, label, hint, kind, values, found.wrong, system) for name, label, hint, kind in ENTRIES[:1]),
        form_fields.entry(
            FORM,
            "dry",
            labels.BASIS,
            choices=labels.BASES,
            value=values["dry"],
            wish=f"{FORM}-dry",
        ),
        *(_entry(name, label, hint, kind, values, found.wrong, system) for name, label, hint, kind in ENTRIES[1:]),
        class_="entries",
    )
    parts: list[Node | None] = [form, node("p", found.source, class_="small", role="status")]
    if found.batch is not None and found.foam is not None:
        parts += _result(found, dilution, system)
        parts += _corrections(values, found, system)
    return parts


def caution_block(batch: ConcreteBatch | None = None) -> list[Node | None]:
    """The cautions of a batch; those of every batch without one."""
    return [node("ul", *nodes("li", CAUTIONS if batch is None else batch.cautions), class_="batch-cautions")]


def _entry(
    name: str, label: str, hint: str, kind: str, values: Mapping[str, str], wrong: Mapping[str, str], system: str
) -> Node:
    return form_fields.entry(
        FORM,
        name,
        label,
        value=values.get(name, ""),
        hint=in_units(hint, system),
        note=wrong.get(name, ""),
        look="wrong" if name in wrong else "",
        mode=form_fields.keyboard(kind),
        wish=f"{FORM}-{name}",
        measure=None if kind in {"number", "share"} else (kind, system),
        unit="%" if kind == "share" else "",
    )


def _result(found: WorkedBatch, dilution: Dilution, system: str) -> list[Node | None]:
    batch, (light, heavy) = found.batch, found.ends
    assert batch is not None
    mix, share = batch.mix, 1.0 / batch.bags
    mass = unit_of("mass", system)

    def kg(value: float) -> str:
        return f"{mass.from_si(value):.4g} {mass.symbol}"

    def row(title: str, quantity: str, of: Callable[[ConcreteBatch, float], float]) -> list[Node]:
        return [title, *(_between(of, batch, light, heavy, quantity, system, part) for part in (1.0, share))]

    def running(part: float) -> Node:
        reason = found.no_output or labels.NO_OUTPUT
        return _with_range(show_time(batch.run_time_of(part), reason=reason))

    def litres(value: float) -> str:
        unit = unit_of("volume", system)
        return f"{unit.from_si(value):.3g} {unit.symbol}"

    sand: list[list[Node]] = [[labels.SAND, kg(mix.sand), kg(mix.sand * share)]] if mix.sand > 0 else []
    rows: list[list[Node]] = [
        [labels.CEMENT, labels.bags(kg(mix.cement), batch.bags), kg(batch.order.bag)],
        *sand,
        row(labels.MIXER_WATER, "mass", lambda one, part: one.mix.mixer_water * part),
        row(labels.FOAM, "volume", lambda one, part: one.foam_volume * part),
        [labels.RUNS, running(1.0), running(share)],
        [
            labels.buckets(litres(batch.order.bucket)),
            *(f"{batch.dosing.buckets * part:.1f}" for part in (1.0, share)),
        ],
        row(labels.solution(dilution), "volume", ConcreteBatch.solution_of),
        row(labels.AGENT, "volume", ConcreteBatch.agent_of),
        row(labels.SOLUTION_WATER, "volume", lambda one, part: one.solution_of(part) - one.agent_of(part)),
    ]
    said: list[Node] = [
        node("p", sentence(text), class_="odd" if text in batch.warnings else "small") for text in batch.said
    ]
    cast = show_estimate(batch.cast_density, "density", system)
    dry = show_estimate(batch.dry_density, "density", system)
    outcome = node(
        "p",
        labels.RESULT,
        node("b", f"{cast.value} {cast.unit}"),
        labels.cast(cast.under),
        labels.outcome(f"{dry.value} {dry.unit} ({dry.under})", batch.foam_share, batch.true_water_cement),
        class_="outcome",
    )
    return [table(labels.TABLE, labels.HEADS, rows, name="batch"), outcome, *said]


def _between(
    of: Callable[[ConcreteBatch, float], float],
    batch: ConcreteBatch,
    light: ConcreteBatch | None,
    heavy: ConcreteBatch | None,
    quantity: str,
    system: str,
    part: float,
) -> Node:
    """A figure of a share of the batch over the possible range of foam density."""
    value = of(batch, part)
    ends = sorted(of(one, part) for one in (light, heavy) if one is not None)
    if len(ends) < 2 or not ends[0] <= value <= ends[1]:
        unit = unit_of(quantity, system)
        return _with_range(Shown(f"{unit.from_si(value):.2g}", unit.symbol, labels.NO_UNCERTAINTY))
    u = (ends[1] - ends[0]) / (2 * Z95)
    return _with_range(show_estimate(Estimate(value, u, ends[0], ends[1], ""), quantity, system))


def _with_range(shown: Shown) -> Node:
    return node("span", f"{shown.value} {shown.unit}".strip(), " ", node("small", shown.under))


def _corrections(values: Mapping[str, str], found: WorkedBatch, system: str) -> list[Node | None]:
    batch, foam = found.batch, found.foam
    assert batch is not None
    assert foam is not None
    parts: list[Node] = []
    kept: Node | None = None
    for name, label, hint, kind in CORRECTIONS:
        text, note, look = values[name], "", ""
        if text and name not in found.wrong:
            try:
                density = read_quantity(text, kind, system)
                correction = (
                    correct_slurry(batch, foam, density) if name == "slurry" else correct_cast(batch, foam, density)
                )
                note = sentence(correction.words)
                if isfinite(correction.run_time) and correction.run_time >= SHORTEST_BY_TIME:
                    runs = labels.runs_in_all if name == "slurry" else labels.runs_more
                    note += runs(spoken(correction.run_time))
                look = "said"
                if correction.survival is not None:
                    cup = (
                        density,
                        batch.mix.cast_density,
                        correction.survival.value,
                        correction.survival.standard_uncertainty,
                    )
                    argument = "/".join(f"{one:.6g}" for one in cup)
                    kept = button(labels.SAVE_CUP, f"batch:keep-cup:{argument}")
            except (ValueError, InputError) as error:
                note, look = str(error), "wrong"
        elif name in found.wrong:
            note, look = found.wrong[name], "wrong"
        parts.append(
            form_fields.entry(
                FORM,
                name,
                label,
                value=text,
                hint=hint,
                note=note,
                look=look,
                wish=f"{FORM}-{name}",
                measure=(kind, system),
            )
        )
    return [node("h3", labels.AT_MIXER), node("div", *parts, class_="entries two-wide"), kept]


def spoken(seconds: float) -> str:
    """A run time as text: seconds below a minute, minutes and seconds above."""
    return f"{seconds:.0f} s" if seconds < 59.5 else labels.minutes(running_time(seconds + 0.5))
