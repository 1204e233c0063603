"""The record of pours on the batch page: what became of the foam in concrete. Pure functions."""

from __future__ import annotations

from frothline.bench.library import SEASON, FolderView
from frothline.formatting import show_estimate_in
from frothline.label_case import Name
from frothline.pours.jar import jar_rows
from frothline.trials.figures import BY_NAME, CONCRETE, unit_of
from frothline.trials.pours import Pour
from frothline.units import SYSTEMS
from frothline.web.elements import Node, figure_cell, in_reader_units, node, nodes, table
from frothline.web.pages.batch import labels

NEWEST = 4  # pours that are shown, the newest first; the report has them all


def block(seen: FolderView, system: str) -> list[Node | None]:
    """The newest pours and jars of the folder, what they leave open, and how one is recorded."""
    return [*_pours(seen, system), *_jars(seen, system)]


def _jars(seen: FolderView, system: str) -> list[Node | None]:
    """The newest jars; nothing without any."""
    jars = () if seen.pours is None else tuple(reversed(seen.pours.jars))[:NEWEST]
    if not jars:
        return []
    rows: list[list[Node]] = [
        [
            Name(one.record.title),
            *(
                figure_cell(show_estimate_in(estimate, SYSTEMS[system][kind], reason=why))
                for _, estimate, kind, why in jar_rows(one.outcome)
            ),
        ]
        for one in jars
    ]
    problems = [said for one in jars for said in one.problems]
    names = [text for one in jars for text in (one.name, one.record.title, one.record.trial) if text]
    parts: list[Node | None] = [
        node("h2", labels.JARS),
        table(labels.JARS_TABLE, labels.JAR_HEADS, rows, name="jars"),
        node("ul", *nodes("li", problems), class_="problems") if problems else None,
    ]
    return in_reader_units(parts, system, names)


def _pours(seen: FolderView, system: str) -> list[Node | None]:
    """The newest pours of the folder."""
    book = seen.pours
    top = [node("h2", labels.POURS)]
    if book is None or not (book.pours or book.problems):
        return [*top, node("p", labels.NO_POURS, class_="small")]
    shown = list(reversed(book.pours))[:NEWEST]
    names = [text for one in shown for text in (one.name, one.record.title, one.record.trial) if text]
    rows: list[list[Node]] = [
        [Name(one.record.title), *(_cell(one, name, system) for name in CONCRETE)] for one in shown
    ]
    problems = [*book.problems, *(said for one in shown for said in one.problems)]
    parts: list[Node | None] = [
        *top,
        node("p", labels.SIMULATED_POURS, class_="small") if seen.place == SEASON else None,
        table(labels.POURS_TABLE, labels.POUR_HEADS, rows, name="pours"),
        node(
            "p",
            *([] if book.law is None else [labels.law(f"{book.law.density:.0f} kg/m³", len(book.law.specimens))]),
            class_="small",
        ),
        node("ul", *nodes("li", problems), class_="problems") if problems else None,
        node("p", labels.MORE_POURS, class_="small"),
    ]
    return in_reader_units(parts, system, names)


def _cell(pour: Pour, name: str, system: str) -> Node:
    unit = unit_of(BY_NAME[name], SYSTEMS[system])
    return figure_cell(show_estimate_in(pour.figure(name), unit, reason=pour.why(name)))
