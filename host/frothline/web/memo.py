"""A result that is computed again only when its input changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from frothline.web.elements import Node, block

KEPT = 40  # pieces that are kept: a few looks of the newest answer


Made = TypeVar("Made")


class Memo:
    """Pieces that were made lately, by what they depend on; the oldest go first."""

    def __init__(self) -> None:
        self._made: dict[Any, Any] = {}

    def once(self, key: Any, make: Callable[[], Made]) -> Made:
        found: Made
        if key in self._made:
            found = self._made[key]
            return found
        found = self._made[key] = make()
        while len(self._made) > KEPT:
            self._made.pop(next(iter(self._made)), None)
        return found


def _made(make: Callable[[], Sequence[Node | None]]) -> dict[str, Any]:
    return block(make())
