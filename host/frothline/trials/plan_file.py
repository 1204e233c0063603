"""The plan file: factors, linked entries and wishes for the next trials.

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

    [[planned]]                        # a build chosen by hand as the next trial; before everything proposed
    name = "Narrow outlet"
    added = "2026-05-02T14:03:00+02:00"
    build_sheet = "..."                # the whole sheet

While the trials do not separate the factors, the first runs are the plan; after that one run at a time is proposed, by
expected gain.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.foam.dilution import Dilution, read_dilution
from frothline.foam.target_windows import Range
from frothline.generator.build import PARTS, Build, entries
from frothline.generator.build_checks import check_build
from frothline.generator.entry_words import entry_words, spoken
from frothline.generator.linked_entries import RULES, go_along
from frothline.generator.sheet import parse_sheet, read_share, read_sheet
from frothline.generator.stock_sizes import read_bore
from frothline.quantities import read_number, read_quantity, read_temperature, shorten
from frothline.toml_text import TomlUnreadable, read_text, read_toml
from frothline.trials.experiment_design import Factor, Planner, Wish
from frothline.trials.figures import BY_NAME
from frothline.trials.inside_folder import refuse_outside
from frothline.trials.sample_sidecar import read_time


def wanted_density(plan: PlanFile | None) -> Range | None:
    """The target foam density of a plan, kg/m3; None without one."""
    wishes = () if plan is None else plan.wishes
    return next(((one.low, one.high) for one in wishes if one.response == "density"), None)


@dataclass(frozen=True)
class PlannedBuild:
    """A build chosen by hand as the next trial. ``added`` : when; None if unknown."""

    name: str
    build: Build
    added: datetime | None = None


@dataclass(frozen=True)
class PlanFile:
    """A plan: ``factors`` by path with their levels in SI, ``reference`` build, wishes in SI.

    ``alone`` : linked entries outside of ``along`` stay as in the reference, see ``frothline.generator.linked_entries``
    """

    path: Path
    reference: Build
    factors: tuple[Factor, ...]
    along: Mapping[str, str]
    wishes: tuple[Wish, ...]
    batches: int
    alone: bool = False
    planned: tuple[PlannedBuild, ...] = ()

    @property
    def follows(self) -> tuple[str, ...]:
        """Entries that are not factors but follow them: those of ``along``, and the linked entries."""
        names = {one.name for one in self.factors}
        rule = () if self.alone else (p for p, (leads, _) in RULES.items() if not names.isdisjoint(leads))
        return tuple(dict.fromkeys(path for path in (*self.along, *rule) if path not in names))

    def build(self, settings: Mapping[str, float], name: str = "") -> Build:
        """The reference with these settings and their linked entries. Raises InputError if it is impossible."""
        made = self.reference
        for path, value in settings.items():
            made = made.with_entry(path, _as_entry(path, value))
        for path, lead in self.along.items():
            part, _, entry = path.partition(".")
            ratio = settings[lead] / setting_of(self.reference, lead)
            value = getattr(getattr(self.reference, part), entry) * ratio
            made = made.with_entry(path, round(value) if entry_kind(path) == "count" else value)
        if not self.alone:
            made, _ = go_along(self.reference, made, {*settings, *self.along})
        fatal = [one for one in check_build(made) if one.fatal]
        if fatal:
            raise InputError(fatal[0].what, where=f"{self.path}: {name or 'planned build'}", remedy=fatal[0].remedy)
        return made

    def words(self, settings: Mapping[str, float], system: str = "metric") -> str:
        """Settings as sheet text, in a system of units."""
        return ", ".join(f"{spoken(p)} {entry_words(p, _as_entry(p, v), system)}" for p, v in settings.items())


def read_plan(path: Path) -> PlanFile:
    """Read a plan. Raises InputError with the file and the entry."""
    try:
        text = read_text(path)
    except OSError as error:
        raise InputError(f"the plan cannot be read: {error.strerror or error}", where=str(path)) from error
    except TomlUnreadable as error:
        raise InputError(f"the plan cannot be read: {error}", where=str(path), remedy="It is TOML in UTF-8") from error
    return parse_plan(text, path)


def parse_plan(text: str, path: Path) -> PlanFile:
    """Parse the text of a plan; ``path`` is its file. Raises InputError with the file and the entry."""
    where = str(path)
    try:
        raw = read_toml(text)
    except TomlUnreadable as error:
        raise InputError(f"the plan cannot be read: {error}", where=where, remedy="It is TOML in UTF-8") from error
    for key in raw:
        if key not in ("reference", "batches", "factors", "along", "alone", "wish", "planned"):
            raise InputError(
                f"“{shorten(key)}” is not known here",
                where=where,
                remedy="Known: reference, batches, factors, along, alone, wish, planned",
            )
    planned = _planned(raw.get("planned", ()), where)
    if isinstance(raw.get("reference"), str):
        refuse_outside(path.parent, path.parent / raw["reference"], raw["reference"])
        reference = read_sheet(path.parent / raw["reference"])
    elif planned and "reference" not in raw:
        reference = planned[0].build
    else:
        raise InputError("the reference build is missing", where=where, remedy="Write reference = “builds/….toml”")
    factors = [_factor(name, levels, where) for name, levels in _table(raw, "factors", where).items()]
    names = {one.name for one in factors}
    along = {}
    for name, lead in _table(raw, "along", where).items():
        _field(name, where)
        if lead not in names:
            raise InputError(f"{name} cannot follow “{lead}”: “{lead}” is not a factor", where=f"{where}: along")
        along[name] = str(lead)
    wishes = [read_target(item, f"{where}: wish {n}") for n, item in enumerate(raw.get("wish", ()), 1)]
    batches = raw.get("batches", 1)
    if not isinstance(batches, int) or not 1 <= batches <= 20:
        raise InputError("batches must be a whole number from 1 to 20", where=where)
    alone = raw.get("alone", False)
    if not isinstance(alone, bool):
        raise InputError(f"alone = {shorten(alone)} is not true or false", where=where, remedy="Write alone = true")
    plan = PlanFile(path, reference, tuple(factors), along, tuple(wishes), batches, alone, planned)
    if factors or wishes or not planned:
        Planner(plan.factors, plan.wishes)  # reports what is missing
    return plan


def _planned(raw: Any, where: str) -> tuple[PlannedBuild, ...]:
    found = []
    for number, one in enumerate(raw if isinstance(raw, list) else [raw] if raw else (), 1):
        at = f"{where}: planned {number}"
        if not isinstance(one, Mapping) or not isinstance(one.get("build_sheet"), str):
            raise InputError("the build sheet is missing", where=at, remedy="Remove the entry, or plan the build again")
        sheet = parse_sheet(one["build_sheet"], at)
        if sheet.build is None:
            fatal = next((str(problem) for problem in sheet.problems if problem.fatal), "")
            raise InputError(f"the build sheet cannot be read: {fatal}", where=at, remedy="Plan the build again")
        try:
            added = datetime.fromisoformat(str(one["added"])).astimezone() if "added" in one else None
        except ValueError:
            raise InputError(f"“{shorten(one['added'])}” is not a date and time", where=at) from None
        found.append(PlannedBuild(str(one.get("name") or sheet.build.name), sheet.build, added))
    return tuple(found)


def _table(raw: Mapping[str, Any], key: str, where: str) -> Mapping[str, Any]:
    found = raw.get(key, {})
    if not isinstance(found, Mapping):
        raise InputError(f"{key} must be a table", where=where, remedy=f"Write [{key}] above its entries")
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
        raise InputError(f"unknown entry “{shorten(path)}” in a build sheet", where=where, remedy="Like “outlet.bore”")
    return found[0]


def entry_kind(path: str) -> str:
    return str(_field(path, shorten(path)).metadata["kind"])


def _factor(path: str, levels: Any, where: str) -> Factor:
    kind = _field(path, where).metadata["kind"]
    if not isinstance(levels, list):
        raise InputError("the sizes must be a list", where=f"{where}: {path}", remedy="Like [“250 mm”, “400 mm”]")
    try:
        values = sorted({read_level(level, kind) for level in levels})
    except (ValueError, TypeError) as error:
        raise InputError(str(error), where=f"{where}: {path}") from error
    return Factor(path, tuple(values), "")


def read_level(level: Any, kind: str) -> float:
    if kind == "dilution":
        return read_dilution(level).fraction
    if kind == "bore":
        return read_bore(level)
    if kind == "temperature":
        return read_temperature(level)
    if kind == "share":
        return read_share(level)
    if kind == "count":
        if not (count := read_number(level)).is_integer():
            raise ValueError(f"{count:g} is not a whole number")
        return count
    if kind in ("length", "mass", "volume", "flow"):
        return read_quantity(level, kind)
    raise ValueError("only entries with a size can be planned; compare names with “effects”")


def _as_entry(path: str, value: float) -> Any:
    """A level as a value of the build."""
    kind = entry_kind(path)
    if kind == "dilution":
        return Dilution(round(1 / value - 1, 6), "1+N")
    return round(value) if kind == "count" else value


def setting_of(build: Build, path: str) -> float:
    part, _, name = path.partition(".")
    value = getattr(getattr(build, part), name)
    return value.fraction if isinstance(value, Dilution) else float(value)


TARGET_KINDS = {
    "density": "density",
    "foam_rate": "flow",
    "flow": "air_flow",
    "pressure": "pressure",
    "strength": "strength",
    "length": "length",
    "bubble_growth": "bubble_growth",
}  # kinds of entries


def read_target(item: Any, where: str) -> Wish:
    response = str(item.get("response", "")) if isinstance(item, Mapping) else ""
    if response not in BY_NAME or response == "water_temperature":
        raise InputError(f"“{response}” is not a known figure", where=where, remedy=f"One of: {', '.join(BY_NAME)}")
    unknown = set(item) - {"response", "low", "high"}
    if unknown:
        raise InputError(
            f"“{shorten(unknown.pop())}” is not known here", where=where, remedy="Known: response, low, high"
        )
    figure = BY_NAME[response]
    try:
        low = read_amount(item["low"], figure.quantity) if "low" in item else 0.0
        high = read_amount(item["high"], figure.quantity) if "high" in item else math.inf
    except ValueError as error:
        raise InputError(str(error), where=where) from error
    if not low < high or (low <= 0 and math.isinf(high)):
        raise InputError("a target needs low, high or both, with low below high", where=where)
    return Wish(response, low, high, figure.unit)


def read_amount(raw: Any, quantity: str) -> float:
    if quantity == "time":
        return read_time(raw)
    return read_quantity(raw, TARGET_KINDS[quantity]) if quantity not in ("", "share") else read_share(raw)
