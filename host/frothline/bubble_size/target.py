"""The printed target: a card with a window, whose dots give scale and tilt of a photo.

The window is cut out, the card is fixed to the outside of the pane, and the foam is seen through the window. The dots
are at equal distances along a square around the window, seven on each side. One corner dot is a ring; on the small
card the next dot is a ring too, so that a photo shows which card it is. A ruler below shows the printer's scale.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from frothline.numerics.arrays import Floats

SIDE = 6  # steps between dots on a side
COUNT = 4 * SIDE  # dots
DOT = 0.5  # diameter over step
HOLE = 0.5  # diameter of a ring's hole over that of the ring
INSET = 0.04  # of the window's width, left out at each edge: the cut is never exact, and its edge casts a shadow
RULER = 0.1  # m, printed length of the ruler
CUT = "cut out the window"


@dataclass(frozen=True)
class Card:
    """A target. ``window`` m, width of the square that is cut out; ``rings`` number of dots that are rings."""

    name: str
    window: float
    rings: int

    @property
    def step(self) -> float:
        """Distance between two dots, m: the dots are on the middle line of a border a fifth of the window wide."""
        return self.window * 1.2 / SIDE

    @property
    def outer(self) -> float:
        """Width of the card, m."""
        return self.window * 1.4

    @property
    def inner(self) -> float:
        """Width of the part of the window in which bubbles are measured, m."""
        return self.window * (1 - 2 * INSET)

    @cached_property
    def dots(self) -> Floats:
        """Centres of the dots, (24, 2) m from the middle of the window, x to the right and y down.

        The first is the ring at the upper left corner; the order is clockwise.
        """
        return loop() * self.step


def loop() -> Floats:
    """Places of the dots in steps from the middle, (24, 2): clockwise from the upper left corner."""
    half = SIDE / 2
    along = np.arange(SIDE)
    top = np.stack([along - half, np.full(SIDE, -half)], axis=1)
    sides = [top]
    for _ in range(3):
        sides.append(np.stack([-sides[-1][:, 1], sides[-1][:, 0]], axis=1))
    return np.concatenate(sides)


LARGE, SMALL = Card("large", 0.060, 1), Card("small", 0.030, 2)
CARDS = (LARGE, SMALL)


def target_page() -> str:
    """An HTML page with both cards and the ruler, to print at 100 %."""
    cards = "".join(f'<div class="card">{_svg(card)}</div>' for card in CARDS)
    return (
        '<!doctype html>\n<html lang="en">\n<meta charset="utf-8">\n<title>Target for bubble photos</title>\n'
        "<style>\n@page { margin: 10mm }\nbody { font: 11pt sans-serif; margin: 0 }\n"
        ".card { margin: 4mm 0 } svg { display: block }\nol { margin: 2mm 0; padding-left: 6mm; max-width: 170mm }\n"
        "</style>\n<h1>Target for bubble photos</h1>\n<ol>\n"
        "<li>Print this page at 100 %, on matt paper, without “fit to page”.</li>\n"
        "<li>Measure the ruler. Give its length with --ruler if it is not 100.0 mm.</li>\n"
        "<li>Cut out one card along its outer line, and its window along the inner line.</li>\n"
        "<li>Fix the card flat to the outside of the clear pane. The foam is seen through the window.</li>\n"
        "<li>Photograph it square on, so that the card fills the picture. Light it from the side, "
        "without a flash.</li>\n"
        "<li>Use the small card for bubbles below 1 mm.</li>\n</ol>\n"
        f"{_ruler()}{cards}</html>\n"
    )


def _svg(card: Card) -> str:
    size, half, radius = card.outer * 1e3, card.window / 2 * 1e3, DOT * card.step / 2 * 1e3
    look = 'fill="#fff" stroke="#999" stroke-width="0.1"'
    parts = [
        f'<rect x="{-size / 2:g}" y="{-size / 2:g}" width="{size:g}" height="{size:g}" {look}/>',
        f'<rect x="{-half:g}" y="{-half:g}" width="{2 * half:g}" height="{2 * half:g}" {look} stroke-dasharray="1"/>',
    ]
    for number, (x, y) in enumerate(card.dots * 1e3):
        parts.append(f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}"/>')
        if number < card.rings:
            parts.append(f'<circle cx="{x:g}" cy="{y:g}" r="{HOLE * radius:g}" fill="#fff"/>')
    words = f"{card.window * 1e3:.0f} mm: {CUT}"
    parts.append(f'<text x="0" y="1" font-size="3" text-anchor="middle" fill="#666">{words}</text>')
    view = f"{-size / 2:g} {-size / 2:g} {size:g} {size:g}"
    return f'<svg width="{size:g}mm" height="{size:g}mm" viewBox="{view}">{"".join(parts)}</svg>'


def _ruler() -> str:
    length = RULER * 1e3
    marks = "".join(
        f'<path d="M{x} 0V{4 if x % 10 == 0 else 2}" stroke="#000" stroke-width="0.2"/>' for x in range(int(length) + 1)
    )
    return (
        f'<svg width="{length + 10:g}mm" height="9mm" viewBox="-5 -1 {length + 10:g} 9">'
        f'<path d="M0 0H{length:g}" stroke="#000" stroke-width="0.2"/>{marks}'
        f'<text x="0" y="7.5" font-size="3">This line is {length:g} mm long.</text></svg>\n'
    )
