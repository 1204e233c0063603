"""Folders of recordings as seen a few seconds ago, with the runs and sweeps read from them.

There are at most two: the folder of this session's recordings, and the simulated season of the source tree, which is
shown with a simulated rig. Files are read in background threads.
"""

from __future__ import annotations

import logging
import zlib
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.bench.background import AGE, Background, BackgroundAnswers
from frothline.bench.source_files import generator_entries, groups_of, source_entries
from frothline.bubble_size.photo_notes import notes_file
from frothline.errors import FrothlineError
from frothline.foam.agent_file import FOLDER as AGENTS
from frothline.formatting import local_day
from frothline.generator.sheet import read_sheet
from frothline.pours.jar import FOLDER as JARS
from frothline.pours.record import FOLDER as POURS
from frothline.readings.applied_calibration import AUTO, FILE
from frothline.sweep.generator_file import BUILDS
from frothline.toml_text import read_text
from frothline.trials.inside_folder import refuse_outside
from frothline.trials.notebook import open_notebook
from frothline.trials.plan_edit import BEFORE, PLAN, read_folder_plan

if TYPE_CHECKING:
    from frothline.foam.agent import AgentBook
    from frothline.generator.build import Build
    from frothline.recording.summary import Entry
    from frothline.trials.notebook import Notebook
    from frothline.trials.plan_file import PlanFile
    from frothline.trials.pours import PourBook
    from frothline.trials.trial import Trial

OWN, SEASON = "own", "season"


_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class FolderView:
    """Content of a folder: recordings, the newest first, and condensed runs, the oldest first.

    ``look`` grows when the content changes. ``problem`` is the reason why it cannot be shown. ``ready`` is False before
    the first look. ``plan_problem`` is the error in its plan.
    """

    place: str
    folder: Path
    look: int = 0
    ready: bool = False
    entries: tuple[Entry, ...] = ()
    trials: tuple[Trial, ...] = ()
    pours: PourBook | None = None
    agents: AgentBook | None = None
    plan: PlanFile | None = None
    plan_problem: str = ""
    problem: str = ""
    notebook: Notebook | None = None
    builds: Mapping[str, Build] = field(default_factory=dict)  # readable build sheets by file, like "builds/first.toml"
    plan_texts: Mapping[str, str] = field(default_factory=dict)  # entries of the plan, see ``trials.plan_edit``
    plan_stamp: str = ""  # changes with the plan's text
    sources: tuple[Entry, ...] = ()  # tables of points and files of measured sources
    groups: Mapping[str, int] = field(default_factory=dict)  # number of measured source files by kind
    plan_before: bool = False  # whether the last change of the plan can be undone


class LibraryFolder:
    """One folder of recordings, read in the background."""

    def __init__(self, place: str, folder: Path, in_use: Callable[[], Any] = lambda: AUTO) -> None:
        self.folder = folder
        self._in_use = in_use
        self._how = ""
        self._seen = FolderView(place, folder)
        self._stamp: Any = None
        self._slow: Background[FolderView] = Background(self._look, self._seen, AGE)

    def look(self) -> FolderView:
        """The last result, without waiting."""
        return self._slow.look()

    def expire(self) -> None:
        """Look again soon, because a file was written there."""
        self._slow.expire()

    def _look(self) -> FolderView:
        before = self._seen
        if not self.folder.is_dir():
            self._seen = FolderView(before.place, self.folder, before.look + bool(before.entries), ready=True)
            return self._seen
        notebook = before.notebook
        try:
            calibration = self._in_use()
            how = calibration.stamp if hasattr(calibration, "stamp") else str(calibration)
            if notebook is None or how != self._how:
                notebook = open_notebook(self.folder, calibration)
                self._how = how
                renewed = 1
            else:
                renewed = notebook.catalogue.refresh()
            entries = tuple(notebook.catalogue.entries)
            sources = source_entries(self.folder)
            lying = (*sources, *generator_entries(self.folder))
            files = [(one.path, one.bytes, _changed(Path(one.path))) for one in lying]
            stamp = (self._sheets(), _photos(entries, before.trials), _calibrations(self.folder, entries), files)
            if not renewed and stamp == self._stamp and len(entries) == len(before.entries):
                return before
            self._stamp = stamp
            notebook.refresh()
            plan, plan_problem = None, ""
            try:
                plan = notebook.plan
            except FrothlineError as error:
                plan_problem = str(error)
            self._seen = FolderView(
                before.place,
                self.folder,
                before.look + 1,
                ready=True,
                entries=entries,
                trials=notebook.trials,
                pours=notebook.pours,
                agents=notebook.agents,
                plan=plan,
                plan_problem=plan_problem,
                notebook=notebook,
                builds=self._builds(),
                sources=sources,
                groups=groups_of(self.folder) if sources else {},
                **self._plan(),
            )
        except (FrothlineError, OSError) as error:
            self._seen = FolderView(before.place, self.folder, before.look + 1, ready=True, problem=str(error))
        except Exception as error:  # the page shows the error rather than waiting
            _log.exception("%s could not be read", self.folder)
            words = f"the folder could not be read: {error}"
            self._seen = FolderView(before.place, self.folder, before.look + 1, ready=True, problem=words)
        return self._seen

    def _builds(self) -> dict[str, Build]:
        """The build sheets of the folder that can be read."""
        found = {}
        for file in sorted((self.folder / BUILDS).glob("*.toml")):
            with suppress(FrothlineError, OSError):
                refuse_outside(self.folder, file, file.name)
                found[f"{BUILDS}/{file.name}"] = read_sheet(file)
        return found

    def _plan(self) -> dict[str, Any]:
        """What the form of the plan needs."""
        text = ""
        with suppress(OSError, ValueError):
            text = read_text(self.folder / PLAN)
        return {
            "plan_texts": read_folder_plan(self.folder),
            "plan_stamp": f"{zlib.crc32(text.encode()):08x}",
            "plan_before": (self.folder / BEFORE).exists(),
        }

    def _sheets(self) -> Any:
        """A stamp of sheets, pours, agents, plan; the catalogue covers only recordings and the files next to them."""
        files = [*(self.folder / BUILDS).glob("*.toml"), self.folder / PLAN, self.folder / BEFORE]
        files += (self.folder / POURS).glob("*.toml")
        files += (self.folder / JARS).glob("*.toml")
        files += (self.folder / AGENTS).glob("*.toml")
        return sorted((str(file), _changed(file)) for file in files)


def _photos(entries: tuple[Entry, ...], trials: tuple[Trial, ...] = ()) -> Any:
    """A stamp of the photos, added, removed or replaced, and of the notes next to those of the trials."""
    photos = [Path(photo) for entry in entries for photo in entry.photos]
    noted = [notes_file(Path(photo)) for trial in trials for photo in trial.photos]
    return [(str(file), _changed(file)) for file in photos], {
        str(file): when for file in noted if (when := _changed(file))
    }


def _calibrations(folder: Path, entries: tuple[Entry, ...]) -> Any:
    """A stamp of the calibrations that recordings are read with."""
    folders = {folder, *(Path(entry.path).parent for entry in entries)}
    return sorted((str(one), _changed(one / FILE)) for one in folders)


def _changed(file: Path) -> int:
    """Modification time in ns since 1970; 0 if unknown, as for a broken link."""
    try:
        return file.stat().st_mtime_ns
    except (OSError, ValueError):
        return 0


class Library:
    """All folders of one program."""

    def __init__(self, folder: Path, season: Path | None, in_use: Callable[[], Any] = lambda: AUTO) -> None:
        """``in_use`` returns the calibration of the session's own recordings, as ``calibration`` of a notebook."""
        self.places = {OWN: LibraryFolder(OWN, folder, in_use)}
        if season is not None and season.absolute() != folder.absolute():  # by name: the disk is not asked
            self.places[SEASON] = LibraryFolder(SEASON, season)
        self.answers = BackgroundAnswers()

    def choose(self, wished: str, *, simulated: bool) -> LibraryFolder:
        """The folder to show: as requested, else the own one, or the season for a simulated rig without own trials."""
        if wished in self.places:
            return self.places[wished]
        own = self.places[OWN]
        empty = simulated and SEASON in self.places and not own.look().trials
        return self.places[SEASON] if empty else own

    def sweeps(self, *, simulated: bool) -> tuple[tuple[FolderView, Entry], ...]:
        """Readable recorded sweeps, the newest own one first; with a simulated rig also those of the season."""
        looked_into = [OWN, *([SEASON] if simulated and SEASON in self.places else [])]
        found = []
        for place in looked_into:
            seen = self.places[place].look()
            found += [(seen, entry) for entry in seen.sources]
            found += [(seen, entry) for entry in seen.entries if entry.kind == "sweep" and entry.state == "closed"]
        return tuple(found)


def title_of(entry: Entry) -> str:
    """Title of a recording, with its source and date."""
    source = str(entry.metadata.get("air_source", ""))
    day = "" if entry.began is None else local_day(entry.began)
    return ", ".join(filter(None, (entry.title, source if source not in entry.title else "", day)))
