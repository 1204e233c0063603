"""The table of an overview, with its chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from frothline.label_case import label_case
from frothline.numerics.arrays import Floats
from frothline.presentable import nothing_to_draw
from frothline.units import SYSTEMS, Unit, chosen_system

if TYPE_CHECKING:
    import plotly.graph_objects as go

# Series in the order in which a chart shows them, each with the quantity that gives its unit, and its title
SHOWN = {
    "line_pressure": ("pressure", "pressure"),
    "standard_flow": ("flow", "flow in standard air"),
    "scale_mass": ("mass", "mass on the scale"),
    "line_temperature": ("temperature", "temperature in the line"),
}
MOST = 3  # series in a chart
GAP = 3.0  # usual distances between two values from which a line is broken
_COLOUR = "#1f6fb2"


class RecordingOverview(pd.DataFrame):  # type: ignore[misc]  # pandas is not typed
    """The table of ``overview``: a DataFrame, whose ``plot`` draws it.

    A table made of it, by a choice of rows or a calculation, is a plain DataFrame.
    """

    def table(self) -> pd.DataFrame:
        """The same as a plain DataFrame."""
        frame = pd.DataFrame(self)
        frame.attrs = dict(self.attrs)
        return frame

    def plot(self) -> go.Figure:
        """A Plotly figure of lowest and highest values of at most three series, in the units of ``FROTHLINE_UNITS``.

        They are the first of pressure, flow, mass and temperature that are in the table with a value in the recording.
        Raises InputError if there is none.
        """
        from plotly.subplots import make_subplots  # noqa: PLC0415  a second to load

        names = [name for name in series_of(self) if f"{name}_low" in self]
        if not names:
            raise nothing_to_draw("The overview")
        system = SYSTEMS[chosen_system()]
        middle = self["time"].to_numpy() + self.attrs["stretch"] / 2
        figure = make_subplots(rows=len(names), shared_xaxes=True, vertical_spacing=0.06)
        for row, name in enumerate(names, start=1):
            quantity, title = SHOWN[name]
            unit = system[quantity]
            time, low, high = without_empty(middle, *(values_in(self, name, unit)))
            for values, words, fill in ((low, "lowest", None), (high, "highest", "tonexty")):
                figure.add_scatter(
                    x=time,
                    y=values,
                    name=label_case(f"{title}, {words}"),
                    mode="lines",
                    line={"color": _COLOUR, "width": 1},
                    fill=fill,
                    showlegend=False,
                    row=row,
                    col=1,
                )
            figure.update_yaxes(title_text=f"{label_case(title)} ({unit.symbol})", row=row, col=1)
        figure.update_xaxes(title_text="Time (s)", row=len(names), col=1)
        figure.update_layout(template="plotly_white", title="Lowest and highest values")
        return figure


def series_of(frame: pd.DataFrame) -> list[str]:
    """The series that a chart shows: those with a value anywhere in the recording."""
    return [name for name in SHOWN if name in frame.attrs["known"]][:MOST]


def values_in(frame: pd.DataFrame, name: str, unit: Unit) -> tuple[Floats, Floats]:
    """Lowest and highest values of a series, (n,) each, in a unit."""
    zero = unit.from_si(0.0)
    low, high = (zero + frame[f"{name}_{side}"].to_numpy() * (unit.from_si(1.0) - zero) for side in ("low", "high"))
    return low, high


def without_empty(time: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats, Floats]:
    """The stretches with a value; one without any is left where a series has a gap."""
    known = np.flatnonzero(np.isfinite(low))
    if known.size < 2:
        return time[known], low[known], high[known]
    step = np.diff(known)
    after = np.flatnonzero(step > GAP * np.median(step)) + 1
    return (
        np.insert(time[known], after, time[known[after - 1] + 1]),
        np.insert(low[known], after, np.nan),
        np.insert(high[known], after, np.nan),
    )
