"""The message stream to one viewer over a WebSocket: at most one message in transit.

The page sends its state when it connects, when the reader changes something, and after drawing a message; the state has
the number of the last drawn message. Only then the next message is made. A sleeping phone, a frozen tab or a slow
network thus delays only itself: messages are skipped and memory does not grow. The first message is made for the state
of the page, never for a default. A viewer without an answer for ``PATIENCE`` is dropped; its page reconnects.
All viewers get their messages at the same moments, so that those with the same choices share one.

The stream does not go through the page framework: its store keeps every value that it has ever held (its undo history),
which made a browser grow by 13 to 18 MB a minute.
"""

from __future__ import annotations

import asyncio
import contextlib
from typing import Protocol

from starlette.websockets import WebSocketDisconnect

from frothline.rig.link import BATCH
from frothline.web.feed import Feed
from frothline.web.json_text import read_json
from frothline.web.pages import PAGES
from frothline.web.shared_messages import SharedMessages
from frothline.web.viewer import Viewer

PERIOD = BATCH  # s between two messages to one viewer, at best: one for each batch of readings
CLOCK_STEP = 0.001  # s by which a sleep may end early
PATIENCE = 300.0  # s without an answer after which the viewer is dropped
ADDRESS = "/live"
LARGEST = 1_000_000  # bytes of one state of a page; larger ones close the socket


class Socket(Protocol):
    """The used interface of the server's socket. Both methods raise WebSocketDisconnect when the page has left."""

    async def receive_text(self) -> str: ...

    async def send_text(self, data: str) -> None: ...


async def stream(
    feed: Feed,
    socket: Socket,
    *,
    shared: SharedMessages | None = None,
    period: float = PERIOD,
    patience: float = PATIENCE,
) -> None:
    """Send messages until the viewer leaves or stops drawing.

    shared : the messages of all viewers; by default this viewer has its own, with a turn of ``period``
    """
    page = _Page(socket)
    messages = SharedMessages(feed, period) if shared is None else shared
    sent_in = -1  # turn of the latest message
    listening = asyncio.create_task(page.listen())
    number = 0
    feed.viewers += 1
    try:
        while (viewer := await page.drawn(number, patience)) is not None:
            if messages.turn == sent_in:
                await asyncio.sleep(messages.left + CLOCK_STEP)
            number += 1
            text = messages.text(page.newest or viewer, number)
            sent_in = messages.turn
            await socket.send_text(text)
    except WebSocketDisconnect:
        pass
    finally:
        feed.viewers -= 1
        listening.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await listening


class _Page:
    """The newest state of the page at the other end of a socket."""

    def __init__(self, socket: Socket) -> None:
        self._socket = socket
        self._viewer: Viewer | None = None
        self._left = False
        self._news = asyncio.Event()

    @property
    def newest(self) -> Viewer | None:
        """The newest state, None before the first one."""
        return self._viewer

    async def listen(self) -> None:
        """Take in the page's states until it leaves. What is no JSON text is ignored."""
        try:
            while True:
                try:
                    said = read_json(await self._socket.receive_text())
                except (ValueError, KeyError, RecursionError):
                    continue
                self._viewer = Viewer.of(said, PAGES)
                self._news.set()
        except WebSocketDisconnect:
            self._left = True
            self._news.set()

    async def drawn(self, number: int, patience: float) -> Viewer | None:
        """The page's state once it has drawn message ``number``; None if it has left or is silent for ``patience``."""
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(patience):
                while not self._left:
                    if self._viewer is not None and self._viewer.seen >= number:
                        return self._viewer
                    self._news.clear()
                    await self._news.wait()
        return None
