"""The state of one open page in a browser: page, units, width and settings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, cast

from frothline.units import SYSTEMS
from frothline.web.charts.palette import Scheme

WINDOWS = (30, 120, 600)  # s, selectable time ranges of the traces


GAP = 0.35  # s without a sample breaks a trace: three samples at the slowest rate, 10 Hz


MOST_COLUMNS = 400


NARROW = 180  # columns below which a page counts as a phone's; a column has four pixels, as in the style sheet


MOST_WISHES, LONGEST_WISH = 60, 300  # texts under one name, characters in one text


RESULTS = (("shut_off", "pressure"), ("free_delivery", "flow"), ("air_power", "power"))


LONGEST_NAME = 20


@dataclass(frozen=True)
class Viewer:
    """The state of one page. It comes from the browser, so every value is checked."""

    page: str = "source"
    system: str = "metric"
    scheme: Scheme = "light"
    columns: int = 200
    seconds: int = 30
    touch: bool = False
    charts: bool = True  # whether the page can draw charts; not before it has the chart library
    have: Mapping[str, str] = field(default_factory=dict)
    wish: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # chosen or typed texts, by setting
    seen: int = 0  # number of the last drawn message
    name: str = ""  # random, of one open page

    @classmethod
    def of(cls, said: Any, pages: Sequence[str]) -> Viewer:
        """Parse the page's state; invalid values are replaced by the default. ``pages``: names of all pages."""
        if not isinstance(said, Mapping):
            return cls()
        have, wish = said.get("have"), said.get("wish")
        return cls(
            page=_one_of(said.get("page"), list(pages)),
            system=_one_of(said.get("system"), list(SYSTEMS)),
            scheme=cast("Scheme", _one_of(said.get("scheme"), ["light", "dark"])),
            columns=_within(said.get("columns"), 40, MOST_COLUMNS, 200),
            seconds=_one_of(said.get("seconds"), list(WINDOWS)),
            touch=said.get("touch") is True,
            charts=said.get("charts") is not False,
            have={str(k): str(v) for k, v in have.items()} if isinstance(have, Mapping) else {},
            wish={str(k): _texts(v) for k, v in wish.items()} if isinstance(wish, Mapping) else {},
            seen=_within(said.get("seen"), 0, 2**53, 0),
            name=str(said.get("name", ""))[:LONGEST_NAME],
        )


def _one_of(said: Any, allowed: list[Any]) -> Any:
    return said if said in allowed else allowed[0]


def _texts(said: Any) -> tuple[str, ...]:
    return tuple(str(text)[:LONGEST_WISH] for text in said[:MOST_WISHES]) if isinstance(said, list) else ()


def _within(said: Any, low: int, high: int, usual: int) -> int:
    if isinstance(said, bool) or not isinstance(said, int | float) or said != said:  # noqa: PLR0124  NaN
        return usual
    return int(min(max(said, low), high))
