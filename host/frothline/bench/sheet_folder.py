"""Listing of the folders for the workspace: sheets to open and recordings to choose.

Files change while the program runs: a sheet is written by hand, a recording is copied in. So a thread checks the folder
every few seconds and reads it again only after a change.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from frothline.bench.background import Background
from frothline.bench.library import title_of
from frothline.bench.own_build import SHEETS
from frothline.bench.source_files import SOURCES, generator_entries, source_entries
from frothline.errors import FrothlineError, InputError
from frothline.recording.catalogue import Catalogue
from frothline.recording.summary import GENERATOR_SWEEP, Entry
from frothline.sweep.generator_file import GENERATORS
from frothline.trials.inside_folder import leads_out

LOOK_EVERY = 3.0  # s between two checks for changes in the folder
MOST_RECORDED = 40  # recordings to choose from


@dataclass(frozen=True)
class RecordedSweepFile:
    """A recording that may hold a sweep: its path and its title. ``through``: "dry" or "wet" for a generator sweep, by
    its metadata, and "file" for a generator's file, which may hold both. ``kind``: its kind in the catalogue.
    """

    path: str
    words: str
    through: str = ""
    kind: str = ""

    @property
    def of_source(self) -> bool:
        """Whether the recording may hold a sweep of an air source."""
        return self.kind in {"", "sweep"}


@dataclass(frozen=True)
class SheetListing:
    """Names of sheets and recordings in the folders.

    received : files of measured generators, like "builds/tall.toml"
    """

    files: tuple[str, ...] = ()
    recorded: tuple[RecordedSweepFile, ...] = ()
    received: tuple[str, ...] = ()


class SheetFolder:
    """Watches the folders of sheets and recordings; ``found`` is the last listing.

    Parameters
    ----------
    season
        Folder whose source sweeps are offered with a simulated rig.
    """

    def __init__(self, season: Path | None = None) -> None:
        self.folder = Path()
        self.found = SheetListing()
        self._season = season
        self._simulated = False
        self._keeps = False
        self._refreshed = 0
        self._stamp: Any = None
        self._slow: Background[tuple[int, SheetListing]] = Background(self._look, (0, self.found), LOOK_EVERY)

    @property
    def sheets(self) -> Path:
        return self.folder / SHEETS

    def for_saving(self) -> Path:
        """The folder of the sheets. Raises InputError if it is a link out of the folder of the recordings."""
        if leads_out(self.folder, self.sheets):
            raise InputError(
                "the sheet is not saved: the folder of the sheets is a link to another place",
                where=str(self.sheets),
                remedy="Replace the link by a folder",
            )
        return self.sheets

    def begin(self, folder: Path, *, simulated: bool) -> None:
        """Begin after the rig has answered and the folder of its recordings is known."""
        self.folder, self._simulated = folder, simulated
        self.refresh()

    def refresh(self) -> None:
        """Read the folders now, which is slow."""
        self._refreshed += 1
        self.found = self._find()

    def has(self, name: str) -> bool:
        """Whether there is a sheet of this name; a new one is found at once."""
        if name not in self.found.files:
            self.refresh()
        return name in self.found.files

    def look(self, *, keeps: bool) -> bool:
        """Whether the listing has changed; returns at once. ``keeps`` is set during a recording, whose end changes no
        name in the folder.
        """
        self._keeps = keeps
        number, lying = self._slow.look()
        if number != self._refreshed or lying == self.found:  # from before the last refresh, or unchanged
            return False
        self.found = lying
        return True

    def _look(self) -> tuple[int, SheetListing]:
        number = self._refreshed
        stamp = (
            number,
            self._keeps,
            *(_changed(at) for at in (self.folder, self.sheets, self.folder / SOURCES, self.folder / GENERATORS)),
        )
        if stamp == self._stamp:
            return number, self.found
        lying = self._find()
        self._stamp = stamp
        return number, lying

    def _find(self) -> SheetListing:
        try:
            files = tuple(sorted(path.name for path in self.sheets.glob("*.toml")))
        except OSError:
            files = ()
        own = [
            RecordedSweepFile(
                entry.path,
                title_of(entry) + (f" ({entry.seconds / 60:.0f} min)" if entry.seconds else ""),
                str(entry.metadata.get("through", "")) if entry.kind == GENERATOR_SWEEP else "",
                entry.kind,
            )
            for entry in _entries(self.folder)
            if entry.kind != "run"
        ]
        season = _entries(self._season) if self._simulated and self._season is not None else []
        others = [
            RecordedSweepFile(entry.path, f"simulated season: {title_of(entry)}", kind=entry.kind)
            for entry in season
            if entry.kind == "sweep" and entry.state == "closed"
        ]
        typed = [
            RecordedSweepFile(entry.path, title_of(entry), kind=entry.kind) for entry in source_entries(self.folder)
        ]
        passed_on = [  # dry or wet, as the file says when it is read
            RecordedSweepFile(entry.path, title_of(entry), "file", entry.kind)
            for entry in generator_entries(self.folder)
        ]
        received = (
            f"{place}/{Path(one.path).name}"
            for place in (SHEETS, GENERATORS)
            for one in generator_entries(self.folder, (place,))
        )
        return SheetListing(files, (*own[:MOST_RECORDED], *passed_on, *typed, *others), tuple(received))


def _entries(folder: Path) -> list[Entry]:
    try:
        return list(Catalogue(folder).entries) if folder.is_dir() else []
    except FrothlineError:
        return []


def _changed(path: Path) -> int:
    """Time of the last change of a folder's names, ns since 1970; 0 without the folder."""
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0
