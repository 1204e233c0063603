"""Stock sizes: lengths in millimetres or in inches and fractions, pipes by name, drills by step."""

from __future__ import annotations

import re
from dataclasses import dataclass

from frothline.quantities import _fractions, clean, read_quantity, shorten, typed
from frothline.units import INCH


@dataclass(frozen=True)
class StockPipe:
    """A stock pipe: its name in a sheet, outer diameter m, wall m, and the standard of its sizes."""

    name: str
    outer: float
    wall: float
    source: str

    @property
    def bore(self) -> float:
        """Inner diameter, m."""
        return clean(self.outer - 2.0 * self.wall)


_SCHEDULE_40 = {  # nominal -> outer diameter and least wall, inch
    "1/2": (0.840, 0.109),
    "3/4": (1.050, 0.113),
    "1": (1.315, 0.133),
    "1 1/4": (1.660, 0.140),
    "1 1/2": (1.900, 0.145),
    "2": (2.375, 0.154),
    "2 1/2": (2.875, 0.203),
    "3": (3.500, 0.216),
    "4": (4.500, 0.237),
}


_METRIC_PRESSURE = ((20, 1.5), (25, 1.9), (32, 2.4), (40, 3.0), (50, 3.7), (63, 4.7), (75, 5.6), (90, 6.7), (110, 8.1))


_METRIC_WASTE = ((32, 3.0), (40, 3.0), (50, 3.0), (75, 3.0), (110, 3.2))


PIPES: tuple[StockPipe, ...] = (
    *(
        StockPipe(f"{nominal} in sch 40", outer * INCH, wall * INCH, "ASTM D1785, schedule 40, least wall")
        for nominal, (outer, wall) in _SCHEDULE_40.items()
    ),
    *(
        StockPipe(f"{outer}x{wall:g}", outer * 1e-3, wall * 1e-3, "EN ISO 1452-2, SDR 13.6, from memory")
        for outer, wall in _METRIC_PRESSURE
    ),
    *(
        StockPipe(f"{outer}x{wall:g}", outer * 1e-3, wall * 1e-3, "EN 1329-1 and EN 1401-1 waste pipe, from memory")
        for outer, wall in _METRIC_WASTE
        if (outer, wall) not in _METRIC_PRESSURE
    ),
)


PIPES_BY_NAME = {pipe.name: pipe for pipe in PIPES}


# Twist drills by tenths to 10 mm and by halves to 20 mm: what ISO 235 lists and a tool shop has.
DRILLS: tuple[float, ...] = (
    *(round(tenths * 1e-4, 7) for tenths in range(5, 101)),
    *(round(halves * 5e-4, 7) for halves in range(21, 41)),
)


def pipe_named(text: str) -> StockPipe | None:
    """The listed pipe with this name, as a person writes it; None for any other text that ``typed`` accepts."""
    return PIPES_BY_NAME.get(_pipe_name(typed(text)))


def read_bore(text: str | float) -> float:
    """Read an inner diameter in m: a length, or a pipe by name ("1 1/2 in sch 40", "50x3.7").

    Raises ValueError if it is neither.
    """
    if isinstance(text, str):
        if (pipe := pipe_named(text)) is not None:
            return pipe.bore
        plain = _pipe_name(typed(text))
        if "sch" in plain or re.fullmatch(r"[\d.]{1,40}x[\d.]{1,40}", plain):
            raise ValueError(
                f"no pipe “{shorten(text)}” is listed; write its bore, or one of {', '.join(PIPES_BY_NAME)}"
            )
    return read_quantity(text, "length")


def _pipe_name(text: str) -> str:
    """A pipe's name as in the list: “1-1/2 inch, Schedule 40” and “NPS 1½ sch. 40” are “1 1/2 in sch 40”."""
    plain = " ".join(_fractions(text.lower()).replace("×", "x").replace("schedule", "sch").split())
    if "sch" in plain:
        plain = re.sub(r"^nps\b", "", plain).replace('"', " in").replace("″", " in").replace("sch.", "sch")
        plain = re.sub(r"(\d)\s*-\s*(\d+/\d)", r"\1 \2", plain)
        plain = re.sub(r"\s*(?:\bin(?:ch)?\b\.?)?[\s,-]*sch\s*", " in sch ", plain)
    else:
        plain = re.sub(r"(\d)\s*x\s*(\d)", r"\1x\2", plain).removesuffix(" mm")
    return " ".join(plain.split())


def pipe_of_bore(bore: float, tolerance: float = 2e-4) -> StockPipe | None:
    """The listed pipe whose bore this is, or None."""
    near = min(PIPES, key=lambda pipe: abs(pipe.bore - bore))
    return near if abs(near.bore - bore) <= tolerance else None
