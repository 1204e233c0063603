"""The message stream to one viewer: at most one message in transit.

The page returns the number of the last message it has drawn, and only then the next one is made. A sleeping phone, a
frozen tab or a slow network thus delays only itself: frames are dropped and memory does not grow. A viewer without an
answer for ``PATIENCE`` is dropped; its page reconnects when it wakes.
"""

from __future__ import annotations

import asyncio
import time
from typing import Any, Protocol

from frothline.web.feed import Feed
from frothline.web.pages import PAGES
from frothline.web.viewer import Viewer

PERIOD = 0.05  # s between two messages to one viewer, at best
LOOK_AGAIN = 0.015  # s until the page is queried again
ASK_TIMEOUT = 20.0  # s, timeout of one query; each unanswered query leaves a short message in the queue
PATIENCE = 300.0  # s without an answer after which the viewer is dropped

LIVE, VIEWER = "live", "viewer"  # ids of the two stores: messages to the page, and the page's state


class Socket(Protocol):
    """The used interface of the page framework's socket."""

    @property
    def is_shutdown(self) -> bool: ...

    def set_prop_sync(self, component_id: str, prop_name: str, value: Any) -> None: ...

    async def get_prop(self, component_id: str, prop_name: str, timeout: float = ...) -> Any: ...  # noqa: ASYNC109


async def stream(feed: Feed, socket: Socket, *, period: float = PERIOD, patience: float = PATIENCE) -> None:
    """Send messages until the viewer leaves."""
    number = 0
    feed.viewers += 1
    try:
        viewer = await _ask(socket, patience)
        while viewer is not None and not socket.is_shutdown:
            begun = time.monotonic()
            number += 1
            socket.set_prop_sync(LIVE, "data", feed.update(viewer, number))
            viewer = await _drawn(socket, number, patience)
            await asyncio.sleep(max(0.0, period - (time.monotonic() - begun)))
    finally:
        feed.viewers -= 1


async def _drawn(socket: Socket, number: int, patience: float) -> Viewer | None:
    """Wait until the page has drawn message ``number``; None if the page is gone or silent."""
    begun = time.monotonic()
    while time.monotonic() - begun < patience:
        viewer = await _ask(socket, patience)
        if viewer is None or viewer.seen >= number:
            return viewer
        await asyncio.sleep(LOOK_AGAIN)
    return None


async def _ask(socket: Socket, patience: float) -> Viewer | None:
    """Query the viewer's state; None if it is gone or does not answer in time."""
    begun = time.monotonic()
    while not socket.is_shutdown and time.monotonic() - begun < patience:
        try:
            return Viewer.of(await socket.get_prop(VIEWER, "data", timeout=min(ASK_TIMEOUT, patience)), PAGES)
        except TimeoutError:
            continue
    return None
