"""The bar of a replayed recording, on every page: its name, a slider of how far it has come, pause and speed."""

from __future__ import annotations

import asyncio

from dash import Dash

from frothline.bench.playback_control import SPEEDS, PlaybackControl
from frothline.formatting import running_time
from frothline.rig.playback import PlaybackState
from frothline.web import components
from frothline.web.elements import Node, button, node


def pieces(state: PlaybackState | None) -> list[Node]:
    """The bar as a block; empty with a board."""
    if state is None:
        return []
    percent = f"{100 * state.share:.0f}"
    if state.ended:
        words = "ended"
    elif state.paused:
        words = "paused"
    else:
        words = (
            "as fast as it is read"
            if state.speed == 0
            else "real time"
            if state.speed == 1
            else f"{state.speed:g} times real time"
        )
    go = button("Go on", "replay:go", look="") if state.paused else button("Pause", "replay:pause", look="")
    speeds = [
        button(f"{speed:g}×", f"replay:speed:{speed:g}", aria_pressed="true" if speed == state.speed else "false")
        for speed in SPEEDS
    ]
    return [
        node(
            "div",
            node("b", "Replay"),
            node("span", state.file, class_="path"),
            node(
                "input",
                type="range",
                min="0",
                max="100",
                step="1",
                value=percent,
                name="share",
                id="replay-share",
                aria_label="part of the recording that has been played; move it to jump",
                aria_valuetext=f"{percent} %, {running_time(state.played)}",
                data_release="",
            ),
            node("span", f"{running_time(state.played)}, {words}", role="status"),
            *([] if state.ended else [go, *speeds]),
            button("From the start", "replay:again"),
            class_="replay",
            role="region",
            aria_label="replay of a recording",
            data_form="replay",
            data_change="replay:jump",
        )
    ]


def register(app: Dash, control: PlaybackControl) -> None:
    """Register the buttons of the bar."""

    async def answer(asked: components.Asked) -> str:
        return await asyncio.to_thread(
            control.do, asked.verb, asked.values.get("share", "") if asked.verb == "jump" else asked.argument
        )

    components.on_asked(app, "replay", answer)
