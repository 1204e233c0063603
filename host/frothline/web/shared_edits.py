"""Tells a page that the build sheet in its form was changed on another page: all pages share one sheet."""

from __future__ import annotations

from collections.abc import Callable

SHOWN = 15.0  # s


class SharedEdits:
    """The page that changed the sheet last, and when."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._last: tuple[str, float] = ("", -SHOWN)

    def note(self, page: str) -> None:
        """The page with this number has changed the sheet."""
        self._last = (page, self._clock())

    def words(self, page: str) -> str:
        """What to announce on a page; empty for the page that made the change."""
        by, at = self._last
        return "The build sheet was changed on another screen." if by != page and self._clock() - at < SHOWN else ""
