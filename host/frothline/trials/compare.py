"""Comparison of trials: differences of their builds and figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from html import escape
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
from frothline.trials.run_scatter import RunScatter, change_between, scatter_between
from frothline.trials.trial import Trial, names_of
from frothline.trials.trial_table import trials_picture, trials_table
from frothline.units import chosen_system

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go


ONE_RUN_EACH = "one run each: scatter between runs not included; repeat a build to know it"
NOT_INCLUDED = "scatter between runs not included"
OF_THE_RUN = ("water_temperature",)  # a figure of the day: it has no scatter between runs of one build


@dataclass(frozen=True)
class FigureChange:
    """The change of one figure between two trials, SI. An unknown one is None, with its reason in ``why``.

    The interval includes the scatter between runs where ``repeats`` are known (degrees of freedom of the scatter).
    The uncertainties of both count as independent: an error common to both makes the interval wider than needed.
    """

    figure: TrialFigure
    before: Estimate | None
    after: Estimate | None
    change: Estimate | None
    why: str = ""
    repeats: int = 0

    @property
    def words(self) -> str:
        """The words higher or lower where the interval excludes 0 and has the scatter between runs in it; a remark
        where it has not; else "not clear"; empty if unknown.
        """
        if self.change is None:
            return ""
        if self.change.lower <= 0.0 <= self.change.upper:
            return "not clear"
        if not self.repeats and self.figure.name not in OF_THE_RUN:
            return NOT_INCLUDED
        return "higher" if self.change.lower > 0.0 else "lower"


@dataclass(frozen=True, repr=False)
class Comparison:
    """The changes from one trial to another; ``rows`` are label, value before, value after."""

    before: Trial
    after: Trial
    changed: tuple[Difference, ...]
    rows: tuple[tuple[str, str, str], ...]
    words: str
    trials: tuple[Trial, ...] = ()  # of the folder: the scatter between runs is that of their repeats

    @property
    def paths(self) -> tuple[str, ...]:
        """Paths of the entries to mark on a drawing."""
        return tuple(one.path for one in self.changed)

    @cached_property
    def figures(self) -> tuple[FigureChange, ...]:
        """The change of each figure, in the order of ``FIGURES``; those of the concrete only if both were poured."""
        shown = shown_figures((self.before,))
        also = shown_figures((self.after,))
        pool = self.trials or (self.before, self.after)
        return tuple(_change_of(figure, self.before, self.after, pool) for figure in shown if figure in also)

    @property
    def scatter_words(self) -> tuple[str, ...]:
        """Whether the intervals of ``figures`` include the scatter between runs, and from how many repeats."""
        known = [one for one in self.figures if one.change is not None and one.figure.name not in OF_THE_RUN]
        most = max((one.repeats for one in known), default=0)
        said = [f"intervals include the scatter between runs, from {counted(most, 'repeated run')}"] if most else []
        without = [one.figure.label for one in known if not one.repeats]
        if without:
            said.append(f"{', '.join(without)}: {ONE_RUN_EACH}" if most else ONE_RUN_EACH)
        return tuple(said)

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


def _change_of(figure: TrialFigure, before: Trial, after: Trial, pool: Sequence[Trial]) -> FigureChange:
    (old, new), words = comparable((before, after), figure.name)
    if old is None or new is None or not (old.known and new.known):
        unknown = before if old is None or not old.known else after
        return FigureChange(figure, old, new, None, words[0] if words else unknown.why.get(figure.name, "not known"))
    scatter = None if figure.name in OF_THE_RUN else scatter_between(pool, figure.name)
    if scatter is not None and figure.name == "drainage":
        scatter = _as_compared(scatter, pool, after, new)
    change = change_between(figure.name, (before, old), (after, new), scatter)
    return FigureChange(figure, old, new, change, repeats=0 if scatter is None else scatter.freedom)


def _as_compared(scatter: RunScatter, pool: Sequence[Trial], after: Trial, new: Estimate) -> RunScatter | None:
    """The scatter of drainage times at the depth of this pair; the whole folder may be at a common depth."""
    for one, estimate in zip(pool, comparable(pool, "drainage")[0], strict=True):
        if one.path == after.path and estimate is not None and estimate.known and estimate.value > 0.0:
            return replace(scatter, deviation=scatter.deviation * new.value / estimate.value)
    return None


def compare(before: Trial, after: Trial, trials: Sequence[Trial] = ()) -> Comparison:
    """Compare two trials: builds and all other settings.

    ``trials`` : all of the folder; repeats among them give the scatter between runs
    """
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
    return Comparison(before, after, changed, tuple(rows), words, tuple(trials))
