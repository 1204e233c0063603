"""Layout and callbacks of the bucket page: the run with its alarms, the sample timer, the batch."""

from __future__ import annotations

import asyncio

from dash import Dash, html
from dash.development.base_component import Component

from frothline.errors import InputError, SampleQuestioned
from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.bucket.link import LINK


def layout() -> Component:
    """The page: alarms, figures of the run, sample and batch."""
    return components.page(
        "bucket",
        LINK.question,
        components.block("alarms", className="alarms", role="alert"),
        html.Div(
            [
                components.figure("run-foam_rate", "foam rate"),
                components.figure("run-foam_total", "foam so far"),
                components.figure("run-time_left", "time to go"),
            ],
            className="figures",
        ),
        components.live("run-good", tag=html.P, className="good"),
        html.Div(
            [
                html.P(components.live("run-phase"), className="phase", role="status", **{"data-state": "run-phase"}),
                html.P([components.live("run-clock", className="clock")]),
            ],
            className="run-head",
            **{"data-state": "run"},
        ),
        html.Div(
            [
                html.Div(
                    [
                        html.H2("Run"),
                        components.block("run"),
                        html.Figure(
                            [
                                components.block("run-view"),
                                *components.caption("The generator of the sheet, side view to scale"),
                            ],
                            className="side-view small-view",
                        ),
                    ]
                ),
                html.Div([html.H2("Foam sample"), components.block("samples")]),
            ],
            className="run-and-sample",
        ),
        components.block("sample-results"),
        components.block("simulated-faults", className="simulated-faults"),
        components.block("run-more"),
        components.block("alarm-log"),
        html.Div(html.H2("Batch"), className="heading"),
        components.block("batch", className="batch"),
        html.Div(
            id="sample",
            className="whole-page",
            role="dialog",
            **{"data-block": "timer", "data-state": "sample-timer", "aria-modal": "true", "aria-label": "foam sample"},
        ),
        components.asks("bucket"),
        note="under each figure its 95 % range",
    )


def register(app: Dash, feed: Feed) -> None:
    """Register the actions of the buttons."""
    runs = feed.runs

    def do(asked: components.Asked) -> str:
        verb, argument = asked.verb, asked.argument
        if verb in {"press", "confirm"}:
            try:
                return runs.press(asked.values, confirmed=verb == "confirm")
            except SampleQuestioned:  # the timer shows the question with the figures to correct
                return ""
            except InputError:
                if runs.timer.look().wrong:  # shown at its field
                    return ""
                raise
        if verb == "begin":
            runs.timer.begin()
            return ""
        plain = {
            "start": runs.start,
            "stop": runs.stop,
            "discard": runs.discard,
            "foam": runs.make_foam,
            "refill": runs.refill,
        }
        if verb in plain:
            return plain[verb]()
        if verb == "fault":
            return runs.fault(argument)
        if verb == "heal":
            return runs.heal(argument)
        if verb == "keep-cup":
            return runs.keep_cup(argument)
        raise InputError(f"“{verb}” is not known here", remedy="Load the page again")

    async def answer(asked: components.Asked) -> str:
        return await asyncio.to_thread(do, asked)

    components.on_asked(app, "bucket", answer)
