"""The link to a page in the diagram of the line: its position, its drawing and the page's question."""

from __future__ import annotations

from dataclasses import dataclass

AXIS = 74  # height of the centre line of the pipe in the drawing


@dataclass(frozen=True)
class PageLink:
    """A part of the line that links to a page. Coordinates are those of the drawing, 1200 wide.

    ``left`` to ``right`` is clickable, ``middle`` is the position of the name; ``drawing`` is SVG. ``earlier`` are
    former addresses of the page, which still lead to it.
    """

    key: str
    path: str
    left: int
    right: int
    middle: int
    drawing: str
    question: str
    earlier: tuple[str, ...] = ()


def flange(x: int) -> str:
    """SVG of a flange across the pipe."""
    return f'<path class="ink" d="M{x} {AXIS - 17}v34"/>'
