"""Layout and callbacks of the guided calibration: its part of the spool page and the full-screen view."""

from __future__ import annotations

import asyncio

from dash import Dash, html
from dash.development.base_component import Component

from frothline.bench.playback_control import CALIBRATION, require_rig
from frothline.errors import InputError
from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.spool import labels
from frothline.web.pages.spool.calibration import read_answers


def head() -> Component:
    """The state of the calibrations, at the head of the spool page."""
    return html.Div([html.H2(labels.CALIBRATION), components.block("calibration-head")], className="calibration-head")


def at_rest() -> list[Component]:
    """The parts of the spool page with the calibrations that can be made, and those that were."""
    return [
        components.part("calibrate", labels.CALIBRATE, components.block("calibrations", className="calibrations")),
        components.part(
            "calibrated", labels.HISTORY, components.block("calibration-history", className="calibrations")
        ),
        components.asks("calibrate"),
    ]


def under_way() -> Component:
    """The full-screen view, for wet hands; it covers the page."""
    return html.Div(
        id="calibration",
        className="whole-page",
        role="dialog",
        **{
            "data-block": "calibration",
            "data-state": "calibration",
            "aria-modal": "true",
            "aria-label": labels.CALIBRATION_PLACE,
        },
    )


def register(app: Dash, feed: Feed) -> None:
    """Register the buttons of the calibration."""

    def do(asked: components.Asked) -> str:
        bench = feed.session.calibrating()
        verb, argument = asked.verb, asked.argument
        if verb in {"begin", "zero"}:
            require_rig(feed.session.snapshot(), CALIBRATION)
        if verb == "begin":
            bench.begin(argument, who=asked.values.get("who", ""))
        elif verb == "zero":
            bench.begin("zero", who=asked.values.get("who", ""), channel=argument)
            return labels.TAKING_ZERO
        elif verb == "answer":
            state = bench.state()
            if state is None:
                raise InputError(labels.NONE_UNDER_WAY, where=labels.CALIBRATION_PLACE, remedy=labels.START_ONE)
            bench.answer(**read_answers(state.prompt.questions, asked.values))
        elif verb == "previous":
            return labels.previous_in_use(argument, bench.use_previous(argument))
        elif verb == "finish":
            return labels.saved_in(bench.finish())
        elif verb in {"stop", "cancel", "again", "drop", "leave"}:
            getattr(bench, verb)()
        else:
            raise components.unknown(verb, where=labels.CALIBRATION_PLACE)
        return ""

    async def answer(asked: components.Asked) -> str:
        return await asyncio.to_thread(do, asked)

    components.on_asked(app, "calibrate", answer)
