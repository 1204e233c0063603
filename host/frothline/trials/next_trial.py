"""The next trial of a plan, with its reason."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Estimate
from frothline.formatting import local_day
from frothline.generator.build import Build, differences
from frothline.generator.entry_words import entry_words, spoken
from frothline.generator.sheet import write_value
from frothline.rounding import counted
from frothline.sentence_units import in_units
from frothline.trials.common_depth import comparable
from frothline.trials.copies import without_copies
from frothline.trials.experiment_design import PlannedRun, Planner, Proposal, Tried
from frothline.trials.figures import BY_NAME, unit_of
from frothline.trials.plan_file import PlanFile, PlannedBuild, entry_kind, setting_of
from frothline.trials.trial import Trial
from frothline.units import METRIC, chosen_system

Figures = dict[str, dict[str, Estimate | None]]  # by response and name of the trial
_ENOUGH = 1  # number of complete trials beyond the number of factors before single runs replace the first plan


@dataclass(frozen=True)
class ProposedChange:
    """One entry of the proposed build, and its value in the trial for comparison.

    ``goes_along`` : it follows another entry, by the plan's ``[along]`` or by ``generator.linked_entries``
    """

    path: str
    before: Any
    after: Any
    goes_along: bool

    @property
    def differs(self) -> bool:
        if isinstance(self.before, float) and isinstance(self.after, int | float):
            return not math.isclose(self.before, self.after, rel_tol=1e-6)
        return bool(self.before != self.after)

    def words(self) -> str:
        return f"{spoken(self.path)} from {entry_words(self.path, self.before)} to {entry_words(self.path, self.after)}"


@dataclass(frozen=True)
class NextTrial:
    """The next trial: the first runs while there are too few trials, else one proposal; ``reason`` explains it.

    used : names of the trials used for the plan
    left_out : titles of the other trials, each with its reason
    met : titles of trials whose values already meet every wish
    compared : the trial compared with the proposal in text, table and drawing: the best so far
    changes : the proposed build against that trial's, entry by entry
    planned : builds chosen by hand that were not made yet; the first of them is ``build``
    """

    plan: PlanFile
    runs: tuple[PlannedRun, ...]
    proposal: Proposal | None
    build: Build | None
    reason: str
    used: tuple[str, ...]
    left_out: tuple[str, ...]
    met: tuple[str, ...]
    simulated: bool = False
    compared: Trial | None = None
    changes: tuple[ProposedChange, ...] = ()
    planned: tuple[PlannedBuild, ...] = ()

    @property
    def marked(self) -> list[str]:
        """Paths of the entries marked on a drawing of the proposed build."""
        return [one.path for one in self.changes if one.differs]

    def as_dict(self) -> dict[str, Any]:
        """For ``--json``; settings in SI."""
        p = self.proposal
        return {
            "reason": self.reason,
            "runs": [
                {
                    "settings": dict(r.settings),
                    "words": self.plan.words(r.settings),
                    "batch": r.batch,
                    "why": r.why,
                }
                for r in self.runs
            ],
            "proposal": None
            if p is None
            else {
                "settings": dict(p.settings),
                "words": self.plan.words(p.settings),
                "expected_gain": p.expected_gain,
                "chance": p.chance,
                "expected": {name: e.as_dict() for name, e in p.expected.items()},
            },
            "wishes": [
                {"response": w.response, "low": w.low, "high": w.high if math.isfinite(w.high) else None}
                for w in self.plan.wishes
            ],
            "compared_with": None
            if self.compared is None
            else {"name": self.compared.name, "title": self.compared.title},
            "planned": [one.name for one in self.planned],
            "changes": [one.words() for one in self.changes if one.differs],
            "met_by": list(self.met),
            "used": list(self.used),
            "left_out": list(self.left_out),
            "simulated": self.simulated,
        }

    def _repr_html_(self) -> str:
        system = chosen_system()
        rows = "".join(
            f"<tr><td>{r.batch}</td><td>{escape(self.plan.words(r.settings, system))}</td><td>{escape(r.why)}</td></tr>"
            for r in self.runs
        )
        return f"<p>{escape(in_units(self.reason, system))}</p>" + (f"<table>{rows}</table>" if rows else "")


def next_of(plan: PlanFile, trials: Sequence[Trial], *, seed: int = 0) -> NextTrial:
    """The build chosen by hand, the first runs, or the next one. Raises InputError if a planned build is impossible."""
    waiting = tuple(one for one in plan.planned if not _was_made(one, trials))
    if waiting:
        return _by_hand(plan, waiting, trials)
    if not plan.factors:
        reason = "Every planned trial was made. Name the parts and targets to have the next one proposed."
        return NextTrial(plan, (), None, None, reason, (), (), ())
    trials, copies = without_copies(trials)
    remarks = list(copies)
    figures = _figures(plan, trials, remarks)
    tried, used, left_out = _tried(plan, trials, figures)
    left_out = (*remarks, *left_out)
    titles = titles_of(trials)
    by_name = {one.name: one for one in trials}
    complete_names = [
        name for name, t in zip(used, tried, strict=True) if all(w.response in t.responses for w in plan.wishes)
    ]
    complete = [t for name, t in zip(used, tried, strict=True) if name in set(complete_names)]
    met = tuple(
        titles[name]
        for name, t in zip(used, tried, strict=True)
        if all(w.response in t.responses and w.met(t.responses[w.response]) for w in plan.wishes)
    )
    simulated = any(one.simulated for one in trials if one.name in used)
    planner = Planner(plan.factors, plan.wishes, seed=seed)
    reference = {f.name: setting_of(plan.reference, f.name) for f in plan.factors}
    settings = {tuple(t.settings.values()) for t in complete}
    told = all(len({t.settings[f.name] for t in complete}) > 1 for f in plan.factors) and len(settings) > _ENOUGH
    if not told:
        runs = planner.screening(reference, batches=plan.batches)
        missing = [spoken(f.name) for f in plan.factors if len({t.settings[f.name] for t in complete}) < 2]
        reason = (
            f"{counted(len(complete), 'trial')} included so far, without a change of {', '.join(missing)}: make these "
            "first, in this order. The order is random, to separate drift from effects."
            if complete
            else "No trial is included yet: make these first, in this order. The order is random, to separate "
            "drift from effects."
        )
        return NextTrial(plan, runs, None, None, reason, used, left_out, met, simulated)
    try:
        proposal = planner.next_run(complete)
    except TooFewPoints as error:  # distinguishable, so that there are some; needed if the planner adds reasons
        raise InputError(error.what, where=str(plan.path), remedy=error.remedy) from error
    build = plan.build(proposal.settings, "proposed build")
    scores = [_badness(plan, t) for t in complete]
    best = by_name[complete_names[scores.index(min(scores))]]
    changes = _changes(plan, proposal, best, build)
    reason = _reason(titles[best.name], proposal, changes)
    if met:
        firm = [titles[one] for one in used if titles[one] in met and _surely_met(plan, figures, one)]
        known = (
            f"All targets already met by {', '.join(firm)}; repeat the run to confirm"
            if firm
            else f"All targets met by {', '.join(met)}, but borderline: the interval reaches beyond; repeat the run"
        )
        reason = f"{known}. For a further trial: {reason}"
    return NextTrial(plan, (), proposal, build, reason, used, left_out, met, simulated, best, changes)


def _surely_met(plan: PlanFile, figures: Figures, name: str) -> bool:
    """Whether the whole interval of each wished figure is within its target, as for a sample on the run page."""
    found = [(wish, figures[wish.response][name]) for wish in plan.wishes]
    return all(e is not None and wish.low <= e.lower and e.upper <= wish.high for wish, e in found)


def _was_made(planned: PlannedBuild, trials: Sequence[Trial]) -> bool:
    """Whether a trial with this build was made since it was planned."""
    return any(
        one.build is not None
        and not _apart(planned.build, one.build)
        and (planned.added is None or one.started is None or one.started >= planned.added)
        for one in trials
    )


def _apart(before: Build, after: Build) -> tuple[ProposedChange, ...]:
    """The entries that differ by more than rounding, without the temperature of the day."""
    found = (ProposedChange(d.path, d.before, d.after, goes_along=False) for d in differences(before, after))
    return tuple(one for one in found if one.differs and one.path != "solution.temperature")


def _by_hand(plan: PlanFile, waiting: tuple[PlannedBuild, ...], trials: Sequence[Trial]) -> NextTrial:
    """The first build chosen by hand, compared with the newest trial whose build is known."""
    chosen = waiting[0]
    newest = next((one for one in reversed(trials) if one.build is not None), None)
    changes = () if newest is None or newest.build is None else _apart(newest.build, chosen.build)
    when = "" if chosen.added is None else f" on {local_day(chosen.added)}"
    reason = f"You planned “{chosen.name}”{when}."
    if newest is not None and changes:
        reason += f" From “{newest.title}”, the newest trial, change {', '.join(one.words() for one in changes)}."
    elif newest is not None:
        reason += f" It is the build of “{newest.title}”, the newest trial."
    return NextTrial(
        plan, (), None, chosen.build, reason, (), (), (), compared=newest, changes=changes, planned=waiting
    )


def titles_of(trials: Sequence[Trial]) -> dict[str, str]:
    """Title by name; equal titles get the day, and the name if that is equal too.

    Each title is quoted, because it may be any words.
    """
    quoted = {one.name: f"“{one.title}”" for one in trials}
    for more in (
        {one.name: "" if one.started is None else f" of {local_day(one.started)}" for one in trials},
        {one.name: f" ({one.name})" for one in trials},
    ):
        shared = [name for name, title in quoted.items() if list(quoted.values()).count(title) > 1]
        quoted |= {name: quoted[name] + more[name] for name in shared}
    return quoted


def _changes(plan: PlanFile, proposal: Proposal, best: Trial, build: Build) -> tuple[ProposedChange, ...]:
    """The factors and their linked entries, in the best trial's build and in the proposed one."""
    assert best.build is not None
    return tuple(
        ProposedChange(path, _entry(best.build, path), _entry(build, path), path in plan.follows)
        for path in dict.fromkeys((*proposal.settings, *plan.follows))
    )


def _entry(build: Build, path: str) -> Any:
    part, _, name = path.partition(".")
    return getattr(getattr(build, part), name)


def _reason(best: str, proposal: Proposal, changes: Sequence[ProposedChange]) -> str:
    """The changes from the best trial and the expected result, in metric units."""
    moves = ", ".join(one.words() for one in changes if one.differs and not one.goes_along)
    along = ", ".join(one.words() for one in changes if one.differs and one.goes_along)
    if moves:
        what = f"From {best}, the best trial so far, change {moves}" + (f", together with {along}" if along else "")
    else:
        what = f"Repeat {best}, the best trial so far, unchanged"
    hopes = []
    for name, e in proposal.expected.items():
        unit = unit_of(BY_NAME[name], METRIC)
        low, middle, high = (unit.from_si(x) for x in (e.lower, e.value, e.upper))
        hopes.append(f"{BY_NAME[name].label} about {middle:.3g} {unit.symbol} ({low:.3g} to {high:.3g})")
    return f"{what}. Expected: {' and '.join(hopes)}; chance to meet all targets {100 * proposal.chance:.0f} %."


def _badness(plan: PlanFile, tried: Tried) -> float:
    """Distance outside of the wishes, in logarithms; the planner's score falls with it."""
    total = 0.0
    for w in plan.wishes:
        value = tried.responses[w.response]
        total += max(math.log(w.low / value), 0.0) if w.low > 0 else 0.0
        total += max(math.log(value / w.high), 0.0) if math.isfinite(w.high) else 0.0
    return total


def _figures(plan: PlanFile, trials: Sequence[Trial], words: list[str]) -> Figures:
    """The wished figures of each trial by name, referred to a common depth; remarks are appended to ``words``."""
    figures: Figures = {}
    for wish in plan.wishes:
        found, remarks = comparable(trials, wish.response)
        figures[wish.response] = dict(zip((one.name for one in trials), found, strict=True))
        words += remarks
    return figures


def _usual_source(trials: Sequence[Trial]) -> tuple[str, bool]:
    """The most frequent air source, and whether another one is as frequent: the newest trial then decides."""
    sources = [one.air_source for one in reversed(trials) if one.build is not None]
    counts = {name: sources.count(name) for name in sources}
    if not counts:
        return "", False
    usual = max(counts, key=lambda name: counts[name])  # the first of equals, which is the newest
    return usual, list(counts.values()).count(counts[usual]) > 1


def _tried(
    plan: PlanFile, trials: Sequence[Trial], figures: Figures
) -> tuple[list[Tried], tuple[str, ...], tuple[str, ...]]:
    """Trials for the planner: builds that differ from the reference only in the factors."""
    may = {f.name for f in plan.factors} | set(plan.follows) | {"solution.temperature"}
    tried: list[Tried] = []
    used: list[str] = []
    left_out: list[str] = []
    titles = titles_of(trials)
    usual, as_many = _usual_source(trials)
    for one in trials:
        if one.build is None:
            left_out.append(f"{titles[one.name]}: its build is not known")
            continue
        other = [spoken(d.path) for d in differences(plan.reference, one.build) if d.path not in may]
        if other:
            left_out.append(
                f"{titles[one.name]}: {', '.join(other)} differ from the reference and are not factors of the plan"
            )
            continue
        if one.air_source != usual:
            than = f"the newest trial ({usual})" if as_many else f"most ({usual})"
            left_out.append(f"{titles[one.name]}: another air source ({one.air_source}) than {than}")
            continue
        responses = {w: e.value for w, of in figures.items() if (e := of[one.name]) is not None and e.value > 0}
        tried.append(Tried({f.name: setting_of(one.build, f.name) for f in plan.factors}, responses))
        used.append(one.name)
    return tried, tuple(used), tuple(left_out)


def planned_sheet_changes(plan: PlanFile, settings: Mapping[str, float]) -> dict[str, Any]:
    """Changes of the reference's sheet that give the planned build, for ``edit_sheet``."""
    build = plan.build(settings)
    return {path: _written(path, build) for path in (*settings, *plan.follows)}


def _written(path: str, build: Build) -> Any:
    part, _, name = path.partition(".")
    value = getattr(getattr(build, part), name)
    kind = entry_kind(path)
    return value if kind in ("count", "share") else write_value(value, kind)
