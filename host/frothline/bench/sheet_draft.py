"""The edited build sheet: its saved text, the text in the form, and the problems of its entries."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from frothline.atomic_file import write_atomically
from frothline.bench.source_files import is_received
from frothline.errors import FrothlineError, InputError
from frothline.generator.build import Build
from frothline.generator.build_comparison import makes_same_foam
from frothline.generator.linked_entries import LEADS, RULES, Along, along_entries
from frothline.generator.sheet import (
    Sheet,
    edit_sheet,
    parse_sheet,
    starting_sheet,
    write_value,
)
from frothline.generator.sheet_form import ENTRIES, as_typed, typed_entry
from frothline.recording.sidecar import clean_name


class SheetDraft:
    """One sheet, as saved and as edited. Not thread-safe: the workspace holds the lock.

    saved, text, base : text of the saved sheet, in the form, and as first put into the form
    file : name of the saved sheet, empty if never saved
    opened : name of the sheet in the form, if it has invalid entries and the saved one stays in use
    values : entries as typed, by path
    altered : paths that differ from the saved sheet
    built : the saved generator
    build : the edited generator, None while an entry is invalid
    wanted : the edited generator with saved values for invalid entries
    ignored_entries : paths of the invalid entries
    carried_along : linked entries that followed an edit
    """

    def __init__(self) -> None:
        self.saved = self.text = self.base = starting_sheet()
        self.file = ""
        self.opened = ""
        self._by_hand: frozenset[str] | set[str] = frozenset()  # linked entries that were typed
        self.carried_along: tuple[Along, ...] = ()
        self._sheets: dict[str, Sheet] = {}
        start = self._parsed(self.saved).build
        assert start is not None
        self.built = start
        self.read()

    @property
    def unsaved(self) -> bool:
        """Whether the form was edited since the sheet was put into it."""
        return self.text != self.base

    def read(self) -> bool:
        """Parse both texts; returns whether the saved generator makes a different foam than before."""
        saved, sheet = self._parsed(self.saved), self._parsed(self.text)
        assert saved.build is not None
        another = not makes_same_foam(saved.build, self.built)
        self.built, self.build, self.problems = saved.build, sheet.build, sheet.problems
        self.values = as_typed(self.text)
        before = as_typed(self.saved)
        self.wanted, self.ignored_entries = self._valid()
        self.altered = tuple(path for path in ENTRIES if "." in path and self.values.get(path) != before.get(path))
        return another

    def _parsed(self, text: str) -> Sheet:
        """The sheet of a text; each text in use is parsed once."""
        if text not in self._sheets:
            in_use = {self.saved, self.text, self.base}
            self._sheets = {one: sheet for one, sheet in self._sheets.items() if one in in_use}
            self._sheets[text] = parse_sheet(text, "sheet")
        return self._sheets[text]

    def changes_of(self, typed: Mapping[str, str]) -> dict[str, Any]:
        """Entries with a new text, and the linked entries that follow. Raises InputError for an unknown path."""
        changes = {}
        for path, text in typed.items():
            if path not in ENTRIES:
                raise InputError(f"unknown entry “{path}”", remedy="Reload the page")
            if text.strip() != self.values.get(path, ""):
                changes[path] = typed_entry(path, text)
        if not changes:
            return {}
        self._by_hand = (self._by_hand | changes.keys()) & RULES.keys()
        return {**changes, **self._along(changes)}

    def size_changes(self, after: Build) -> dict[str, Any]:
        """Entries of a found build that differ from the edited one."""
        base = self.build or self.built
        changes: dict[str, Any] = {}
        for path, kind in ENTRIES.items():
            part, _, name = path.partition(".")
            if name and getattr(getattr(after, part), name) != getattr(getattr(base, part), name):
                value = getattr(getattr(after, part), name)
                changes[path] = value if kind in {"count", "share"} else write_value(value, kind)
        return changes

    def put(self, changes: Mapping[str, Any]) -> None:
        """Write entries into the text in the form; ``read`` must follow."""
        self.text = edit_sheet(self.text, changes)

    def discard(self) -> None:
        """Take the saved text again; ``read`` must follow."""
        self.text = self.base = self.saved
        self.opened = ""
        self._no_edits()

    def save(self, folder: Path, name: str) -> Path:
        """Write the form as the sheet of the generator; returns its path. ``read`` must follow.

        Raises InputError while an entry is invalid or if the file cannot be written.
        """
        if self.build is None:
            wrong = next(problem for problem in self.problems if problem.fatal)
            raise InputError(f"the sheet is not saved: {wrong.what}", where=wrong.path, remedy=wrong.remedy)
        path = folder / f"{clean_name(name or self.build.name) or 'build'}.toml"
        text = edit_sheet(self.text, {"name": name.strip() or self.build.name})
        if is_received(path):
            raise InputError(
                "the sheet is not saved: the file of this name is a measured generator, whose points would be lost",
                where=str(path),
                remedy="Give the build another name",
            )
        try:
            folder.mkdir(parents=True, exist_ok=True)
            write_atomically(path, lambda file: file.write(text.encode()))
        except OSError as error:
            raise InputError(
                f"the sheet cannot be written: {error.strerror or error}", where=str(path), remedy="Check the folder"
            ) from error
        self.saved = self.text = self.base = text
        self._no_edits()
        self.file, self.opened = path.name, ""
        return path

    def take(self, text: str, name: str) -> int:
        """Put another sheet into the form; returns the number of its invalid entries. ``read`` must follow.

        A sheet without invalid entries becomes the saved one.
        """
        sheet = parse_sheet(text, name)
        self.text = self.base = text
        self._no_edits()
        if sheet.build is None:
            self.opened = name
            return sum(problem.fatal for problem in sheet.problems)
        self.saved = text
        self.file, self.opened = name, ""
        return 0

    def start_from(self, text: str) -> None:
        """Take a text as saved, without a file; ``read`` must follow."""
        self.saved = self.text = self.base = text

    def _no_edits(self) -> None:
        """Forget typed and linked entries: they are saved or discarded."""
        self._by_hand, self.carried_along = frozenset(), ()

    def _along(self, changes: Mapping[str, Any]) -> dict[str, Any]:
        """Linked entries that follow an edit, from the sheet as first put into the form; typed entries do not follow.

        When a leading entry returns to its value, its linked entries return too.
        """
        if LEADS.isdisjoint(changes):
            return {}
        base = self._parsed(self.base).build
        if base is None:  # a sheet with invalid entries gives no base for scaling
            return {}
        saved = as_typed(self.base)
        typed = {p: typed_entry(p, t) for p, t in self.values.items() if p in ENTRIES and t != saved.get(p, "")}
        wanted = {path: raw for path, raw in {**typed, **changes}.items() if path not in RULES}
        along, self.carried_along = along_entries(base, wanted, self._by_hand)
        back = [path for path in RULES if path not in along and path not in self._by_hand]
        restored = {path: typed_entry(path, saved[path]) for path in back if path in saved}
        return {path: raw for path, raw in (restored | along).items() if path not in changes}

    def _valid(self) -> tuple[Build | None, tuple[str, ...]]:
        """The build in the form, with saved values for invalid entries, and the paths of these."""
        if self.build is not None:
            return self.build, ()
        paths = tuple(dict.fromkeys(problem.path for problem in self.problems if problem.fatal))
        if not all(path in ENTRIES for path in paths):
            return None, ()
        before = as_typed(self.saved)
        try:
            text = edit_sheet(self.text, {path: typed_entry(path, before.get(path, "")) for path in paths})
        except FrothlineError:
            return None, ()
        found = parse_sheet(text, "sheet").build
        return found, paths if found is not None else ()
