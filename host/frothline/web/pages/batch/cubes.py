"""Cubes and settlement on the batch page: added to a recorded pour, and corrected. Pure functions, and the buttons."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

from frothline.bench.cube_record import (
    ENTRIES,
    SHAPES,
    add_cube,
    add_settlement,
    correct_cube,
    remove_cube,
    shape_of,
    specimen_texts,
    stamp,
    wrong_entries,
)
from frothline.bench.record_entries import UNITS_OF_TIMES
from frothline.errors import InputError
from frothline.formatting import DASH
from frothline.pours.later_entries import SETTLEMENT, wrong_settlement
from frothline.pours.record import CUBE, PourRecord, Specimen
from frothline.quantities import in_entry_unit, with_unit
from frothline.web import form_fields
from frothline.web.components import RELOAD, Asked
from frothline.web.elements import Node, button, node, table
from frothline.web.pages.batch import labels

ADD, CORRECT, REMOVE, SETTLE = "add-cube", "correct-cube", "remove-cube", "settle"
VERBS = (ADD, CORRECT, REMOVE, SETTLE)
FORM = "cube"
CHOSEN, OPEN = f"{FORM}-pour", f"{FORM}-open"  # viewer settings: the pour, and the cube that is corrected
_SIZES = {name for names in SHAPES.values() for name in names}


def block(
    wish: Mapping[str, tuple[str, ...]], pours: Sequence[PourRecord], system: str = "metric"
) -> list[Node | None]:
    """The choice of the pour, its cubes, and the forms. ``pours`` : of the own folder, the newest first."""
    if not pours:
        return [node("p", labels.NO_OWN_POURS, class_="small")]
    name = "".join(wish.get(CHOSEN, ())[:1])
    pour = next((one for one in pours if one.name == name), pours[0])
    opened = "".join(wish.get(OPEN, ())[:1])
    chosen = next((one for one in pour.specimens if _key(pour, one) == opened), None)
    file = f"{pour.name}.toml" if pour.path is None else pour.path.name
    return [
        node("p", labels.CUBES_ABOUT, class_="small"),
        node(
            "div",
            form_fields.entry(
                FORM,
                "pour",
                labels.POUR,
                choices=[(one.name, one.title) for one in pours],
                value=pour.name,
                wish=CHOSEN,
            ),
            class_="entries",
        ),
        node("p", labels.pour_place(file), class_="small"),
        _written(pour, opened, system) if pour.specimens else None,
        _cube_form(wish, pour, chosen, system),
        _settlement_form(wish, pour, system),
    ]


def typed(wish: Mapping[str, tuple[str, ...]]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What was typed and chosen in the forms."""
    return tuple((name, text) for name, text in wish.items() if name.startswith(f"{FORM}-"))


def answer(asked: Asked, folder: Path) -> str:
    """Do what a button requests, in a folder of recordings. Raises InputError, RecordingUnwritable."""
    values = dict(asked.values)
    if asked.verb == SETTLE:
        return add_settlement(folder, asked.argument, values.get("top", ""), values.get("by", ""), asked.system)
    shape = values.pop("shape", CUBE)
    for one in _SIZES.difference(SHAPES.get(shape, ())):
        values[one] = ""
    if asked.verb == ADD:
        return add_cube(folder, asked.argument, values, asked.system)
    pour, _, cube = asked.argument.partition("/")
    number, _, seen = cube.partition("/")
    if not number.isdecimal():
        raise InputError(labels.NO_CUBE, where=labels.CUBES, remedy=RELOAD)
    if asked.verb == REMOVE:
        return remove_cube(folder, pour, int(number), seen)
    return correct_cube(folder, pour, int(number), values, asked.system, seen)


def _key(pour: PourRecord, specimen: Specimen) -> str:
    return f"{pour.name}/{specimen.number}/{stamp(specimen)}"


def _written(pour: PourRecord, opened: str, system: str) -> Node:
    rows: list[list[Node]] = []
    for one in pour.specimens:
        texts = specimen_texts(one, system)
        size = " × ".join(texts[name] for name in SHAPES[shape_of(one)])
        key = _key(pour, one)
        open_it = button(labels.CORRECT, "", also=f"{OPEN}:{key}", aria_pressed=str(key == opened).lower())
        dry = labels.dry(texts["dry-mass"]) if texts["dry-mass"] else ""
        cells = (text or DASH for text in (texts["age"], texts["mass"], texts["load"], dry))
        rows.append([labels.cube(one.number), size, *cells, open_it])
    return table(labels.CUBES_TABLE, labels.CUBES_HEADS, rows, name="cubes")


def _cube_form(wish: Mapping[str, tuple[str, ...]], pour: PourRecord, chosen: Specimen | None, system: str) -> Node:
    """The form of a new cube, or of the chosen one; a saved one begins with other settings."""
    form = f"{FORM}-{pour.name}-{len(pour.specimens)}" if chosen is None else f"{FORM}-{_key(pour, chosen)}"
    last = pour.specimens[-1] if chosen is None and pour.specimens else chosen
    saved = dict.fromkeys((one.name for one in ENTRIES), "") if last is None else specimen_texts(last, system)
    if chosen is None:  # cubes of one mould have one size
        saved = {name: text if name in _SIZES else "" for name, text in saved.items()}
    shape = "".join(wish.get(f"{form}-shape", ())[:1]) or (CUBE if last is None else shape_of(last))
    names = [one.name for one in ENTRIES if one.name not in _SIZES or one.name in SHAPES.get(shape, SHAPES[CUBE])]
    texts = {name: "".join(wish[f"{form}-{name}"][:1]) if f"{form}-{name}" in wish else saved[name] for name in names}
    wrong = wrong_entries(texts, system)

    def field(name: str) -> Node:
        entry = next(one for one in ENTRIES if one.name == name)
        changed = chosen is not None and texts[name].strip() != saved[name]
        return form_fields.entry(
            FORM,
            name,
            entry.label,
            value=texts[name],
            hint=entry.about,
            note=wrong.get(name, "") or (labels.was(saved[name]) if changed else ""),
            look="wrong" if name in wrong else "changed" if changed else "",
            wish=f"{form}-{name}",
            measure=(entry.kind, system) if entry.kind else None,
            unit=UNITS_OF_TIMES.get(name, ""),
        )

    choice = form_fields.entry(FORM, "shape", labels.SHAPE, choices=labels.SHAPES, value=shape, wish=f"{form}-shape")
    buttons = (
        [button(labels.ADD_CUBE, f"batch:{ADD}:{pour.name}", look="main")]
        if chosen is None
        else [
            button(labels.SAVE_CORRECTION, f"batch:{CORRECT}:{_key(pour, chosen)}", look="main"),
            button(labels.TAKE_OUT, f"batch:{REMOVE}:{_key(pour, chosen)}", look=""),
            button(labels.CLOSE, "", also=f"{OPEN}:"),
        ]
    )
    return node(
        "div",
        node("h3", labels.NEW_CUBE if chosen is None else labels.correct_cube(chosen.number)),
        node("div", choice, *(field(name) for name in names), class_="entries"),
        node("div", *buttons, class_="choice"),
        data_form=FORM,
        id=form.replace("/", "-"),
    )


def _settlement_form(wish: Mapping[str, tuple[str, ...]], pour: PourRecord, system: str) -> Node:
    known = math.isfinite(pour.sank)
    written = SETTLEMENT[int(pour.sank < 0.0)] if known else ""
    depth = in_entry_unit(abs(pour.sank), "length", system) if known else ""
    form = f"{FORM}-{pour.name}-settled-{pour.sank:.6g}"
    top = "".join(wish.get(f"{form}-top", ())[:1]) or written or SETTLEMENT[0]
    text = "".join(wish.get(f"{form}-by", ())[:1])
    problem = _wrong_depth(text, system)
    return node(
        "div",
        node("h3", labels.SETTLEMENT),
        node("p", labels.settled_as(written, depth), class_="small") if known else None,
        node(
            "div",
            form_fields.entry("settled", "top", labels.TOP, choices=labels.SETTLED, value=top, wish=f"{form}-top"),
            form_fields.entry(
                "settled",
                "by",
                labels.BY,
                value=text,
                note=problem,
                look="wrong" if problem else "",
                wish=f"{form}-by",
                measure=("length", system),
            ),
            class_="entries",
        ),
        button(labels.SAVE_SETTLEMENT, f"batch:{SETTLE}:{pour.name}", look=""),
        data_form="settled",
        id=form,
    )


def _wrong_depth(text: str, system: str) -> str:
    return wrong_settlement(with_unit(text.strip(), "length", system)) if text.strip() else ""
