"""Layout and callbacks of the run page: the answers, the state with its alarms and buttons, samples, details."""

from __future__ import annotations

import asyncio
from typing import Any

from dash import Dash, html
from dash.development.base_component import Component

from frothline.bench.playback_control import SAMPLE, require_rig
from frothline.bench.sample_correction import KINDS as CORRECTED
from frothline.bench.sample_timer import KINDS
from frothline.errors import InputError, SampleQuestioned
from frothline.quantities import with_units
from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.run import blocks, labels


def layout() -> Component:
    """The page: three figures, the room for state and alarms, samples, and details to open."""
    return components.page(
        "run",
        labels.QUESTION,
        html.Div(
            [components.figure(f"run-{name}", title) for name, title in labels.ANSWERS],
            className="figures",
        ),
        html.Div(
            [
                html.Div(
                    [
                        components.picture("run-chart", labels.CHART_ABOUT),
                        html.P(
                            [html.Span(words, className=f"key-{kind}") for kind, words in labels.CHART_KEY],
                            className="key",
                        ),
                    ],
                    className="run-pictures",
                ),
                _room(),
                html.Figure(
                    [components.block("run-view"), *components.caption(labels.SIDE_VIEW)],
                    className="side-view small-view",
                ),
            ],
            className="run-watch",
            **{"data-state": "run-chart"},
        ),
        html.Div(html.H2(labels.SAMPLE), className="heading"),
        components.block("samples", className="samples"),
        components.block("sample-results"),
        components.block("sample-correction"),
        _drawer(labels.FAULTS, "simulated-faults", "run-faults"),
        _drawer(labels.DETAILS, "run-more"),
        _drawer(labels.ALARM_LOG, "alarm-log"),
        html.Div(
            id="sample",
            className="whole-page",
            role="dialog",
            **{"data-block": "timer", "data-state": "sample-timer", "aria-modal": "true", "aria-label": labels.SAMPLE},
        ),
        components.asks("run"),
        note=labels.INTERVALS,
    )


def _room() -> Component:
    """State, alarms and buttons in a room of fixed height: an alarm moves nothing outside of it and no button."""
    return html.Div(
        [
            html.Div(
                [
                    html.P(
                        components.live("run-phase"), className="phase", role="status", **{"data-state": "run-phase"}
                    ),
                    html.P([components.live("run-clock", className="clock")]),
                ],
                className="run-head",
            ),
            components.live("run-agreement", tag=html.P, className="agreement", role="status"),
            components.live("run-good", tag=html.P, className="good"),
            components.block("alarms", className="alarms", role="alert", tabIndex=0),
            components.block("run", className="run-buttons", **{"data-form": "run"}),
        ],
        className="room",
        **{"data-state": "run"},
    )


def _drawer(title: str, key: str, state: str = "") -> Component:
    """A part that is closed until somebody opens it. ``state`` : name of the state that hides it."""
    more: dict[str, Any] = {"data-state": state} if state else {}
    return components.drawer(title, components.block(key, className=key), **more)


def register(app: Dash, feed: Feed) -> None:
    """Register the actions of the buttons."""
    runs = feed.runs

    def do(asked: components.Asked) -> str:
        verb, argument = asked.verb, asked.argument
        if verb in {"press", "confirm"}:
            try:
                return runs.press(with_units(asked.values, KINDS, asked.system), confirmed=verb == "confirm")
            except SampleQuestioned:  # the timer shows the question with the figures to correct
                return ""
            except InputError:
                if runs.timer.look().wrong:  # shown at its field
                    return ""
                raise
        if verb in {"correct", "correct-anyway"}:
            try:
                typed = with_units(asked.values, CORRECTED, asked.system)
                return runs.samples.correct(argument, typed, confirmed=verb == "correct-anyway")
            except SampleQuestioned:  # the form shows the question
                return ""
        if verb in {"withdraw", "count-again"}:
            return runs.samples.count_sample(argument, counts=verb == "count-again")
        if verb == "begin":
            require_rig(feed.session.snapshot(), SAMPLE)
            runs.samples.begin()
            return ""
        plain = {"stop": runs.stop, "discard": runs.discard, "refill": runs.refill, "refilled": runs.refilled}
        if verb in plain:
            return plain[verb]()
        named = {"start": runs.start, "foam": runs.make_foam}
        if verb in named:
            return named[verb](asked.values.get(blocks.NAME, ""))
        with_argument = {"fault": runs.fault, "heal": runs.heal, "false-alarm": runs.false_alarm}
        if verb in with_argument:
            return with_argument[verb](argument)
        raise components.unknown(verb)

    async def answer(asked: components.Asked) -> str:
        return await asyncio.to_thread(do, asked)

    components.on_asked(app, "run", answer)
