"""What can this air source deliver? Live figures, the plane, the guided sweep, the recording."""

from __future__ import annotations

import asyncio

from dash import Dash, html
from dash.development.base_component import Component

from frothline.screen import source_words
from frothline.screen.feed import WINDOWS, Feed
from frothline.screen.line import QUESTIONS
from frothline.screen.pages import parts
from frothline.screen.sweep_desk import SOURCE

RECORD, MARK, SWEEP = "source-record", "source-mark", "source-sweep"


def layout() -> Component:
    """The page; the guided sweep that its large button begins is laid over it, see ``pages.guide``."""
    return parts.page(
        "source",
        QUESTIONS["source"],
        html.Div(
            [
                parts.figure("now-line_pressure", "pressure"),
                parts.figure("now-standard_flow", "flow"),
                parts.figure("now-air_power", "air power"),
            ],
            className="figures",
        ),
        html.Div(
            [
                parts.picture(
                    "plane",
                    "Pressure over flow: the curve of the air source with its 95 % band, the steady points, and where "
                    "it stands now. The figures beside it say the same in numbers.",
                ),
                html.Div([_buttons(), _results()], className="beside"),
            ],
            className="plane-and-results",
        ),
        parts.block("findings", className="findings", role="status"),
        parts.block("overlay", className="overlay"),
        html.Div([html.H2("The last seconds"), _choice()], className="heading"),
        parts.picture("traces", "Pressure, flow and air power over the last seconds."),
        note="under each figure its 95 % range",
    )


def register(app: Dash, feed: Feed) -> None:
    """What the buttons do. Files and ports are touched in a thread, never in the server's loop."""

    async def record(asked: parts.Asked) -> str:
        recording = feed.session.snapshot().recording
        if recording is not None and not recording.ended:
            path = await asyncio.to_thread(feed.session.stop_recording)
            return f"Recording stopped. It lies in {path}" if path is not None else "There was no recording"
        name = asked.values.get(source_words.NAME, "")
        return f"Recording to {await asyncio.to_thread(feed.session.start_recording, name)}"

    async def mark(asked: parts.Asked) -> str:
        await asyncio.to_thread(feed.session.mark, asked.values.get(source_words.WORDS, ""))
        recording = feed.session.snapshot().recording
        kept = recording is not None and not recording.ended
        return "Marked in the recording" if kept else "Marked; it will be lost, for nothing is being recorded"

    async def start() -> str:
        return await asyncio.to_thread(feed.sweeps.start, SOURCE)

    async def answer(asked: parts.Asked) -> str:
        return await (mark if asked.verb == "mark" else record)(asked)

    parts.on_asked(app, "source", answer)
    parts.on_click(app, SWEEP, start)


def _results() -> Component:
    return html.Div(
        [
            html.H2("What it can give here"),
            html.Dl(
                [
                    parts.result("fit-shut_off", "shut-off pressure"),
                    parts.result("fit-free_delivery", "free delivery"),
                    parts.result("fit-air_power", "largest air power"),
                ],
                className="results",
            ),
            html.P(parts.live("fit-standard"), className="small"),
            html.P([parts.live("fit-points"), html.Span(". "), parts.live("fit-words")], className="small"),
        ]
    )


def _buttons() -> Component:
    return html.Div(
        [
            parts.live("sweep-line", tag=html.P, className="sweep-line", role="status"),
            html.Button(parts.live("sweep-start"), id=SWEEP, type="button", className="main", **{"data-guide": "yes"}),
            parts.asks("source"),
            html.Div(
                [
                    parts.block("record-name"),
                    html.Button(parts.live("record-button"), id=RECORD, type="button", **{"data-do": "source:record"}),
                ],
                className="row",
                **{"data-form": "record"},
            ),
            html.Div(
                [
                    parts.block("mark-words"),
                    html.Button("Mark", id=MARK, type="button", **{"data-do": "source:mark", "data-clears": "yes"}),
                ],
                className="row",
                **{"data-form": "mark"},
            ),
            html.P(
                [parts.live("recording-about"), html.Br(), parts.live("recording-where", className="path")],
                className="small",
            ),
        ],
        className="buttons",
    )


def _choice() -> Component:
    names = {30: "30 s", 120: "2 min", 600: "10 min"}
    return html.Div(
        [
            html.Button(names[seconds], type="button", className="quiet", **{"data-choose": f"seconds:{seconds}"})
            for seconds in WINDOWS
        ],
        className="choice",
        role="group",
        **{"aria-label": "how far back the traces reach"},
    )
