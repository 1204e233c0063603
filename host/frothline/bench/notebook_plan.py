"""What to try next, from a plan file and the trials beside it.

::

    reference = "builds/first-tube.toml"
    batches = 2

    [factors]                          # entry of the build sheet = the parts at hand, smallest first or in any order
    "packing.length" = ["250 mm", "400 mm"]
    "solution.dilution" = ["1+20", "1+30"]

    [along]                            # what goes along besides wool and holes, in proportion to the reference
    "packing.mass" = "packing.length"

    [[wish]]
    response = "density"               # a figure of a trial
    low = "60 kg/m3"
    high = "80 kg/m3"

As long as the trials do not tell the factors apart the first runs are the plan; after that it is one run at a time, by
expected gain.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

from frothline.bench.along import RULES, go_along
from frothline.bench.build import PARTS, Build, Dilution, differences, entries, objections
from frothline.bench.common_depth import comparable
from frothline.bench.plan import Factor, PlannedRun, Planner, Proposal, Tried, Wish
from frothline.bench.sheet import read_dilution, read_share, read_sheet, write_value
from frothline.bench.sizes import read_bore, read_quantity, read_temperature
from frothline.bench.trial import BY_NAME, Trial, entry_words, spoken, unit_of
from frothline.bench.trial_form import read_time
from frothline.errors import InputError, TooFewPoints
from frothline.formatting import local_day
from frothline.quantities import is_number, read_number, shorten, typed
from frothline.toml_text import TomlUnreadable, read_text, read_toml
from frothline.units import METRIC, US_GALLON

_ENOUGH = 1  # more complete trials than factors before one run at a time is worth more than the first plan


@dataclass(frozen=True)
class PlanFile:
    """A plan as it was read: ``factors`` by path with their levels in SI, ``reference`` build, wishes in SI.

    ``alone`` : entries that are not in ``along`` stay as in the reference, see ``frothline.bench.along``
    """

    path: Path
    reference: Build
    factors: tuple[Factor, ...]
    along: Mapping[str, str]
    wishes: tuple[Wish, ...]
    batches: int
    alone: bool = False

    @property
    def follows(self) -> tuple[str, ...]:
        """Entries that are no factors and change with them: those of ``along``, and those of the rule."""
        names = {one.name for one in self.factors}
        rule = () if self.alone else (p for p, (leads, _) in RULES.items() if not names.isdisjoint(leads))
        return tuple(dict.fromkeys(path for path in (*self.along, *rule) if path not in names))

    def build(self, settings: Mapping[str, float], name: str = "") -> Build:
        """The reference with these settings, and what goes along. Raises InputError where it cannot exist."""
        made = self.reference
        for path, value in settings.items():
            made = made.with_entry(path, _as_entry(path, value))
        for path, lead in self.along.items():
            part, _, entry = path.partition(".")
            ratio = settings[lead] / _setting(self.reference, lead)
            value = getattr(getattr(self.reference, part), entry) * ratio
            made = made.with_entry(path, round(value) if _kind(path) == "count" else value)
        if not self.alone:
            made, _ = go_along(self.reference, made, {*settings, *self.along})
        fatal = [one for one in objections(made) if one.fatal]
        if fatal:
            raise InputError(fatal[0].what, where=f"{self.path}: {name or 'planned build'}", remedy=fatal[0].remedy)
        return made

    def words(self, settings: Mapping[str, float]) -> str:
        """Settings as the sheet writes them."""
        return ", ".join(f"{spoken(p)} {entry_words(p, _as_entry(p, v))}" for p, v in settings.items())


@dataclass(frozen=True)
class ProposedChange:
    """One entry of the proposed build and its value in the trial that the proposal is compared with.

    ``goes_along`` : it follows another entry, by the plan's ``[along]`` or by the rule of ``frothline.bench.along``
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
class Next:
    """What to try next: the first runs as long as the trials are too few, else one proposal; ``reason`` says which.

    used : names of the trials that count for the plan
    left_out : titles of those that do not, each with why
    met : titles of trials that meet every wish already
    compared : the trial that sentence, table and picture compare the proposal with: the best so far
    changes : the proposed build against that trial's, entry by entry
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

    @property
    def marked(self) -> list[str]:
        """Paths of the entries that a drawing of the proposed build marks."""
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
            "changes": [one.words() for one in self.changes if one.differs],
            "met_by": list(self.met),
            "used": list(self.used),
            "left_out": list(self.left_out),
            "simulated": self.simulated,
        }

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><td>{r.batch}</td><td>{escape(self.plan.words(r.settings))}</td><td>{escape(r.why)}</td></tr>"
            for r in self.runs
        )
        return f"<p>{escape(self.reason)}</p>" + (f"<table>{rows}</table>" if rows else "")


def read_plan(path: Path) -> PlanFile:
    """Raises InputError that names the file and the entry."""
    where = str(path)
    try:
        raw = read_toml(read_text(path))
    except OSError as error:
        raise InputError(f"the plan cannot be read: {error.strerror or error}", where=where) from error
    except TomlUnreadable as error:
        raise InputError(f"the plan cannot be read: {error}", where=where, remedy="It is TOML in UTF-8") from error
    for key in raw:
        if key not in ("reference", "batches", "factors", "along", "alone", "wish"):
            raise InputError(
                f"“{shorten(key)}” is not known here",
                where=where,
                remedy="Known: reference, batches, factors, along, alone, wish",
            )
    if not isinstance(raw.get("reference"), str):
        raise InputError("the reference build is missing", where=where, remedy="Write reference = “builds/….toml”")
    reference = read_sheet(path.parent / raw["reference"])
    factors = [_factor(name, levels, where) for name, levels in _table(raw, "factors", where).items()]
    names = {one.name for one in factors}
    along = {}
    for name, lead in _table(raw, "along", where).items():
        _field(name, where)
        if lead not in names:
            raise InputError(f"{name} cannot go along with “{lead}”: that is no factor", where=f"{where}: along")
        along[name] = str(lead)
    wishes = [_wish(item, f"{where}: wish {n}") for n, item in enumerate(raw.get("wish", ()), 1)]
    batches = raw.get("batches", 1)
    if not isinstance(batches, int) or not 1 <= batches <= 20:
        raise InputError("batches is a whole number from 1 to 20", where=where)
    alone = raw.get("alone", False)
    if not isinstance(alone, bool):
        raise InputError(f"alone = {shorten(alone)} is not true or false", where=where, remedy="Write alone = true")
    plan = PlanFile(path, reference, tuple(factors), along, tuple(wishes), batches, alone)
    Planner(plan.factors, plan.wishes)  # says what is missing
    return plan


def _table(raw: Mapping[str, Any], key: str, where: str) -> Mapping[str, Any]:
    found = raw.get(key, {})
    if not isinstance(found, Mapping):
        raise InputError(f"{key} is a table of its own", where=where, remedy=f"Write [{key}] above its entries")
    # "tube.rows" and tube.rows both name the entry
    flat: dict[str, Any] = {}
    for name, value in found.items():
        if isinstance(value, Mapping):
            flat |= {f"{name}.{inner}": item for inner, item in value.items()}
        else:
            flat[name] = value
    return flat


def _field(path: str, where: str) -> Any:
    part, _, name = path.partition(".")
    found = [f for f in entries(part) if f.name == name] if part in PARTS else []
    if not found:
        raise InputError(
            f"there is no entry “{shorten(path)}” in a build sheet", where=where, remedy="Like “outlet.bore”"
        )
    return found[0]


def _kind(path: str) -> str:
    return str(_field(path, shorten(path)).metadata["kind"])


def _factor(path: str, levels: Any, where: str) -> Factor:
    kind = _field(path, where).metadata["kind"]
    if not isinstance(levels, list):
        raise InputError("the parts at hand are a list", where=f"{where}: {path}", remedy="Like [“250 mm”, “400 mm”]")
    try:
        values = sorted({_read(level, kind) for level in levels})
    except (ValueError, TypeError) as error:
        raise InputError(str(error), where=f"{where}: {path}") from error
    return Factor(path, tuple(values), "")


def _read(level: Any, kind: str) -> float:
    if kind == "dilution":
        return read_dilution(level).fraction
    if kind == "bore":
        return read_bore(level)
    if kind == "temperature":
        return read_temperature(level)
    if kind in ("count", "share"):
        return read_share(level) if kind == "share" else read_number(level)
    if kind in ("length", "mass", "volume", "flow"):
        return read_quantity(level, kind)
    raise ValueError("only what has a size can be planned with; names are compared by “effects”")


def _as_entry(path: str, value: float) -> Any:
    """A level as the build holds it."""
    kind = _kind(path)
    if kind == "dilution":
        return Dilution(round(1 / value - 1, 6), "1+N")
    return round(value) if kind == "count" else value


def _setting(build: Build, path: str) -> float:
    part, _, name = path.partition(".")
    value = getattr(getattr(build, part), name)
    return value.fraction if isinstance(value, Dilution) else float(value)


_UNITS = {
    "density": {"kg/m3": 1.0, "kg/m³": 1.0, "g/L": 1.0, "lb/ft3": 16.01846337396014, "lb/ft³": 16.01846337396014},
    "foam_rate": {"L/min": 1 / 6e4, "gal/min": US_GALLON / 60, "L/s": 1e-3},
    "flow": {"L/s": 1e-3, "L/min": 1 / 6e4},
    "pressure": {"kPa": 1e3, "Pa": 1.0, "hPa": 100.0},
    "": {"": 1.0, "%": 0.01},
}


def _wish(item: Any, where: str) -> Wish:
    response = str(item.get("response", "")) if isinstance(item, Mapping) else ""
    if response not in BY_NAME or response == "water_temperature":
        raise InputError(f"“{response}” is no figure to wish for", where=where, remedy=f"One of: {', '.join(BY_NAME)}")
    unknown = set(item) - {"response", "low", "high"}
    if unknown:
        raise InputError(
            f"“{shorten(unknown.pop())}” is not known here", where=where, remedy="Known: response, low, high"
        )
    figure = BY_NAME[response]
    try:
        low = _amount(item["low"], figure.quantity) if "low" in item else 0.0
        high = _amount(item["high"], figure.quantity) if "high" in item else math.inf
    except ValueError as error:
        raise InputError(str(error), where=where) from error
    if not low < high or (low <= 0 and math.isinf(high)):
        raise InputError("a wish needs a low below its high, or one of them", where=where)
    return Wish(response, low, high, figure.unit)


def _amount(raw: Any, quantity: str) -> float:
    if quantity == "time":
        return read_time(raw)
    units = _UNITS[quantity]
    if isinstance(raw, (int, float)) and not isinstance(raw, bool):
        return read_number(raw) * next(iter(units.values()))
    plain = typed(str(raw))
    unit = plain.lstrip("0123456789.,").strip()
    number = plain.removesuffix(unit)
    if unit not in units or not is_number(number):
        raise ValueError(f"“{plain}” cannot be read; write a number with one of {', '.join(filter(None, units))}")
    return read_number(number) * units[unit]


def next_of(plan: PlanFile, trials: Sequence[Trial], *, seed: int = 0) -> Next:
    """The first runs, or the next one. Raises InputError where a planned build cannot exist."""
    tried, used, left_out = _tried(plan, trials)
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
    reference = {f.name: _setting(plan.reference, f.name) for f in plan.factors}
    settings = {tuple(t.settings.values()) for t in complete}
    told = all(len({t.settings[f.name] for t in complete}) > 1 for f in plan.factors) and len(settings) > _ENOUGH
    if not told:
        runs = planner.screening(reference, batches=plan.batches)
        missing = [spoken(f.name) for f in plan.factors if len({t.settings[f.name] for t in complete}) < 2]
        reason = (
            f"{len(complete)} trials count so far, and none of them changed {', '.join(missing)}: make these first, in "
            "this order. It is drawn by lot, so that a drift is not taken for an effect."
            if complete
            else "No trial counts yet: make these first, in this order. It is drawn by lot, so that a drift is not "
            "taken for an effect."
        )
        return Next(plan, runs, None, None, reason, used, left_out, met, simulated)
    try:
        proposal = planner.next_run(complete)
    except TooFewPoints as error:  # told apart, so that there are some; kept for what the planner may add
        raise InputError(error.what, where=str(plan.path), remedy=error.remedy) from error
    build = plan.build(proposal.settings, "proposed build")
    scores = [_badness(plan, t) for t in complete]
    best = by_name[complete_names[scores.index(min(scores))]]
    changes = _changes(plan, proposal, best, build)
    reason = _reason(titles[best.name], proposal, changes)
    if met:
        reason = f"All targets already met by {', '.join(met)}; repeat it to be sure. To go on: {reason}"
    return Next(plan, (), proposal, build, reason, used, left_out, met, simulated, best, changes)


def titles_of(trials: Sequence[Trial]) -> dict[str, str]:
    """Title by name; where trials share one, with the day, and with the name where they share that too.

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
    """The factors, and what goes along with them, in the best trial's build and in the proposed one."""
    assert best.build is not None
    return tuple(
        ProposedChange(path, _entry(best.build, path), _entry(build, path), path in plan.follows)
        for path in dict.fromkeys((*proposal.settings, *plan.follows))
    )


def _entry(build: Build, path: str) -> Any:
    part, _, name = path.partition(".")
    return getattr(getattr(build, part), name)


def _reason(best: str, proposal: Proposal, changes: Sequence[ProposedChange]) -> str:
    """What to change from the best trial and what is expected then, in metric units."""
    moves = ", ".join(one.words() for one in changes if one.differs and not one.goes_along)
    along = ", ".join(one.words() for one in changes if one.differs and one.goes_along)
    if moves:
        what = f"From {best}, the best trial so far, change {moves}" + (f", and with it {along}" if along else "")
    else:
        what = f"Repeat {best}, the best trial so far, unchanged"
    hopes = []
    for name, e in proposal.expected.items():
        unit = unit_of(BY_NAME[name], METRIC)
        low, middle, high = (unit.from_si(x) for x in (e.lower, e.value, e.upper))
        hopes.append(f"{BY_NAME[name].label} about {middle:.3g} {unit.symbol} ({low:.3g} to {high:.3g})")
    return f"{what}. Expected: {' and '.join(hopes)}; chance to meet all targets {100 * proposal.chance:.0f} %."


def _badness(plan: PlanFile, tried: Tried) -> float:
    """How far outside the wishes, in logarithms: what the planner's score falls with."""
    total = 0.0
    for w in plan.wishes:
        value = tried.responses[w.response]
        total += max(math.log(w.low / value), 0.0) if w.low > 0 else 0.0
        total += max(math.log(value / w.high), 0.0) if math.isfinite(w.high) else 0.0
    return total


def _tried(plan: PlanFile, trials: Sequence[Trial]) -> tuple[list[Tried], tuple[str, ...], tuple[str, ...]]:
    """Trials as the planner takes them: builds that differ from the reference in nothing but the factors."""
    may = {f.name for f in plan.factors} | set(plan.follows) | {"solution.temperature"}
    tried: list[Tried] = []
    used: list[str] = []
    left_out: list[str] = []
    titles = titles_of(trials)
    figures = {}
    for wish in plan.wishes:
        found, words = comparable(trials, wish.response)
        figures[wish.response] = dict(zip((one.name for one in trials), found, strict=True))
        left_out += words
    sources = [one.air_source for one in trials if one.build is not None]
    usual = max(set(sources), key=sources.count) if sources else ""
    for one in trials:
        if one.build is None:
            left_out.append(f"{titles[one.name]}: its build is not known")
            continue
        other = [spoken(d.path) for d in differences(plan.reference, one.build) if d.path not in may]
        if other:
            left_out.append(
                f"{titles[one.name]}: {', '.join(other)} differ from the reference and are no factors of the plan"
            )
            continue
        if one.air_source != usual:
            left_out.append(f"{titles[one.name]}: another air source ({one.air_source}) than most ({usual})")
            continue
        responses = {w: e.value for w, of in figures.items() if (e := of[one.name]) is not None and e.value > 0}
        tried.append(Tried({f.name: _setting(one.build, f.name) for f in plan.factors}, responses))
        used.append(one.name)
    return tried, tuple(used), tuple(left_out)


def planned_sheet_changes(plan: PlanFile, settings: Mapping[str, float]) -> dict[str, Any]:
    """What to write into the reference's sheet to get the planned build, for ``edit_sheet``."""
    build = plan.build(settings)
    return {path: _written(path, build) for path in (*settings, *plan.follows)}


def _written(path: str, build: Build) -> Any:
    part, _, name = path.partition(".")
    value = getattr(getattr(build, part), name)
    kind = _kind(path)
    return value if kind in ("count", "share") else write_value(value, kind)
