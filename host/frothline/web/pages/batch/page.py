"""Layout and callbacks of the batch page: entries, amounts, corrections at the mixer, cautions."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from pathlib import Path

from dash import Dash
from dash.development.base_component import Component
from fastapi import Request
from fastapi.responses import HTMLResponse

from frothline.bench.library import OWN
from frothline.bench.pour_plan_form import FORM, typed_plan, worked_plan
from frothline.bench.pour_planning import all_problems
from frothline.errors import FrothlineError
from frothline.pours.prices import FILE, read_prices
from frothline.units import SYSTEMS
from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.batch import cube_rows, cubes, jars, labels, record
from frothline.web.pages.batch.plan import CARD
from frothline.web.viewer import LONGEST_WISH


def layout() -> Component:
    """The page: the batch, and its cautions to open."""
    return components.page(
        "batch",
        labels.QUESTION,
        components.block("batch", className="batch"),
        components.part("pour-plan", labels.PLAN, components.block("batch-plan", className="batch pour-plan")),
        components.part("record-pour", labels.RECORD_POUR, components.block("batch-record", className="batch")),
        components.block("batch-pours", className="batch-pours"),
        components.part("record-jar", labels.RECORD_JAR, components.block("batch-jar", className="batch")),
        components.part("cubes", labels.CUBES, components.block("batch-cubes", className="batch")),
        components.part("cube-rows", labels.MANY_CUBES, components.block("batch-cube-rows", className="batch")),
        components.drawer(labels.CAUTIONS, components.block("batch-cautions")),
        components.asks("batch"),
    )


def register(app: Dash, feed: Feed) -> None:
    """Register the action of the button."""

    async def answer(asked: components.Asked) -> str:
        for forms in (record, cubes, cube_rows, jars):
            if asked.verb in forms.VERBS:
                return await asyncio.to_thread(_written, feed, asked, forms.answer)
        if asked.verb != "keep-cup":
            raise components.unknown(asked.verb)
        return await asyncio.to_thread(feed.runs.keep_cup, asked.argument)

    components.on_asked(app, "batch", answer)

    @app.server.get(CARD)  # type: ignore[untyped-decorator]
    async def card(request: Request) -> HTMLResponse:
        try:
            return HTMLResponse(await asyncio.to_thread(_card, feed, dict(request.query_params)))
        except FrothlineError as error:
            return HTMLResponse(components.sorry(labels.NO_CARD, str(error)), status_code=404)


def _written(feed: Feed, asked: components.Asked, write: Callable[[components.Asked, Path], str]) -> str:
    """Write or change a file in the own folder."""
    place = feed.library.places[OWN]
    said = write(asked, place.folder)
    place.expire()
    return said


def _card(feed: Feed, asked: Mapping[str, str]) -> str:
    """The card of the plan whose entries are in the address."""
    from frothline.report.pour_plan import plan_card  # noqa: PLC0415  seldom

    now = feed.snapshot()
    name = asked.get("system", "metric")
    system = name if name in SYSTEMS else "metric"
    typed = typed_plan({f"{FORM}-{key}": (text[:LONGEST_WISH],) for key, text in asked.items()})
    _, habits = feed.runs.habits()
    dilution = feed.desk.built.solution.dilution
    path = now.folder / FILE
    prices = read_prices(path) if path.is_file() else None
    found = worked_plan(typed, now.run, dilution, habits, system, prices, simulated=now.simulated)
    if found.plan is None:
        raise all_problems(found.wrong)
    return plan_card(found.plan, system=SYSTEMS[system]).html
