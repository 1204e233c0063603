"""Layout and callbacks of the source page: live figures, chart, guided sweep, recording."""

from __future__ import annotations

import asyncio

from dash import Dash, html
from dash.development.base_component import Component

from frothline.bench.library import OWN
from frothline.bench.playback_control import RECORDING, require_rig
from frothline.bench.sweep_control import SOURCE
from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.source import content as source_content
from frothline.web.pages.source import labels, source_forms
from frothline.web.pages.source.link import LINK
from frothline.web.viewer import WINDOWS

RECORD, MARK, SWEEP = "source-record", "source-mark", "source-sweep"
MEASURES = "measures"  # state "yes" with a rig, "no" in a replay; the style sheet hides buttons that do nothing there


def layout() -> Component:
    """The page. Its large button begins the guided sweep, which covers the page, see ``pages.sweep``."""
    return components.page(
        "source",
        LINK.question,
        html.Div(
            [
                components.figure("now-line_pressure", labels.PRESSURE),
                components.figure("now-standard_flow", labels.FLOW),
                components.figure("now-air_power", labels.AIR_POWER),
            ],
            className="figures",
        ),
        html.Div(
            [
                html.Div(
                    [
                        components.picture(
                            "plane",
                            labels.CHART_ABOUT,
                        ),
                        components.block("throttle"),
                    ]
                ),
                html.Div([_buttons(), _results()], className="beside"),
            ],
            className="plane-and-results",
        ),
        components.block("findings", className="findings", role="status"),
        components.drawer(
            labels.COMPARE,
            components.block("overlay", className="overlay"),
            components.block("loaded-filter", role="status"),
            open_wide=True,
        ),
        components.drawer(labels.FILES, components.block("source-files", className="source-files")),
        components.drawer(
            labels.TREND,
            _choice(),
            components.picture("traces", labels.TREND_ABOUT),
            open_wide=True,
        ),
        note=labels.INTERVALS,
    )


def register(app: Dash, feed: Feed) -> None:
    """Register the buttons. Files and ports are used in a thread, not in the server's loop."""

    async def record(asked: components.Asked) -> str:
        recording = feed.session.snapshot().recording
        if recording is not None and not recording.ended:
            path = await asyncio.to_thread(feed.session.stop_recording)
            return labels.recording_stopped(path) if path is not None else labels.NO_RECORDING
        require_rig(feed.session.snapshot(), RECORDING)
        name = asked.values.get(source_content.NAME, "")
        return labels.recording_to(await asyncio.to_thread(feed.session.start_recording, name))

    async def mark(asked: components.Asked) -> str:
        await asyncio.to_thread(feed.session.mark, asked.values.get(source_content.WORDS, ""))
        recording = feed.session.snapshot().recording
        kept = recording is not None and not recording.ended
        return labels.NOTE_ADDED if kept else labels.NOTE_NOT_SAVED

    async def start(_: components.Asked) -> str:
        return await asyncio.to_thread(feed.sweeps.start, SOURCE)

    async def answer(asked: components.Asked) -> str:
        if asked.verb == "throttle":
            return await asyncio.to_thread(feed.sweeps.turn, asked.values.get("opening", ""))
        if asked.verb == "hand":
            return await asyncio.to_thread(feed.sweeps.follow)
        if asked.verb in (source_forms.POINTS, source_forms.KEEP, source_forms.UNMEASURED):
            own = feed.library.places[OWN]
            known = feed.calibrated.look()
            calibration = None if known is None else known.calibration
            return await asyncio.to_thread(source_forms.answer, asked, feed.session.snapshot(), own, calibration)
        return await {"mark": mark, "sweep": start}.get(asked.verb, record)(asked)

    components.on_asked(app, "source", answer)


def _results() -> Component:
    return html.Div(
        [
            html.H2(labels.PERFORMANCE),
            html.Dl(
                [components.result(key, title) for key, title in labels.RESULTS],
                className="results",
            ),
            html.P(components.live("fit-standard"), className="small"),
            html.P([components.live("fit-points"), html.Span(" "), components.live("fit-words")], className="small"),
        ]
    )


def _buttons() -> Component:
    return html.Div(
        [
            components.live("sweep-line", tag=html.P, className="sweep-line", role="status"),
            html.Button(
                components.live("sweep-start", children=labels.GUIDED_SWEEP),
                id=SWEEP,
                type="button",
                className="main",
                **{"data-guide": "yes", "data-do": "source:sweep", "data-state": MEASURES},
            ),
            components.live("sweep-refused", tag=html.P),
            components.asks("source"),
            components.drawer(labels.RECORDING, *_by_hand(), brief="recording", open_wide=True),
        ],
        className="buttons",
    )


def _by_hand() -> list[Component]:
    """Recording without a guide, and notes in a recording."""
    return [
        components.live("record-refused", tag=html.P),
        html.Div(
            [
                components.block("record-name"),
                html.Button(
                    components.live("record-button", children=labels.START_RECORDING),
                    id=RECORD,
                    type="button",
                    **{"data-do": "source:record"},
                ),
            ],
            className="row",
            **{"data-form": "record", "data-state": MEASURES},
        ),
        html.Div(
            [
                components.block("mark-words"),
                html.Button(
                    labels.ADD_NOTE, id=MARK, type="button", **{"data-do": "source:mark", "data-clears": "yes"}
                ),
            ],
            className="row",
            **{"data-form": "mark", "data-state": MEASURES},
        ),
        html.P(
            [components.live("recording-about"), html.Br(), components.live("recording-where", className="path")],
            className="small",
        ),
    ]


def _choice() -> Component:
    names = {30: "30 s", 120: "2 min", 600: "10 min"}
    return html.Div(
        [
            html.Button(names[seconds], type="button", className="quiet", **{"data-choose": f"seconds:{seconds}"})
            for seconds in WINDOWS
        ],
        className="choice",
        role="group",
        **{"aria-label": labels.TREND_RANGE},
    )
