"""Presentation of a result in a notebook: one line of text, an HTML table, a tidy DataFrame, a chart.

A result derives from ``Presentable``, or from ``Plottable`` if it has a chart, and provides its title, figures,
sentences, observations and chart. Rounding and units are those of :mod:`frothline.formatting`. pandas and plotly are
loaded only when a table or a chart is made.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from math import isfinite, nan
from typing import TYPE_CHECKING, Any

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.formatting import Shown, show_difference, show_estimate_in
from frothline.label_case import label_case
from frothline.sentence_units import in_units, in_units_html, shown_in
from frothline.units import Unit, chosen_system

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

LONGEST_TITLE = 160  # characters of the title
_COLOURS = ("#1f6fb2", "#c2571a", "#2f8f5b", "#8a4fa3", "#7a7a7a", "#b03a4a")


@dataclass(frozen=True)
class PresentedFigure:
    """One row of the HTML table.

    reason : why there is no value
    difference : True if the value is shown with its sign
    """

    label: str
    estimate: Estimate | None
    unit: Unit
    reason: str = ""
    difference: bool = False

    @property
    def shown(self) -> Shown:
        return self.shown_in("metric")

    def shown_in(self, system: str) -> Shown:
        """The figure in a system of units."""
        show = show_difference if self.difference else show_estimate_in
        return show(self.estimate, shown_in(self.unit, system), reason=in_units(self.reason, system))


@dataclass(frozen=True)
class Observations:
    """Rows of a table in SI, one an observation.

    units : SI unit by column, in the order of the columns
    unknown : why a column has no value
    more : further entries of ``attrs``
    """

    rows: tuple[Mapping[str, Any], ...]
    units: Mapping[str, str]
    unknown: Mapping[str, str] = field(default_factory=dict)
    more: Mapping[str, Any] = field(default_factory=dict)


def estimate_units(**units: str) -> dict[str, str]:
    """Units of the four columns of each estimate: ``x``, ``u_x``, ``lower_x`` and ``upper_x``."""
    return {f"{part}{name}": unit for name, unit in units.items() for part in ("", "u_", "lower_", "upper_")}


def estimate_cells(**estimates: Estimate | None) -> dict[str, float]:
    """Values of these columns; NaN if unknown."""
    cells: dict[str, float] = {}
    for name, one in estimates.items():
        given = (nan,) * 4 if one is None else (one.value, one.standard_uncertainty, one.lower, one.upper)
        cells |= zip((name, f"u_{name}", f"lower_{name}", f"upper_{name}"), given, strict=True)
    return cells


@dataclass(frozen=True)
class PictureAxis:
    """Axis of a chart. ``unit`` converts SI to the displayed unit; None for an axis of names."""

    label: str
    unit: Unit | None = None

    @property
    def title(self) -> str:
        symbol = "" if self.unit is None else self.unit.symbol
        label = label_case(self.label)
        return f"{label} ({symbol})" if symbol else label

    def shown(self, values: Sequence[Any]) -> list[Any]:
        if self.unit is None:
            return [str(value) for value in values]
        return [self.unit.from_si(float(value)) for value in values]

    def in_system(self, system: str) -> PictureAxis:
        """The axis in a system of units; the figures in its label too."""
        unit = None if self.unit is None else shown_in(self.unit, system)
        return PictureAxis(in_units(self.label, system), unit)


@dataclass(frozen=True)
class PictureLine:
    """A line, with its band if both ends are given; all (n,) SI."""

    name: str
    x: Sequence[float]
    y: Sequence[float]
    lower: Sequence[float] | None = None
    upper: Sequence[float] | None = None
    dashed: bool = False


@dataclass(frozen=True)
class PicturePoints:
    """Points with the ends of their intervals if these are given; SI, or names on an axis of names."""

    name: str
    x: Sequence[Any]
    y: Sequence[Any]
    x_ends: tuple[Sequence[float], Sequence[float]] | None = None
    y_ends: tuple[Sequence[float], Sequence[float]] | None = None


@dataclass(frozen=True)
class PictureBars:
    """Bars from zero, one a name."""

    name: str
    x: Sequence[str]
    y: Sequence[float]


@dataclass(frozen=True)
class Picture:
    """A chart with one pair of axes."""

    title: str
    x: PictureAxis
    y: PictureAxis
    items: tuple[PictureLine | PicturePoints | PictureBars, ...]


class Presentable(ABC):
    """A result with a short text, an HTML table and a DataFrame."""

    @abstractmethod
    def _title(self) -> str:
        """What it is and its main figures, in one line."""

    @abstractmethod
    def _observations(self) -> Observations:
        """The rows of the table."""

    def _figures(self) -> Sequence[PresentedFigure]:
        """Values with their intervals, for the HTML table."""
        return ()

    def _facts(self) -> Sequence[tuple[str, str]]:
        """Label and text of rows without an interval, for the HTML table."""
        return ()

    def _words(self) -> Sequence[str]:
        """Notes on the result, the most important first."""
        return ()

    def _names(self) -> Sequence[str]:
        """Names and files in its texts, which are unchanged in every system of units."""
        return ()

    def table(self) -> pd.DataFrame:
        """A tidy DataFrame: one row an observation, SI.

        ``attrs["units"]`` has the unit of each column, ``attrs["unknown"]`` why a column has no value.
        """
        import pandas as pd  # noqa: PLC0415  a second to load

        found = self._observations()
        frame = pd.DataFrame([dict(row) for row in found.rows], columns=list(found.units))
        frame.attrs = {"units": dict(found.units), "unknown": dict(found.unknown), **found.more}
        return frame

    def __repr__(self) -> str:
        title = " ".join(self._title().split())
        short = title if len(title) <= LONGEST_TITLE else f"{title[: LONGEST_TITLE - 1]}…"
        return f"<{type(self).__name__} {short}>"

    def _repr_html_(self) -> str:
        system = chosen_system()
        rows = "".join(_row(one, system) for one in self._figures())
        for label, fact in self._facts():
            rows += f"<tr><td>{escape(label_case(label))}</td><td>{escape(fact)}</td><td></td></tr>"
        head = "<tr><th></th><th>Value</th><th>95 % interval, or reason</th></tr>"
        words = "".join(f"<li>{escape(one)}</li>" for one in self._words())
        html = (
            f"<h4>{escape(self._title())}</h4>"
            f"{f'<table>{head}{rows}</table>' if rows else ''}"
            f"{f'<ul>{words}</ul>' if words else ''}"
        )
        return in_units_html(html, system, self._names())


class Plottable(Presentable):
    """A result with a chart."""

    @abstractmethod
    def _picture(self) -> Picture:
        """The chart; raises InputError if there is nothing to draw."""

    def plot(self) -> go.Figure:
        """A Plotly figure with 95 % intervals as bands and bars, in the units that ``FROTHLINE_UNITS`` names."""
        return draw_picture(self._picture())


def nothing_to_draw(what: str) -> InputError:
    """The error of an empty chart."""
    return InputError(f"{what} has nothing to draw", where="plot", remedy="See .table() for what is known and why")


def _row(one: PresentedFigure, system: str) -> str:
    shown = one.shown_in(system)
    return (
        f"<tr><td>{escape(label_case(one.label))}</td><td>{escape(shown.value_and_unit)}</td>"
        f"<td><small>{escape(shown.under)}</small></td></tr>"
    )


def draw_picture(picture: Picture) -> go.Figure:
    """The chart as a Plotly figure, in the units of ``chosen_system``, as the HTML tables."""
    import plotly.graph_objects as go  # noqa: PLC0415  a second to load

    system = chosen_system()
    x_axis, y_axis = picture.x.in_system(system), picture.y.in_system(system)
    figure = go.Figure()
    for number, item in enumerate(picture.items):
        colour = _COLOURS[number % len(_COLOURS)]
        name = escape(label_case(item.name))  # plotly reads simple HTML in names
        x, y = x_axis.shown(item.x), y_axis.shown(item.y)
        if isinstance(item, PictureBars):
            figure.add_bar(x=[escape(one) for one in x], y=y, name=name, marker={"color": colour})
        elif isinstance(item, PictureLine):
            if item.lower is not None and item.upper is not None:
                lower, upper = y_axis.shown(item.lower), y_axis.shown(item.upper)
                band = {"x": [*x, *x[::-1]], "y": [*upper, *lower[::-1]], "name": f"{name}, 95 %"}
                line = {"color": colour, "width": 0}
                figure.add_scatter(**band, fill="toself", opacity=0.25, line=line, hoverinfo="skip", mode="lines")
            dash = "dash" if item.dashed else "solid"
            figure.add_scatter(x=x, y=y, name=name, mode="lines", line={"color": colour, "dash": dash})
        else:
            bars = {
                f"error_{axis}": _error(side, values, ends)
                for axis, side, values, ends in (("x", x_axis, x, item.x_ends), ("y", y_axis, y, item.y_ends))
                if ends is not None
            }
            shown = [
                [escape(one) if isinstance(one, str) else one for one in values] for values in (x, y)
            ]  # names on an axis
            figure.add_scatter(
                x=shown[0], y=shown[1], name=name, mode="markers", marker={"color": colour, "size": 8}, **bars
            )
    figure.update_layout(
        title=escape(in_units(picture.title, system)),
        xaxis_title=escape(x_axis.title),
        yaxis_title=escape(y_axis.title),
        template="plotly_white",
    )
    return figure


def _error(axis: PictureAxis, values: Sequence[float], ends: tuple[Sequence[float], Sequence[float]]) -> dict[str, Any]:
    lower, upper = (axis.shown(one) for one in ends)
    return {
        "type": "data",
        "symmetric": False,
        "array": [_distance(a, b) for a, b in zip(values, upper, strict=True)],
        "arrayminus": [_distance(a, b) for a, b in zip(lower, values, strict=True)],
    }


def _distance(low: float, high: float) -> float:
    return high - low if isfinite(high - low) else 0.0
