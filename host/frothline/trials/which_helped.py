"""Which change helped: the factors of a set of trials from their build sheets, and their effects on one figure.

A factor is every entry of the sheet that differs between the trials, and the air source. A linked entry (twice the wool
in twice the length) is one change together with its leading entry, with a note. Solution batches are removed as blocks
if no entry of the solution was changed: a batch has one dilution, so that batch and dilution cannot be separated.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import TYPE_CHECKING, Any

from frothline.errors import InputError, TooFewPoints
from frothline.foam.dilution import Dilution
from frothline.formatting import RATIO
from frothline.generator.build import PARTS, Build, differences, entries
from frothline.generator.entry_words import entry_words, spoken
from frothline.label_case import label_case
from frothline.presentable import Picture, PictureAxis, PicturePoints, draw_picture, nothing_to_draw
from frothline.quantities import shorten
from frothline.rounding import counted
from frothline.sentence_units import in_units
from frothline.trials.common_depth import comparable
from frothline.trials.copies import without_copies
from frothline.trials.effect_statistics import Effect, EffectsReport, effects
from frothline.trials.figures import BY_NAME, TrialFigure, change_unit_of
from frothline.trials.reading_uncertainty import reading_of
from frothline.trials.run_scatter import NO_SETTING
from frothline.trials.spelling import one_spelling
from frothline.trials.trial import Trial
from frothline.trials.two_groups import TwoGroups, welch
from frothline.units import METRIC, SYSTEMS, ZERO_CELSIUS, Unit, chosen_system

if TYPE_CHECKING:
    import plotly.graph_objects as go

_KINDS = {
    "length": Unit("mm", 1e3),
    "bore": Unit("mm", 1e3),
    "mass": Unit("g", 1e3),
    "volume": Unit("L", 1e3),
    "flow": Unit("L/min", 6e4),
    "share": Unit("%", 100.0),
    "temperature": Unit("°C", 1.0, -ZERO_CELSIUS),
    "dilution": Unit("% agent", 100.0),
}
_AS_ONE = 0.02  # relative: entries with a ratio this constant are one change
AIR_SOURCE = "air source"
THE_DAY = "the day"

# entry: its leading entry, as a number of the build
_ALONG: Mapping[str, tuple[str, Callable[[Build], float]]] = {
    "packing.mass": ("packing.length", lambda b: b.packing.length),
    "tube.under_liquid": ("the number of holes", lambda b: float(b.tube.holes)),
    "tube.holes_per_row": ("tube.length", lambda b: b.tube.length),
}


@dataclass(frozen=True)
class FactorOf:
    """A factor of these trials: ``path`` of the sheet's entry ("" for the air source), ``label`` with the unit in which
    ``effects`` has it, and that unit (its factor turns SI into it).
    """

    path: str
    label: str
    unit: Unit


@dataclass(frozen=True, repr=False)
class EffectsOfChanges:
    """Effects on one figure. ``report`` is in the reader's units; ``as_dict`` gives SI.

    ``words`` come first, in order: confounded factors before effects.
    """

    response: str
    label: str
    unit: Unit
    factors: tuple[FactorOf, ...]
    report: EffectsReport
    trials: tuple[str, ...]
    words: tuple[str, ...]
    runs: tuple[str, ...]  # the runs that would separate confounded factors
    simulated: bool = False

    def as_dict(self) -> dict[str, Any]:
        """For ``--json``: effects in SI, settings as on the bench with their unit in the factor's name."""
        si_unit = BY_NAME[self.response].unit
        return {
            "response": self.response,
            "unit": si_unit,
            "trials": list(self.trials),
            "simulated": self.simulated,
            "words": list(self.words),
            "effects": [
                {
                    "factor": one.factor,
                    "low": one.low,
                    "high": one.high,
                    "p_value": one.p_value,
                    "degrees_of_freedom": one.degrees_of_freedom,
                    **replace(one.estimate / self.unit.factor, unit=si_unit).as_dict(),
                }
                for one in self.report.effects
            ],
            "confounded": [{"factors": list(c.factors), "words": c.words} for c in self.report.confounded],
            "runs_that_would_tell": list(self.runs),
            "unchanged": list(self.report.unchanged),
            "in_order": list(self.report.in_order),
            "residual_standard_deviation": _or_none(self.report.residual_standard_deviation / self.unit.factor),
            "degrees_of_freedom": self.report.degrees_of_freedom,
        }

    def shown_unit(self, system: Mapping[str, Unit]) -> Unit:
        """The unit of the figure in a system of units, with its factor from the unit of ``report``."""
        unit = change_unit_of(BY_NAME[self.response], system)
        return Unit(unit.symbol, unit.factor / self.unit.factor)

    def ends_shown(self, effect: Effect, system: Mapping[str, Unit]) -> tuple[float, float, float]:
        """Value and ends of the interval of an effect in a system of units."""
        scaled = effect.estimate.scaled(self.shown_unit(system).factor)
        return scaled.value, scaled.lower, scaled.upper

    def factor_shown(self, effect: Effect, system: str) -> tuple[str, str]:
        """Name of a factor with its unit, and its two levels, as in ``("packing length (in)", "9.84 to 15.7")``."""
        text = f"{effect.factor} from {_level(effect.low)} to {_level(effect.high)}"
        name, _, levels = in_units(text, system).rpartition(" from ")
        return name, levels

    def label_shown(self, effect: Effect, system: str) -> str:
        """Name of a factor with its unit, and with its levels where the report has several effects of it."""
        name, levels = self.factor_shown(effect, system)
        several = sum(one.factor == effect.factor for one in self.report.effects) > 1
        return f"{name}, {levels}" if several else name

    def table(self) -> Any:
        """Effects as a tidy DataFrame, SI; ``attrs["units"]`` names the units."""
        import pandas as pd  # noqa: PLC0415  a second to load

        rows = self.as_dict()["effects"]
        keep = ["factor", "low", "high", "value", "standard_uncertainty", "lower", "upper", "p_value"]
        frame = pd.DataFrame([{name: row[name] for name in keep} for row in rows], columns=keep)
        unit = BY_NAME[self.response].unit
        units = dict.fromkeys(("value", "standard_uncertainty", "lower", "upper"), unit)
        frame.attrs = {"units": {name: units.get(name, "") for name in keep}, "words": list(self.words)}
        return frame

    def plot(self) -> go.Figure:
        """Each effect with its 95 % interval, as a Plotly figure. Raises InputError where there is none."""
        if not self.report.effects:
            raise nothing_to_draw(f"effects on the {self.label}")
        found = [one.estimate / self.unit.factor for one in self.report.effects]
        ends = ([one.lower for one in found], [one.upper for one in found])
        names = [self.label_shown(one, "metric") for one in self.report.effects]
        points = PicturePoints("effect", [one.value for one in found], names, x_ends=ends)
        change = PictureAxis(f"change of the {self.label}", Unit(self.unit.symbol, self.unit.factor))
        return draw_picture(Picture(f"effects on the {self.label}", change, PictureAxis("changed"), (points,)))

    def __repr__(self) -> str:
        found = f"{counted(len(self.report.effects), 'effect')}, {counted(len(self.trials), 'trial')}"
        return f"<EffectsOfChanges on the {self.label}: {found}>"

    def _repr_html_(self) -> str:
        said = "".join(f"<li>{escape(in_units(one, chosen_system()))}</li>" for one in self.words)
        system = chosen_system()
        unit, rows = self.shown_unit(SYSTEMS[system]), ""
        for one in self.report.effects:
            (name, levels), ends = self.factor_shown(one, system), self.ends_shown(one, SYSTEMS[system])
            rows += (
                f"<tr><td>{escape(label_case(name))}</td><td>{escape(levels)}</td>"
                f"<td>{ends[0]:+.3g} {escape(unit.symbol)}</td><td>{ends[1]:+.3g} to {ends[2]:+.3g}</td></tr>"
            )
        made = " (simulated)" if self.simulated else ""
        return f"<h4>What changed the {escape(self.label)}{made}</h4><ul>{said}</ul><table>{rows}</table>"


def _level(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.4g}"


def _or_none(value: float) -> float | None:
    return value if math.isfinite(value) else None


def which_helped(trials: Sequence[Trial], response: str = "density") -> EffectsOfChanges:
    """Effects of all changes between ``trials`` on one of the figures in ``FIGURES``.

    Raises InputError for an unknown figure, or trials without a common sheet; TooFewPoints with fewer than two trials
    that have the figure.
    """
    figure = _figure(response)
    unit = change_unit_of(figure, METRIC)
    trials, copies = without_copies(trials)
    usable = [one for one in trials if one.build is not None]
    if len(usable) < 2:
        raise TooFewPoints(
            f"{len(usable)} of {len(trials)} trials have a readable build sheet; the minimum is two",
            where=figure.label,
            remedy="Write build = “….toml” in each run's TOML file.",
        )
    first = list(copies)
    if len(usable) < len(trials):
        left = len(trials) - len(usable)
        verb = "is excluded: its" if left == 1 else "are excluded: their"
        first.append(f"{counted(left, 'trial')} {verb} build is not known")
    factors, settings = _settings(usable, first)
    estimates, depths = comparable(usable, response)
    first += depths
    values = [math.nan if e is None else unit.from_si(e.value) for e in estimates]
    u = [math.nan if e is None else e.standard_uncertainty * unit.factor for e in estimates]
    blocks = _blocks(usable, factors, first)
    own = [
        0.0 if e is None else reading_of(one, response, e) * unit.factor
        for one, e in zip(usable, estimates, strict=True)
    ]
    covariates = _covariates(usable)
    symbol = unit.symbol or "of the ratio"
    report = effects(
        settings,
        values,
        name=figure.label,
        unit=symbol,
        u_response=u,
        u_reading=own,
        blocks=blocks,
        covariates=covariates,
        started=covariates.get(THE_DAY),
    )
    words = list(report.words)
    if report.effects:
        words.append("effects are assumed independent: interactions are not fitted")
    return EffectsOfChanges(
        response=response,
        label=figure.label,
        unit=unit,
        factors=factors,
        report=report,
        trials=tuple(one.name for one in usable),
        words=(*_confounded_first(words, len(report.confounded)), *first),
        runs=tuple(_as_run(run, settings[-1]) for one in report.confounded for run in one.runs),
        simulated=any(one.simulated for one in usable),
    )


def _confounded_first(words: list[str], confounded: int) -> list[str]:
    """``effects`` already gives them first; this only capitalises them."""
    return [w[:1].upper() + w[1:] if i < confounded else w for i, w in enumerate(words)]


def _settings(trials: Sequence[Trial], said: list[str]) -> tuple[tuple[FactorOf, ...], list[dict[str, float | str]]]:
    builds = [one.build for one in trials if one.build is not None]
    factors: list[FactorOf] = []
    columns: list[list[float | str]] = []
    for part in PARTS:
        for f in entries(part):
            path = f"{part}.{f.name}"
            values = [getattr(getattr(build, part), f.name) for build in builds]
            if path in NO_SETTING or all(value == values[0] for value in values):
                continue
            if path in _ALONG and _constant_ratio(values, [_ALONG[path][1](build) for build in builds]):
                said.append(
                    f"{spoken(path)} always changed together with {spoken(_ALONG[path][0])}: treated as one change"
                )
                continue
            kind = f.metadata["kind"]
            if any(value is None for value in values) or kind in ("word", "text", "list"):
                words = one_spelling([entry_words(path, value) for value in values])
                if len(set(words)) == 1:
                    continue
                columns.append([*words])
                factors.append(FactorOf(path, spoken(path), RATIO))
            else:
                unit = _KINDS.get(kind, RATIO)
                columns.append([round(unit.from_si(_number(value)), 9) for value in values])
                factors.append(FactorOf(path, f"{spoken(path)} ({unit.symbol})" if unit.symbol else spoken(path), unit))
    sources = one_spelling([one.air_source or "not recorded" for one in trials])
    if len(set(sources)) > 1:
        columns.append(list(sources))
        factors.append(FactorOf("", AIR_SOURCE, RATIO))
    rows = [{f.label: column[i] for f, column in zip(factors, columns, strict=True)} for i in range(len(trials))]
    return tuple(factors), rows


def _number(value: Any) -> float:
    return value.fraction if isinstance(value, Dilution) else float(value)


def _constant_ratio(values: Sequence[Any], along: Sequence[float]) -> bool:
    if any(not isinstance(value, (int, float)) or not base for value, base in zip(values, along, strict=True)):
        return False
    ratios = [float(value) / base for value, base in zip(values, along, strict=True)]
    return max(ratios) > 0 and max(ratios) - min(ratios) <= _AS_ONE * max(ratios)


def _blocks(trials: Sequence[Trial], factors: Sequence[FactorOf], said: list[str]) -> list[str] | None:
    batches = [one.solution_batch for one in trials]
    if len(set(batches)) < 2:
        return None
    if not all(batches):
        said.append("some trials have no solution batch: batches are not separated")
        return None
    if any(one.path.startswith("solution.") for one in factors):
        said.append(
            "the solution was changed between batches: batches are not separated, their differences are in the scatter"
        )
        return None
    return batches


def _covariates(trials: Sequence[Trial]) -> dict[str, list[float]]:
    """Quantities that were not set: the day, and the water temperature if measured."""
    started = [one.started for one in trials]
    found: dict[str, list[float]] = {}
    known = [when for when in started if when is not None]
    if len(known) == len(started):
        zero = min(known)
        found[THE_DAY] = [(when - zero).total_seconds() / 86400 for when in known]
    water = [one.water_temperature for one in trials]
    if all(e is not None and not e.assumptions for e in water):
        found["water temperature"] = [e.value - ZERO_CELSIUS for e in water if e is not None]
    return found


def _as_run(run: Mapping[str, float | str], last: Mapping[str, float | str]) -> str:
    """A separating run, as its changes from the last trial."""
    changed = [f"{name} {_level(value)}" for name, value in run.items() if last.get(name) != value]
    return "as the last trial, but " + " and ".join(changed) if changed else "the last trial again"


# --- two builds ---------------------------------------------------------------------------------------------------


def _figure(response: str) -> TrialFigure:
    if response not in BY_NAME:
        what = f"“{shorten(response)}” is not a figure of a trial"
        raise InputError(what, where="response", remedy=f"One of: {', '.join(BY_NAME)}")
    return BY_NAME[response]


def two_builds(trials: Sequence[Trial], first: str, second: str, response: str = "density") -> TwoGroups:
    """Welch's comparison of the repeats of two builds by name, first minus second, SI.

    Raises InputError for an unknown figure, a build without a trial, or trials of different builds under one name;
    TooFewPoints with one run each.
    """
    figure = _figure(response)
    trials, _ = without_copies(trials)
    groups, readings = [], []
    both = [one for one in trials if one.build_name in (first, second)]
    figures = dict(zip((one.name for one in both), comparable(both, response)[0], strict=True))
    for name in (first, second):
        mine = [one for one in trials if one.build_name == name]
        if not mine:
            raise InputError("unknown build", where=name, remedy="Give the name in the build sheet.")
        builds = [one.build for one in mine if one.build is not None]
        if any(differences(builds[0], other) for other in builds[1:]) or len({one.air_source for one in mine}) > 1:
            raise InputError(
                "these trials are not repeats: build or air source differ",
                where=name,
                remedy="Choose the trials with --trials.",
            )
        values = [e.value for one in mine if (e := figures[one.name]) is not None and e.known]
        readings += [reading_of(one, response, e) ** 2 for one in mine if (e := figures[one.name]) is not None]
        groups.append(values)
    a, b = groups
    reading = math.sqrt(_mean(readings)) if readings else 0.0
    return welch(_mean(a), _sd(a), len(a), _mean(b), _sd(b), len(b), unit=figure.unit, reading=reading)


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else math.nan


def _sd(values: Sequence[float]) -> float:
    if len(values) < 2:
        return math.nan
    middle = _mean(values)
    return math.sqrt(sum((value - middle) ** 2 for value in values) / (len(values) - 1))
