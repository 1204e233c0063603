"""Messages as JSON texts that are made once for all viewers who would get the same one.

Time is divided into turns. Within a turn, viewers with the same page, units, theme, width, settings and blocks share
one text. Only the number differs, so it is put in front of the shared part.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Hashable

from frothline.web.access import ONLY_READING
from frothline.web.feed import Feed
from frothline.web.json_text import json_bytes
from frothline.web.viewer import Viewer

BEHIND = 0.008  # s for the conversion of the batch of readings that a message shows


class SharedMessages:
    """The texts of the present turn, by the viewers' choices. Used by one event loop.

    period : length of a turn, s. A turn begins ``BEHIND`` after a multiple of it, where a batch of readings began
    """

    def __init__(self, feed: Feed, period: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._feed, self._period, self._clock = feed, period, clock
        self._made_in = -1
        self._made: dict[Hashable, str] = {}

    @property
    def turn(self) -> int:
        """Number of the present turn."""
        return int((self._clock() - BEHIND) / self._period)

    @property
    def left(self) -> float:
        """Time to the next turn, s."""
        return (self.turn + 1) * self._period - (self._clock() - BEHIND)

    def text(self, viewer: Viewer, number: int) -> str:
        """The message with that number for a viewer."""
        if self._made_in != (turn := self.turn):
            self._made, self._made_in = {}, turn
        choices = self._choices(viewer)
        shared = self._made.get(choices)
        if shared is None:
            message = self._feed.update(viewer, number)
            del message["number"]
            shared = self._made[choices] = json_bytes(message).decode()
            # A first message takes longer than a turn. It is for all who waited for it meanwhile.
            self._made_in = self.turn
        return f'{{"number":{number},{shared[1:]}'

    def _choices(self, viewer: Viewer) -> Hashable:
        """All that changes a viewer's message: everything but the number, of the name what it leads to, and whether its
        link is for viewing only.
        """
        return (
            viewer.page,
            viewer.system,
            viewer.scheme,
            viewer.columns,
            viewer.seconds,
            viewer.touch,
            viewer.charts,
            frozenset(viewer.have.items()),
            frozenset(viewer.wish.items()),
            self._feed.shared_edits.words(viewer.name),
            ONLY_READING.get(),
        )
