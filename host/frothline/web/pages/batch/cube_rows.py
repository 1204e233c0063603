"""Many cubes of several pours in one form of the batch page: a row each, with its pour. Pure functions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from frothline.bench.cube_record import BY_NAME, SHAPES
from frothline.bench.cube_rows import POUR, add_cubes, filled_rows, wrong_in_rows
from frothline.bench.record_entries import UNITS_OF_TIMES
from frothline.pours.record import CUBE, PourRecord
from frothline.sentence_units import in_units
from frothline.web import form_fields
from frothline.web.components import Asked
from frothline.web.elements import Node, button, node
from frothline.web.pages.batch import labels

ADD = "add-cubes"
VERBS = (ADD,)
FORM = "cubes"
IN_ROW = ("age", "mass", "load", "note")
FEWEST, SPARE, MOST = 3, 2, 24  # rows shown: at least, below the last filled one, at most


def block(
    wish: Mapping[str, tuple[str, ...]], pours: Sequence[PourRecord], system: str = "metric"
) -> list[Node | None]:
    """The form. ``pours`` : of the own folder, the newest first."""
    if not pours:
        return [node("p", labels.NO_OWN_POURS, class_="small")]
    form = f"{FORM}-{sum(len(one.specimens) for one in pours)}"  # saved cubes begin with other settings
    shape = _typed(wish, f"{form}-shape") or CUBE
    sizes = SHAPES.get(shape, SHAPES[CUBE])
    common = {name: _typed(wish, f"{form}-{name}") for name in sizes}
    rows = [
        {name: _typed(wish, f"{form}-{name}-{number}") for name in (POUR, *IN_ROW)} for number in range(1, MOST + 1)
    ]
    last = max((number for number, row in enumerate(rows, 1) if any(row.values())), default=0)
    rows = rows[: min(max(last + SPARE, FEWEST), MOST)]
    wrong = wrong_in_rows([{name: text for name, text in row.items() if name != POUR} for row in rows], system)
    wrong_sizes = wrong_in_rows([common], system)[0]
    names = [(one.name, one.title) for one in pours]
    choice = form_fields.entry(FORM, "shape", labels.SHAPE, choices=labels.SHAPES, value=shape, wish=f"{form}-shape")
    fields = [_field(name, name, form, common[name], wrong_sizes.get(name, ""), system) for name in sizes]
    form_rows = [
        _row(number, row, said, form, names, system)
        for number, (row, said) in enumerate(zip(rows, wrong, strict=True), 1)
    ]
    made = node(
        "div",
        node("div", choice, *fields, class_="entries"),
        *form_rows,
        button(labels.add_cubes(len(filled_rows(rows))), f"batch:{ADD}", look="main"),
        data_form=FORM,
        id=form,
    )
    return [node("p", labels.MANY_CUBES_ABOUT, class_="small"), made]


def typed(wish: Mapping[str, tuple[str, ...]]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What was typed and chosen in the form."""
    return tuple((name, text) for name, text in wish.items() if name.startswith(f"{FORM}-"))


def answer(asked: Asked, folder: Path) -> str:
    """Save the cubes of all rows, in a folder of recordings. Raises InputError, RecordingUnwritable."""
    values = asked.values
    sizes = {name: values.get(name, "") for name in SHAPES.get(values.get("shape", CUBE), SHAPES[CUBE])}
    rows = [
        {**sizes, **{name: values.get(f"{name}-{number}", "") for name in (POUR, *IN_ROW)}}
        for number in range(1, MOST + 1)
    ]
    return add_cubes(folder, rows, asked.system)


def _typed(wish: Mapping[str, tuple[str, ...]], name: str) -> str:
    return "".join(wish.get(name, ())[:1])


def _field(name: str, key: str, form: str, text: str, said: str, system: str) -> Node:
    entry = BY_NAME[name]
    return form_fields.entry(
        FORM,
        key,
        entry.label,
        value=text,
        hint=in_units(entry.about, system),
        note=said,
        look="wrong" if said else "",
        wish=f"{form}-{key}",
        measure=(entry.kind, system) if entry.kind else None,
        unit=UNITS_OF_TIMES.get(name, ""),
    )


def _row(
    number: int, row: Mapping[str, str], wrong: Mapping[str, str], form: str, pours: list[tuple[str, str]], system: str
) -> Node:
    """The fields of a cube. The first row has the newest pour where none is chosen, others that of the row above."""
    choice = form_fields.entry(
        FORM,
        f"{POUR}-{number}",
        labels.POUR,
        choices=pours if number == 1 else [("", labels.AS_ABOVE), *pours],
        value=row[POUR],
        wish=f"{form}-{POUR}-{number}",
    )
    fields = [_field(name, f"{name}-{number}", form, row[name], wrong.get(name, ""), system) for name in IN_ROW]
    return form_fields.group(labels.cube(number), "", [node("div", choice, *fields, class_="entries")])
