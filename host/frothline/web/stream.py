"""One viewer's stream: never more than one message under way.

The page says the number of the last message it has drawn; the next is made only then. A phone that sleeps, a tab that
is frozen or a line that is slow thus holds up itself alone: frames are dropped, memory is not filled. A viewer that
says nothing for ``PATIENCE`` is left; its page starts again when it wakes.
"""

from __future__ import annotations

import asyncio
import time
from typing import Any, Protocol

from frothline.web.feed import Feed
from frothline.web.pages import PAGES
from frothline.web.viewer import Viewer

PERIOD = 0.05  # s between two messages to one viewer, at best
LOOK_AGAIN = 0.015  # s until the page is asked again whether it has drawn
ASK_TIMEOUT = 20.0  # s that one question may stay unanswered; each unanswered one leaves a short message in the queue
PATIENCE = 300.0  # s without an answer after which the viewer is left

LIVE, VIEWER = "live", "viewer"  # ids of the two stores: messages to the page, and what the page says of itself


class Socket(Protocol):
    """The part of the page framework's socket that is used."""

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
    """Wait until the page has drawn message ``number``; None when it has gone or fallen silent."""
    begun = time.monotonic()
    while time.monotonic() - begun < patience:
        viewer = await _ask(socket, patience)
        if viewer is None or viewer.seen >= number:
            return viewer
        await asyncio.sleep(LOOK_AGAIN)
    return None


async def _ask(socket: Socket, patience: float) -> Viewer | None:
    """What the viewer shows; None when it has gone or says nothing for too long."""
    begun = time.monotonic()
    while not socket.is_shutdown and time.monotonic() - begun < patience:
        try:
            return Viewer.of(await socket.get_prop(VIEWER, "data", timeout=min(ASK_TIMEOUT, patience)), PAGES)
        except TimeoutError:
            continue
    return None
