"""What is in the folders for the desk of the sheet: sheets that can be opened, recordings that can be chosen.

They come and go under the program: a sheet is written by hand, a recording is copied in. So the folder is looked at
every few seconds, in a thread, and read again only where something came or went.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from frothline.bench.background import Background
from frothline.bench.library import title_of
from frothline.errors import FrothlineError
from frothline.recording.catalogue import Catalogue
from frothline.recording.summary import GENERATOR_SWEEP, Entry

SHEETS = "builds"  # folder of the sheets, in that of the recordings; where a trial looks for them
LOOK_EVERY = 3.0  # s between two looks whether the folder has changed
MOST_RECORDED = 40  # recordings to choose from


@dataclass(frozen=True)
class RecordedSweepFile:
    """A recording that may hold a sweep: its path, and words to choose it by. ``through``: where it says of itself that
    it swept a generator, "dry" or "wet".  ``kind``: what else it says of itself, as in the catalogue
    """

    path: str
    words: str
    through: str = ""
    kind: str = ""

    @property
    def of_source(self) -> bool:
        """Whether it may hold a sweep of an air source."""
        return self.kind in {"", "sweep"}


@dataclass(frozen=True)
class SheetListing:
    """Names of sheets, and recordings."""

    files: tuple[str, ...] = ()
    recorded: tuple[RecordedSweepFile, ...] = ()


class SheetFolder:
    """``found`` is what was seen last.

    Parameters
    ----------
    season
        Folder whose sweeps of sources are offered next to a simulated rig.
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

    def begin(self, folder: Path, *, simulated: bool) -> None:
        """The rig has answered: where its recordings go is known."""
        self.folder, self._simulated = folder, simulated
        self.refresh()

    def refresh(self) -> None:
        """Look now, which takes a while."""
        self._refreshed += 1
        self.found = self._find()

    def look(self, *, keeps: bool) -> bool:
        """Whether something has changed. At once; ``keeps`` while a recording is being written, which ends without
        anything coming or going.
        """
        self._keeps = keeps
        number, lying = self._slow.look()
        if number != self._refreshed or lying == self.found:  # from before the last refresh, or as before
            return False
        self.found = lying
        return True

    def _look(self) -> tuple[int, SheetListing]:
        number = self._refreshed
        stamp = (number, self._keeps, *(_changed(at) for at in (self.folder, self.sheets)))
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
        return SheetListing(files, (*own[:MOST_RECORDED], *others))


def _entries(folder: Path) -> list[Entry]:
    try:
        return list(Catalogue(folder).entries) if folder.is_dir() else []
    except FrothlineError:
        return []


def _changed(path: Path) -> int:
    """Ns since 1970 at which something came into a folder or left it; 0 without it."""
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0
