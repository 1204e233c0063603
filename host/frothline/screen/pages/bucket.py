"""How much foam, how good, how long still; which batch? The run and its alarms, the sample timer, the batch."""

from __future__ import annotations

import asyncio

from dash import Dash, html
from dash.development.base_component import Component

from frothline.errors import InputError, SampleQuestioned
from frothline.screen.feed import Feed
from frothline.screen.line import QUESTIONS
from frothline.screen.pages import parts


def layout() -> Component:
    """Alarms first, then the figures of the run; sample and batch below."""
    return parts.page(
        "bucket",
        QUESTIONS["bucket"],
        parts.block("alarms", className="alarms", role="alert"),
        html.Div(
            [
                parts.figure("run-foam_rate", "foam rate"),
                parts.figure("run-foam_total", "foam so far"),
                parts.figure("run-time_left", "time to go"),
            ],
            className="figures",
        ),
        parts.live("run-good", tag=html.P, className="good"),
        html.Div(
            [
                html.P(parts.live("run-phase"), className="phase", role="status", **{"data-state": "run-phase"}),
                html.P([parts.live("run-clock", className="clock")]),
            ],
            className="run-head",
            **{"data-state": "run"},
        ),
        html.Div(
            [
                html.Div(
                    [
                        html.H2("Run"),
                        parts.block("run"),
                        html.Figure(
                            [parts.block("run-view"), *parts.caption("The generator of the sheet, side view to scale")],
                            className="side-view small-view",
                        ),
                    ]
                ),
                html.Div([html.H2("Foam sample"), parts.block("samples")]),
            ],
            className="run-and-sample",
        ),
        parts.block("sample-results"),
        parts.block("simulated-faults", className="simulated-faults"),
        parts.block("run-more"),
        parts.block("alarm-log"),
        html.Div(html.H2("Batch"), className="heading"),
        parts.block("batch", className="batch"),
        html.Div(
            id="sample",
            className="whole-page",
            role="dialog",
            **{"data-block": "timer", "data-state": "sample-timer", "aria-modal": "true", "aria-label": "foam sample"},
        ),
        parts.asks("bucket"),
        note="under each figure its 95 % range",
    )


def register(app: Dash, feed: Feed) -> None:
    """What the buttons do."""
    runs = feed.runs

    def do(asked: parts.Asked) -> str:
        verb, argument = asked.verb, asked.argument
        if verb in {"press", "confirm"}:
            try:
                return runs.press(asked.values, confirmed=verb == "confirm")
            except SampleQuestioned:  # the question is shown in the timer, with the figures to correct
                return ""
            except InputError:
                if runs.timer.look().wrong:  # said at its field, where it can be mended
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

    async def answer(asked: parts.Asked) -> str:
        return await asyncio.to_thread(do, asked)

    parts.on_asked(app, "bucket", answer)
