"""How a page is linked from the drawing of the line: its place, its drawing and the question that it answers."""

from __future__ import annotations

from dataclasses import dataclass

AXIS = 74  # height of the centre line of the pipe in the drawing


@dataclass(frozen=True)
class PageLink:
    """A part of the line and its page. Coordinates are those of the drawing, 1200 wide.

    ``left`` to ``right`` can be clicked, ``middle`` is where the name is written; ``drawing`` is SVG.
    """

    key: str
    path: str
    left: int
    right: int
    middle: int
    drawing: str
    question: str


def flange(x: int) -> str:
    """A flange across the pipe."""
    return f'<path class="ink" d="M{x} {AXIS - 17}v34"/>'
