"""Layout and callbacks of the generator page: side view, operating point, build sheet as a form."""

from __future__ import annotations

import asyncio
from typing import Any

from dash import Dash, html
from dash.development.base_component import Component

from frothline.bench.generator_files import save_generator_file
from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.own_build import own_build_in
from frothline.bench.workspace_state import WorkspaceState
from frothline.errors import InputError
from frothline.generator.sheet_form import entry_kind
from frothline.label_case import label_case
from frothline.quantities import check_range, read_number, read_quantity, with_units
from frothline.units import SYSTEMS
from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.generator import labels
from frothline.web.pages.generator.handles import slid

HOW_MEASURED = "how-measured"  # id of the link to it; a replay has none
MEASURED = "as-measured"  # id of the part with the sweeps of the generator


def layout() -> Component:
    """The page: operating point, drawing and chart, then the entries; everything else is closed at first."""
    return components.page(
        "generator",
        labels.QUESTION,
        html.Div(
            [
                components.figure("meet-pressure", labels.POINT),
                components.figure("meet-flow", labels.FLOW),
                components.figure("meet-foam", labels.FOAM),
            ],
            className="figures",
            **{"data-state": "meet"},
        ),
        html.Div(
            [
                components.live("meet-words", tag=html.P, className="meet-words", **{"data-state": "meet-words"}),
                html.P(
                    html.A(labels.HOW_MEASURED, href=f"#{MEASURED}"),
                    id=HOW_MEASURED,
                    className="small",
                    **{"data-state": "measures"},
                ),
            ],
            role="status",
        ),
        components.block("stops", className="cautions", role="alert"),
        html.Figure(
            [components.block("side-view"), *components.caption(labels.SIDE_VIEW)],
            className="side-view",
        ),
        components.block("sliders"),
        html.Div([_where(), _what_if()], className="chart-and-entries"),
        components.drawer(
            labels.PREDICTION,
            components.live("meet-rest", tag=html.P, className="small"),
            components.block("verdict", className="verdict"),
        ),
        components.drawer(
            labels.AS_MEASURED,
            components.block("through", className="through"),
            components.block("measured"),
            brief="measured-brief",
            key=MEASURED,
        ),
        components.drawer(labels.FIND_SIZE, components.block("sizes")),
        components.drawer(
            labels.SAFETY, components.block("cautions", className="cautions"), brief="safety-brief", open_wide=True
        ),
        components.asks("sheet"),
        note=labels.INTERVALS,
    )


def _where() -> Component:
    return components.picture("meeting", labels.CHART_ABOUT)


def _what_if() -> Component:
    """The entries of the build sheet, one group open at a time, below what they change."""
    return html.Div(
        [
            html.Div(html.H2(labels.WHAT_IF_TITLE), className="heading"),
            components.live("sheet-shared", tag=html.P, className="sweep-line", role="status"),
            components.block("sheet-head", className="sheet-head"),
            html.Div(
                [
                    components.block("sheet-form"),
                    components.drawer(labels.AIR_SOURCE, components.block("sheet-source"), brief="source-brief"),
                    components.drawer(
                        labels.KEEP, components.block("sheet-keep", className="keep"), brief="keep-brief", key="builds"
                    ),
                ],
                **{"data-one-open": "yes"},
            ),
        ],
        className="what-if",
    )


def register(app: Dash, feed: Feed) -> None:
    """Register the form and its buttons. A thread reads recordings and searches sizes."""
    desk = feed.desk

    def do(asked: components.Asked) -> str:
        values = asked.values
        if asked.verb == "edit":
            desk.edit(with_units(values, {path: entry_kind(path) for path in values}, asked.system))
            return ""
        if asked.verb == "slide":
            _slide(desk, asked)
            return ""
        if asked.verb == "undo":
            desk.undo()
            return labels.DISCARDED
        if asked.verb == "plan":
            if desk.edited is None:
                raise InputError(labels.INVALID_ENTRY, where=labels.NEXT_TRIAL, remedy=labels.CORRECT_ENTRY)
            return feed.plans.add(desk.edited)
        if asked.verb == "pass-on":
            path = save_generator_file(feed.snapshot().folder, values.get("name", ""), desk.look())
            return labels.passed_on(path)
        if asked.verb == "save":
            return label_case(labels.saved_as(desk.save(values.get("name", ""))))
        if asked.verb == "own":
            found = own_build_in(feed.snapshot().folder, values.get("received", ""), values.get("name", ""))
            desk.open(found.path.name)
            return ". ".join(one.rstrip(".") for one in found.words)
        if asked.verb == "open":
            asked_for = desk.look().leaving if asked.argument == "leave" else None
            if asked_for is not None:
                return desk.open(asked_for, leave=True)
            return desk.open(values.get("file", ""))
        if asked.verb == "stay":
            return desk.stay()
        if asked.verb == "choose":
            return desk.choose(asked.argument, values.get(asked.argument, ""))
        if asked.verb == "try":
            return desk.try_size(int(asked.argument) if asked.argument.isdigit() else -1)
        if asked.verb == "search":
            wanted = values.get("wanted", "")
            return desk.search(
                values.get("change", ""), wanted, _value(values.get("value", ""), wanted, asked.argument)
            )
        raise components.unknown(asked.verb)

    def noted(asked: components.Asked) -> str:
        before = _shared(desk.look())
        try:
            return do(asked)
        finally:
            if _shared(desk.look()) != before:
                feed.shared_edits.note(asked.page)

    async def answer(asked: components.Asked) -> str:
        return await asyncio.to_thread(noted, asked)

    components.on_asked(app, "sheet", answer)


def _shared(state: WorkspaceState) -> tuple[Any, ...]:
    """What all pages share of the form."""
    return dict(state.values), dict(state.chosen), state.name


def _slide(desk: GeneratorWorkspace, asked: components.Asked) -> None:
    path = asked.argument
    if path not in labels.SLIDERS or path not in asked.values:
        return
    try:
        desk.edit({path: slid(asked.values[path], asked.system)})
    except ValueError as error:
        raise InputError(str(error), where=labels.SLIDERS[path], remedy=components.RELOAD) from None


def _value(text: str, wanted: str, system: str) -> float:
    """Read a typed target figure; a number without a unit is in the reader's unit. SI."""
    known = system if system in SYSTEMS else "metric"
    try:
        if wanted == "air_to_solution":
            return check_range(read_number(text), above=0)
        return check_range(read_quantity(text, "pressure" if wanted == "pressure" else "air_flow", known), above=0)
    except ValueError as error:
        raise InputError(str(error), where=labels.TO, remedy=labels.NUMBER_EXAMPLE) from None
