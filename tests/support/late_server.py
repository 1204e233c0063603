"""Messages to the pages and answers from the background come late, as on a slow computer: ``pytest --late-server``.

A browser test that looks at a page before it has drawn what it was told fails then, and not once in fifty runs. Two tests
of ``test_browser.py`` that count updates a second fail too: they cannot come as fast.
"""

import asyncio
import random
import time

MESSAGE_LATE = (0.05, 0.5)  # s
ANSWER_LATE = (0.3, 1.2)  # s


class _LateSocket:
    """A socket that sends each text some time later."""

    def __init__(self, socket):
        self._socket = socket

    async def receive_text(self):
        return await self._socket.receive_text()

    async def send_text(self, data):
        await asyncio.sleep(random.uniform(*MESSAGE_LATE))
        await self._socket.send_text(data)


def make_late():
    """Delay all servers of this process from now on."""
    from frothline.bench.background import BackgroundAnswers
    from frothline.web import server

    stream, look = server.stream, BackgroundAnswers.look

    async def late_stream(feed, socket, **more):
        return await stream(feed, _LateSocket(socket), **more)

    def late_look(self, question, find):
        def late():
            time.sleep(random.uniform(*ANSWER_LATE))
            return find()

        return look(self, question, late)

    server.stream, BackgroundAnswers.look = late_stream, late_look
