"""Layout and callbacks of the full-screen guide, which covers the page during a sweep.

It has an instruction in the largest type, a bar that fills as the reading becomes steady, and a large button; the rig's
push button does the same.
"""

from __future__ import annotations

import asyncio

from dash import Dash, html
from dash.development.base_component import Component

from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.sweep import labels

NEXT, END, LOOK, REDO = "sweep-next", "sweep-end", "sweep-look", "sweep-redo"


def layout() -> Component:
    """The guide; shown only on request."""
    return html.Div(
        [
            html.Div(
                [
                    components.live("sweep-points", className="count"),
                    components.live("sweep-pressure", className="pressure"),
                    html.Div(
                        [
                            html.Button(components.live("sweep-look"), id=LOOK, type="button", className="quiet"),
                            html.Button(
                                labels.REDO,
                                id=REDO,
                                type="button",
                                className="quiet",
                                **{"data-do": "through:redo", "data-state": "sweep-redo"},
                            ),
                            html.Button(
                                labels.END, id=END, type="button", className="quiet", **{"data-do": "through:stop"}
                            ),
                        ],
                        className="choice",
                    ),
                ],
                className="top",
            ),
            html.Div(
                [
                    html.Div(
                        [
                            components.live("sweep-instruction", tag=html.P, className="instruction", role="status"),
                            components.live("sweep-target", tag=html.P, className="target"),
                            components.live("sweep-why", tag=html.P, className="why"),
                            components.live("sweep-missing", tag=html.P, className="missing"),
                            components.live("sweep-caution", tag=html.P, className="caution"),
                        ],
                        className="middle",
                    ),
                    components.block("sweep-chart", className="chart"),
                ],
                className="instruction-and-chart",
            ),
            html.Div(
                html.Div(**{"data-bar": "sweep"}),
                className="bar",
                role="progressbar",
                **{"aria-label": labels.PROGRESS, "aria-valuemin": "0", "aria-valuemax": "100"},
            ),
            html.Button(
                components.live("sweep-button"),
                id=NEXT,
                type="button",
                className="large",
                **{"data-do": "through:press"},
            ),
            components.asks("through"),
        ],
        id="sweep",
        role="dialog",
        **{"aria-modal": "true", "aria-label": labels.GUIDE},
    )


def register(app: Dash, feed: Feed) -> None:
    """Register the buttons of the guide, and those of a page that begin a sweep. Ports are used in a thread."""

    async def answer(asked: components.Asked) -> str:
        if asked.verb == "press":
            return await asyncio.to_thread(feed.sweeps.press)
        if asked.verb == "stop":
            return await asyncio.to_thread(feed.sweeps.stop)
        if asked.verb == "redo":
            return await asyncio.to_thread(feed.sweeps.redo)
        if asked.verb != "start" or asked.argument not in {"dry", "wet"}:
            raise components.unknown(asked.verb)
        return await asyncio.to_thread(feed.sweeps.start, asked.argument)

    components.on_asked(app, "through", answer)
