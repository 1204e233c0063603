"""A cache that computes a result again only when its input has changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from frothline.web.elements import Node, block

KEPT = 40  # cached pieces: a few states of the newest answer


Made = TypeVar("Made")


class Memo:
    """Recent pieces by their inputs; the oldest are dropped first."""

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
