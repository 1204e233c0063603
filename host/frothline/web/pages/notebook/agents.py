"""The foaming agents on the notebook page: surface tension, and their comparison in blocks. Pure functions."""

from __future__ import annotations

from functools import partial

from frothline.bench.background import BackgroundAnswer
from frothline.bench.library import FolderView, Library
from frothline.foam.agent import TENSION
from frothline.formatting import show_estimate_in
from frothline.label_case import Name
from frothline.rounding import counted
from frothline.sentence_units import in_units
from frothline.trials.agent_comparison import compare_agents
from frothline.units import SYSTEMS
from frothline.web.elements import Node, figure_cell, node, nodes, table
from frothline.web.pages.notebook import labels


def ask_agents(shelf: Library, seen: FolderView, response: str) -> BackgroundAnswer | None:
    """Request the comparison of the agents on a figure; None before the folder is read."""
    if not seen.ready:
        return None
    return shelf.answers.look(
        ("agents", seen.place, seen.look, response), partial(compare_agents, seen.trials, response)
    )


def agents_state(seen: FolderView) -> str:
    """How many there are."""
    return "" if seen.agents is None or not seen.agents.agents else counted(len(seen.agents.agents), "file")


def agents(seen: FolderView, answer: BackgroundAnswer | None, system: str) -> list[Node | None]:
    """The agents of the folder, and the comparison of those of its trials on the figure of the effects."""
    book = seen.agents
    parts: list[Node | None] = []
    if book is None or not (book.agents or book.problems):
        parts.append(node("p", labels.NO_AGENTS, class_="small"))
    else:
        rows: list[list[Node]] = [
            [
                Name(one.name),
                figure_cell(show_estimate_in(one.surface_tension, TENSION, reason=labels.NOT_MEASURED)),
                in_units("; ".join(f"{label} {text}" for label, text in one.facts()), system, [one.name]),
            ]
            for one in book.agents
        ]
        problems = [*book.problems, *(said for one in book.agents for said in one.problems)]
        parts.append(table(labels.AGENTS_TABLE, labels.AGENT_HEADS, rows, name="agents") if rows else None)
        parts.append(node("ul", *nodes("li", problems), class_="problems") if problems else None)
    if answer is None or answer.working:
        return [*parts, node("p", labels.CALCULATING) if answer is not None else None]
    if answer.trouble:
        return [*parts, node("p", labels.not_compared(answer.trouble), class_="small")]
    found = answer.value
    names = list(found.found.treatments)
    said = [in_units(one, system, names) for one in found.lines(SYSTEMS[system])]
    return [
        *parts,
        node("h3", labels.compared(found.figure.label, counted(len(found.found.blocks), "day"))),
        node("ul", *nodes("li", said), class_="said"),
    ]
