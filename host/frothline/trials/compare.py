"""Comparison of trials: differences of their builds and figures."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from math import hypot
from typing import TYPE_CHECKING

from frothline.estimate import Estimate
from frothline.generator.build import Difference, differences
from frothline.generator.drawing import draw
from frothline.generator.entry_words import entry_words, spoken
from frothline.label_case import label_case
from frothline.presentable import LONGEST_TITLE, draw_picture
from frothline.rounding import counted
from frothline.sentence_units import in_units_html
from frothline.trials.common_depth import comparable
from frothline.trials.figures import TrialFigure, shown_figures
from frothline.trials.trial import Trial, names_of
from frothline.trials.trial_table import trials_picture, trials_table
from frothline.units import chosen_system

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go


@dataclass(frozen=True)
class FigureChange:
    """The change of one figure between two trials, SI. An unknown one is None, with its reason in ``why``.

    The uncertainties count as independent: an error common to both trials makes the interval wider than needed.
    """

    figure: TrialFigure
    before: Estimate | None
    after: Estimate | None
    change: Estimate | None
    why: str = ""

    @property
    def words(self) -> str:
        """The words higher or lower where the interval excludes 0; else "not clear"; empty if unknown."""
        if self.change is None:
            return ""
        return "higher" if self.change.lower > 0.0 else "lower" if self.change.upper < 0.0 else "not clear"


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

    @property
    def figures(self) -> tuple[FigureChange, ...]:
        """The change of each figure, in the order of ``FIGURES``; those of the concrete only if both were poured."""
        shown = shown_figures((self.before,))
        also = shown_figures((self.after,))
        return tuple(_change_of(figure, self.before, self.after) for figure in shown if figure in also)

    def drawing(self, width: float = 900.0, *, system: str = "metric") -> str:
        """The later build with the changed parts marked, as SVG; empty if its sheet is unknown."""
        return (
            "" if self.after.build is None else draw(self.after.build, changed=self.paths, width=width, system=system)
        )

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
        rows = "".join(
            f"<tr><td>{escape(label_case(label))}</td><td>{escape(old)}</td><td>{escape(new)}</td></tr>"
            for label, old, new in self.rows
        )
        system, names = chosen_system(), [*names_of(self.before), *names_of(self.after)]
        head = "<tr><th>Part</th><th>Before</th><th>After</th></tr>" if rows else ""
        text = in_units_html(f"<p>{escape(self.words)}</p><table>{head}{rows}</table>", system, names)
        return text + self.drawing(system=system)


def _change_of(figure: TrialFigure, before: Trial, after: Trial) -> FigureChange:
    (old, new), words = comparable((before, after), figure.name)
    if old is None or new is None or not (old.known and new.known):
        unknown = before if old is None or not old.known else after
        return FigureChange(figure, old, new, None, words[0] if words else unknown.why.get(figure.name, "not known"))
    u = hypot(old.standard_uncertainty, new.standard_uncertainty)
    return FigureChange(figure, old, new, Estimate.normal(new.value - old.value, u, figure.unit))


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
        words = f"{counted(len(parts), 'change')}: " + "; ".join(parts)
    return Comparison(before, after, changed, tuple(rows), words)
