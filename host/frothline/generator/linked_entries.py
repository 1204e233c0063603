"""Linked entries of a build: entries that follow others, by one rule for page, command line, size search and plan.

- **Wire wool** is cut from the same wool: a longer packing, or one in a wider body, has the same porosity, so that
  ``packing.mass`` is proportional to ``packing.length`` and to the cross-section of the body, ``body.bore`` squared.
  With a stated ``packing.voidage`` the mass has no effect and does not follow.
- **Holes under liquid** are the same share of all holes: the liquid covers the same arc of the tube, so that
  ``tube.under_liquid`` is proportional to ``tube.rows`` times ``tube.holes_per_row``, rounded to a whole hole.

An entry that is set explicitly in the same step does not follow. The rules are geometry and need no source.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any

from frothline.generator.build import Build, entries
from frothline.generator.entry_words import entry_words, spoken
from frothline.generator.sheet import read_entry, write_value


def _mass(before: Build, after: Build) -> float | None:
    old, new = before.packing, after.packing
    wool = old.kind == new.kind == "wire wool" and old.material == new.material
    if new.voidage is not None:  # a stated voidage is the porosity: the mass has no effect
        return None
    if not wool or old.mass is None or old.length <= 0.0 or new.length <= 0.0:
        return None
    return old.mass * (new.length / old.length) * (after.body.bore / before.body.bore) ** 2


def _under_liquid(before: Build, after: Build) -> int | None:
    if not before.tube.under_liquid:
        return None
    return round(before.tube.under_liquid * after.tube.holes / before.tube.holes)


# dependent entry -> the entries that it follows, and its value in SI; None if the rule does not apply
RULES: dict[str, tuple[tuple[str, ...], Callable[[Build, Build], float | int | None]]] = {
    "packing.mass": (("packing.length", "body.bore"), _mass),
    "tube.under_liquid": (("tube.rows", "tube.holes_per_row"), _under_liquid),
}
LEADS = frozenset(lead for leads, _ in RULES.values() for lead in leads)


@dataclass(frozen=True)
class Along:
    """A linked entry that followed: SI values before and after."""

    path: str
    before: float | int
    after: float | int

    @property
    def words(self) -> str:
        what = f"{spoken(self.path)} also changes: {entry_words(self.path, self.before)}"
        return f"{what} to {entry_words(self.path, self.after)}"


def go_along(before: Build, after: Build, explicit: Collection[str] = ()) -> tuple[Build, tuple[Along, ...]]:
    """Return ``after`` with its linked entries adapted, and the list of these.

    explicit : entries set explicitly; they keep their value in ``after``
    """
    moved = []
    for path, (leads, value_of) in RULES.items():
        if path in explicit or all(_value(before, lead) == _value(after, lead) for lead in leads):
            continue
        value = value_of(before, after)
        if value is None or value == _value(before, path):
            continue
        moved.append(Along(path, _value(before, path), value))
        after = after.with_entry(path, value)
    return after, tuple(moved)


def along_entries(
    before: Build, changes: Mapping[str, Any], explicit: Collection[str] = ()
) -> tuple[dict[str, Any], tuple[Along, ...]]:
    """Linked entries that follow changed entries of a sheet, as sheet text; for ``edit_sheet``.

    changes : entries as sheet text, by path; an unreadable one has no effect here, and the sheet's reader reports it
    """
    after = before
    for path, raw in changes.items():
        part, _, name = path.partition(".")
        found = (
            [f for f in entries(part) if f.name == name]
            if path in LEADS | {"packing.kind", "packing.material", "packing.voidage"}
            else []
        )
        if found:
            try:
                after = after.with_entry(path, read_entry(raw, found[0]))
            except ValueError:
                continue
    _, moved = go_along(before, after, {*explicit, *(path for path in changes if path in RULES)})
    return {one.path: as_written(one.path, one.after) for one in moved}, moved


def as_written(path: str, value: Any) -> Any:
    """An SI value as sheet value: counts and shares as numbers, the rest as text with unit."""
    part, _, name = path.partition(".")
    kind = next(f.metadata["kind"] for f in entries(part) if f.name == name)
    return value if kind in {"count", "share"} else write_value(value, kind)


def _value(build: Build, path: str) -> Any:
    part, _, name = path.partition(".")
    return getattr(getattr(build, part), name)
