"""What can this air source deliver? Live figures, the plane, the guided sweep, the recording."""

from __future__ import annotations

import asyncio

from dash import Dash, html
from dash.development.base_component import Component

from frothline.screen import source_words
from frothline.screen.feed import WINDOWS, Feed
from frothline.screen.line import QUESTIONS
from frothline.screen.pages import parts

RECORD, MARK, SWEEP = "source-record", "source-mark", "source-sweep"
NEXT, END, LOOK = "sweep-next", "sweep-end", "sweep-look"


def layout() -> Component:
    """The page, and over it the guided sweep, which takes the whole screen while it runs."""
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
        _sweep(),
        note="under each figure its 95 % range",
    )


def register(app: Dash, feed: Feed) -> None:
    """What the buttons do. Files and ports are touched in a thread, never in the server's loop."""

    async def record(asked: parts.Asked) -> str:
        if feed.session.snapshot().recording is not None:
            path = await asyncio.to_thread(feed.session.stop_recording)
            return f"Recording stopped. It lies in {path}" if path is not None else "There was no recording"
        name = asked.values.get(source_words.NAME, "")
        return f"Recording to {await asyncio.to_thread(feed.session.start_recording, name)}"

    async def mark(asked: parts.Asked) -> str:
        await asyncio.to_thread(feed.session.mark, asked.values.get(source_words.WORDS, ""))
        kept = feed.session.snapshot().recording is not None
        return "Marked in the recording" if kept else "Marked; it will be lost, for nothing is being recorded"

    async def start() -> str:
        if _running(feed):
            return ""  # somebody began it elsewhere: this page only shows it in large type
        await asyncio.to_thread(feed.session.start_sweep)
        return "The sweep has begun"

    async def step() -> str:
        if _running(feed):
            await asyncio.to_thread(feed.session.sweep_button)
        return ""

    async def end() -> str:
        await asyncio.to_thread(feed.session.stop_sweep)
        return "The sweep has ended; its points stay"

    async def answer(asked: parts.Asked) -> str:
        return await (mark if asked.verb == "mark" else record)(asked)

    parts.on_asked(app, "source", answer)
    for button, do in ((SWEEP, start), (NEXT, step), (END, end)):
        parts.on_click(app, button, do)


def _running(feed: Feed) -> bool:
    sweep = feed.session.snapshot().sweep
    return sweep is not None and sweep.running and not sweep.done


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
            html.Button(parts.live("sweep-start"), id=SWEEP, type="button", className="main"),
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


def _sweep() -> Component:
    """One instruction in the largest type, a bar that fills as the reading steadies, one large button."""
    return html.Div(
        [
            html.Div(
                [
                    parts.live("sweep-points", className="count"),
                    parts.live("sweep-pressure", className="pressure"),
                    html.Div(
                        [
                            html.Button("Look at the curve", id=LOOK, type="button", className="quiet"),
                            html.Button("End the sweep", id=END, type="button", className="quiet"),
                        ],
                        className="choice",
                    ),
                ],
                className="top",
            ),
            html.Div(
                [
                    parts.live("sweep-instruction", tag=html.P, className="instruction", role="status"),
                    parts.live("sweep-why", tag=html.P, className="why"),
                    parts.live("sweep-missing", tag=html.P, className="missing"),
                ],
                className="middle",
            ),
            html.Div(
                html.Div(**{"data-bar": "sweep"}),
                className="bar",
                role="progressbar",
                **{"aria-label": "how far the reading has steadied", "aria-valuemin": "0", "aria-valuemax": "100"},
            ),
            html.Button(parts.live("sweep-button"), id=NEXT, type="button", className="large"),
        ],
        id="sweep",
        role="dialog",
        **{"aria-modal": "true", "aria-label": "guided sweep"},
    )
