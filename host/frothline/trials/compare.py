"""Comparison of trials: differences of their builds and figures."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from frothline.generator.build import Difference, differences
from frothline.generator.drawing import draw
from frothline.generator.entry_words import entry_words, spoken
from frothline.presentable import LONGEST_TITLE, draw_picture
from frothline.trials.trial import Trial
from frothline.trials.trial_table import trials_picture, trials_table

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go


@dataclass(frozen=True, repr=False)
class Comparison:
    """The changes from one trial to another; ``rows`` are label, value before, value after."""

    before: Trial
    after: Trial
    changed: tuple[Difference, ...]
    rows: tuple[tuple[str, str, str], ...]
    words: str

    @property
    def paths(self) -> tuple[str, ...]:
        """Paths of the entries to mark on a drawing."""
        return tuple(one.path for one in self.changed)

    def drawing(self, width: float = 900.0) -> str:
        """The later build with the changed parts marked, as SVG; empty if its sheet is unknown."""
        return "" if self.after.build is None else draw(self.after.build, changed=self.paths, width=width)

    def table(self) -> pd.DataFrame:
        """Both trials, one row each; columns and ``attrs`` as in the notebook's table."""
        return trials_table((self.before, self.after))

    def plot(self, response: str = "density") -> go.Figure:
        """One figure of both trials with its 95 % interval. Raises InputError for an unknown one."""
        return draw_picture(trials_picture((self.before, self.after), response))

    def __repr__(self) -> str:
        words = self.words if len(self.words) <= LONGEST_TITLE else f"{self.words[: LONGEST_TITLE - 1]}…"
        return f"<Comparison {self.before.name} to {self.after.name}: {words}>"

    def _repr_html_(self) -> str:
        rows = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in self.rows)
        return f"<p>{escape(self.words)}</p><table>{rows}</table>{self.drawing()}"


def compare(before: Trial, after: Trial) -> Comparison:
    """Compare two trials: builds and all other settings."""
    changed: tuple[Difference, ...] = ()
    if before.build is not None and after.build is not None:
        changed = differences(before.build, after.build)
    rows = [(spoken(one.path), entry_words(one.path, one.before), entry_words(one.path, one.after)) for one in changed]
    for label, old, new in (
        ("air source", before.air_source, after.air_source),
        ("solution batch", before.solution_batch, after.solution_batch),
    ):
        if old != new:
            rows.append((label, old or "not recorded", new or "not recorded"))
    if before.build is None or after.build is None:
        words = "one of the builds is not known; changes cannot be listed"
    elif not rows:
        words = "no change: the same build"
    else:
        parts = [f"{label} {old} to {new}" for label, old, new in rows]
        words = f"{len(parts)} thing{'s' if len(parts) > 1 else ''} changed: " + "; ".join(parts)
    return Comparison(before, after, changed, tuple(rows), words)
