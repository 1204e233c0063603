"""Colours of the charts in the light and the dark theme. ``assets/frothline.css`` has the same colours; a test
compares.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Scheme = Literal["light", "dark"]


@dataclass(frozen=True)
class Palette:
    """Colours of one theme. ``measured`` is always drawn solid and ``predicted`` dashed, so that colour is not the only
    sign.
    """

    paper: str
    ink: str
    faint: str  # secondary words; still 4.5 : 1 on the paper
    rule: str  # thin lines without a meaning
    measured: str
    predicted: str
    alarm: str


PALETTES: dict[Scheme, Palette] = {
    "light": Palette("#fbfaf6", "#1f2b33", "#53606a", "#d5d3ca", "#0b6b62", "#8a5a00", "#a32d18"),
    "dark": Palette("#14191c", "#e9e6de", "#a5afb4", "#364046", "#58c7b4", "#e0a83e", "#ff8a73"),
}


def tint(colour: str, alpha: float) -> str:
    """The colour made transparent, for bands."""
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},{alpha:g})"
