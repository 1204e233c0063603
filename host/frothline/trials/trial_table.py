"""Trials as a tidy table, as an HTML table, and as a chart of one figure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING, Any

from frothline.errors import InputError
from frothline.formatting import interval_text, value_text
from frothline.label_case import label_case
from frothline.presentable import Picture, PictureAxis, PicturePoints, nothing_to_draw
from frothline.quantities import shorten
from frothline.trials.figures import BY_NAME, FIGURES, shown_figures, unit_of
from frothline.trials.trial import Trial
from frothline.units import METRIC, Unit

if TYPE_CHECKING:
    import pandas as pd


def trials_table(trials: tuple[Trial, ...]) -> pd.DataFrame:
    """See :meth:`Notebook.table`."""
    import pandas as pd  # noqa: PLC0415  a second to load; the catalogue needs none

    rows = []
    for one in trials:
        row: dict[str, Any] = {
            "trial": one.name,
            "started": one.started,
            "air_source": one.air_source,
            "build": one.build_name,
            "solution_batch": one.solution_batch,
        }
        for figure in FIGURES:
            estimate = one.figure(figure.name)
            row[figure.name] = float("nan") if estimate is None else estimate.value
            row[f"u_{figure.name}"] = float("nan") if estimate is None else estimate.standard_uncertainty
        rows.append(row)
    columns = ["trial", "started", "air_source", "build", "solution_batch"]
    columns += [name for figure in FIGURES for name in (figure.name, f"u_{figure.name}")]
    frame = pd.DataFrame(rows, columns=columns)
    units = {name: figure.unit for figure in FIGURES for name in (figure.name, f"u_{figure.name}")}
    frame.attrs = {
        "units": {name: units.get(name, "") for name in columns},
        "simulated": any(one.simulated for one in trials),
        "sha256": {one.name: one.sha256 for one in trials},
    }
    return frame


def html_table(trials: tuple[Trial, ...], system: Mapping[str, Unit] = METRIC) -> str:
    """Trials as an HTML table, figures with their intervals."""
    head = "".join(f"<th>{escape(one.title)}<br><small>{escape(one.build_name)}</small></th>" for one in trials)
    body = []
    for figure in shown_figures(trials):
        unit = unit_of(figure, system)
        cells = "".join(
            f"<td title='{escape(one.why.get(figure.name, ''))}'>{escape(value_text(one.figure(figure.name), unit))}"
            f"<br><small>{escape(interval_text(one.figure(figure.name), unit))}</small></td>"
            for one in trials
        )
        body.append(f"<tr><th>{escape(label_case(figure.label))}</th>{cells}</tr>")
    return f"<table><tr><th></th>{head}</tr>{''.join(body)}</table>"


def trials_picture(trials: Sequence[Trial], response: str) -> Picture:
    """Chart of one figure of all trials with its 95 % interval. Raises InputError for an unknown figure, and if no
    trial has it.
    """
    if response not in BY_NAME:
        what = f"“{shorten(response)}” is not a figure of a trial"
        raise InputError(what, where="response", remedy=f"One of: {', '.join(BY_NAME)}")
    figure = BY_NAME[response]
    found = [(one, e) for one in trials if (e := one.figure(response)) is not None and e.known]
    if not found:
        raise nothing_to_draw(figure.label)
    ends = ([e.lower for _, e in found], [e.upper for _, e in found])
    points = PicturePoints(figure.label, [one.name for one, _ in found], [e.value for _, e in found], y_ends=ends)
    return Picture(figure.label, PictureAxis("trial"), PictureAxis(figure.label, unit_of(figure)), (points,))
