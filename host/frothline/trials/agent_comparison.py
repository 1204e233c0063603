"""Comparison of foaming agents as a blocked design: the day, or the batch of solution, is the block."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Estimate
from frothline.formatting import difference_text, full_text, local_day
from frothline.generator.build import differences
from frothline.generator.entry_words import spoken
from frothline.numerics.blocked_design import BlockedComparison, compare_in_blocks
from frothline.numerics.uncertainty import student_factor
from frothline.presentable import (
    Observations,
    Picture,
    PictureAxis,
    PicturePoints,
    Plottable,
    PresentedFigure,
    estimate_cells,
    estimate_units,
)
from frothline.quantities import shorten
from frothline.rounding import counted
from frothline.trials.common_depth import comparable
from frothline.trials.copies import without_copies
from frothline.trials.figures import BY_NAME, TrialFigure, unit_of
from frothline.trials.reading_uncertainty import reading_of
from frothline.trials.spelling import one_spelling
from frothline.trials.trial import Trial
from frothline.units import METRIC

BLOCKS = ("day", "batch")
AGENT = "solution.agent"


@dataclass(frozen=True, repr=False)
class AgentComparison(Plottable):
    """Agents compared on one figure. ``found`` is in SI; ``by`` is what the blocks are; ``trials`` those that count."""

    figure: TrialFigure
    by: str
    found: BlockedComparison
    trials: tuple[str, ...]
    words: tuple[str, ...]
    simulated: bool = False

    @property
    def means(self) -> dict[str, Estimate]:
        """Adjusted mean of each agent with its 95 % interval, SI."""
        factor = float(student_factor(self.found.freedom[2]))
        return {
            name: Estimate(mean, u, mean - factor * u, mean + factor * u, self.figure.unit)
            for name, (mean, u) in zip(self.found.treatments, self.found.means, strict=True)
        }

    @property
    def differences(self) -> tuple[tuple[str, str, Estimate], ...]:
        """Each pair of agents: first, second, and second minus first; all intervals together hold at 95 %."""
        return tuple(
            (
                one.first,
                one.second,
                Estimate(one.value, one.standard_uncertainty, one.lower, one.upper, self.figure.unit),
            )
            for one in self.found.differences
        )

    def as_dict(self) -> dict[str, Any]:
        """For ``--json``, SI."""
        blocks, agents, rest = self.found.sums
        return {
            "response": self.figure.name,
            "unit": self.figure.unit,
            "block": self.by,
            "blocks": list(self.found.blocks),
            "trials": list(self.trials),
            "simulated": self.simulated,
            "means": {name: one.as_dict() for name, one in self.means.items()},
            "differences": [{"first": a, "second": b, **one.as_dict()} for a, b, one in self.differences],
            "sums_of_squares": {"blocks": blocks, "agents": agents, "residual": rest},
            "degrees_of_freedom": dict(zip(("blocks", "agents", "residual"), self.found.freedom, strict=True)),
            "f": self.found.ratio if math.isfinite(self.found.ratio) else None,
            "p_value": self.found.p_value,
            "words": list(self.words),
        }

    def lines(self, system: Any = METRIC) -> list[str]:
        """The comparison as sentences in a system of units, the most important first."""
        unit = unit_of(self.figure, system)
        said = [f"“{name}”: {full_text(one, unit)}" for name, one in self.means.items()]
        for first, second, one in self.differences:
            clear = "clear" if one.lower > 0.0 or one.upper < 0.0 else "not clear"
            said.append(f"“{second}” minus “{first}”: {difference_text(one, unit)}, {clear}")
        return [*said, *self.words]

    def _title(self) -> str:
        count = len(self.found.blocks)
        agents = len(self.found.treatments)
        return f"{self.figure.label} of {agents} agents in {count} blocks, p = {self.found.p_value:.2g}"

    def _figures(self) -> Sequence[PresentedFigure]:
        unit = unit_of(self.figure, METRIC)
        rows = [PresentedFigure(name, one, unit) for name, one in self.means.items()]
        rows += [PresentedFigure(f"{b} minus {a}", one, unit, difference=True) for a, b, one in self.differences]
        return rows

    def _words(self) -> Sequence[str]:
        return self.words

    def _names(self) -> Sequence[str]:
        return self.found.treatments

    def _observations(self) -> Observations:
        """One row an agent: its adjusted mean."""
        rows = tuple({"agent": name, **estimate_cells(mean=one)} for name, one in self.means.items())
        return Observations(
            rows, {"agent": "", **estimate_units(mean=self.figure.unit)}, {}, {"words": list(self.words)}
        )

    def _picture(self) -> Picture:
        means = self.means
        ends = ([one.lower for one in means.values()], [one.upper for one in means.values()])
        points = PicturePoints("mean", list(means), [one.value for one in means.values()], y_ends=ends)
        axis = PictureAxis(self.figure.label, unit_of(self.figure, METRIC))
        return Picture(self._title(), PictureAxis("agent"), axis, (points,))


def compare_agents(trials: Sequence[Trial], response: str = "density", block: str = "day") -> AgentComparison:
    """Compare the agents of these trials on a figure, within days or batches of solution.

    Raises InputError for an unknown figure or block; TooFewPoints where the trials do not allow the comparison.
    """
    if response not in BY_NAME:
        what = f"“{shorten(response)}” is not a figure of a trial"
        raise InputError(what, where="response", remedy=f"One of: {', '.join(BY_NAME)}")
    if block not in BLOCKS:
        raise InputError(f"“{shorten(block)}” is not a block", where="block", remedy="Write day or batch")
    figure = BY_NAME[response]
    trials, copies = without_copies(trials)
    named = [
        one for one in trials if one.build is not None and one.build.solution.agent.strip() and _block_of(one, block)
    ]
    figures, depths = comparable(named, response)
    both = [(one, e) for one, e in zip(named, figures, strict=True) if e is not None and e.known]
    usable = [one for one, _ in both]
    if not usable:
        raise TooFewPoints(
            f"no trial has an agent, a {block} and its {figure.label}",
            where="agents",
            remedy="Name the agent in the build sheet, and weigh a sample",
        )
    agents = one_spelling([one.build.solution.agent for one in usable if one.build is not None])
    if len(set(agents)) == 1:
        raise TooFewPoints(
            f"all {counted(len(agents), 'trial')} have one agent, “{shorten(agents[0])}”",
            where="agents",
            remedy="Make runs with another agent on the same days",
        )
    blocks = [_block_of(one, block) for one in usable]
    reading = math.sqrt(sum(reading_of(one, response, e) ** 2 for one, e in both) / len(both))
    found = compare_in_blocks([e.value for _, e in both], agents, blocks, reading=reading)
    return AgentComparison(
        figure=figure,
        by=block,
        found=found,
        trials=tuple(one.name for one in usable),
        words=(*_words(usable, len(trials), found, block), *depths, *copies),
        simulated=any(one.simulated for one in usable),
    )


def _block_of(trial: Trial, block: str) -> str:
    if block == "batch":
        return trial.solution_batch
    return "" if trial.started is None else local_day(trial.started)


def _words(usable: Sequence[Trial], given: int, found: BlockedComparison, block: str) -> list[str]:
    clear = "differ more than their scatter explains" if found.p_value < 0.05 else "do not differ clearly"
    said = [
        f"the agents {clear}: F = {found.ratio:.3g}, p = {found.p_value:.2g}, "
        + counted(found.freedom[2], "degree of freedom", "degrees of freedom")
    ]
    if found.scatter < found.reading:
        said.append("alike runs differ by less than a reading is uncertain: the intervals allow for that")
    if len(usable) < given:
        left = given - len(usable)
        verb = "is" if left == 1 else "are"
        said.append(f"{counted(left, 'trial')} {verb} not used: no agent, no {block}, or the figure is not known")
    first = usable[0].build
    changed: dict[str, None] = {}
    for one in usable[1:]:
        assert first is not None
        assert one.build is not None
        changed |= dict.fromkeys(item.path for item in differences(first, one.build) if item.path != AGENT)
    if changed:
        parts = ", ".join(spoken(path) for path in list(changed)[:6])
        said.append(f"more than the agent changed between these trials ({parts}): the comparison has that in it")
    said.append("intervals of all differences hold together at 95 % (Bonferroni)")
    return said
