"""The folders of recordings that the pages look into, as they were a few seconds ago, and what is worked out from them.

There are two at most: where this session's recordings go, and the simulated season that comes with the source tree,
which is shown next to a simulated rig. Everything that reads files runs in threads of its own.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.bench.background import AGE, Background, BackgroundAnswers
from frothline.errors import FrothlineError
from frothline.formatting import local_day
from frothline.readings.applied_calibration import AUTO, FILE

if TYPE_CHECKING:
    from frothline.recording.summary import Entry
    from frothline.trials.notebook import Notebook
    from frothline.trials.plan_file import PlanFile
    from frothline.trials.trial import Trial

OWN, SEASON = "own", "season"


BUILDS = "builds"


_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class FolderView:
    """A folder as it was seen: recordings, the newest first, and the runs condensed, the oldest first.

    ``look`` grows when anything in it has changed; ``problem`` says why it cannot be shown; ``ready`` is False before
    the first look; ``plan_problem`` says what is wrong with its plan.
    """

    place: str
    folder: Path
    look: int = 0
    ready: bool = False
    entries: tuple[Entry, ...] = ()
    trials: tuple[Trial, ...] = ()
    plan: PlanFile | None = None
    plan_problem: str = ""
    problem: str = ""
    notebook: Notebook | None = None


class LibraryFolder:
    """One folder."""

    def __init__(self, place: str, folder: Path, in_use: Callable[[], Any] = lambda: AUTO) -> None:
        self.folder = folder
        self._in_use = in_use
        self._how = ""
        self._seen = FolderView(place, folder)
        self._stamp: Any = None
        self._slow: Background[FolderView] = Background(self._look, self._seen, AGE)

    def look(self) -> FolderView:
        """At once."""
        return self._slow.look()

    def expire(self) -> None:
        """Something was written there: look again soon."""
        self._slow.expire()

    def _look(self) -> FolderView:
        from frothline.trials.notebook import open_notebook  # noqa: PLC0415  a second to load

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
            stamp = (self._sheets(), _photos(entries), _calibrations(self.folder, entries))
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
                plan=plan,
                plan_problem=plan_problem,
                notebook=notebook,
            )
        except (FrothlineError, OSError) as error:
            self._seen = FolderView(before.place, self.folder, before.look + 1, ready=True, problem=str(error))
        except Exception as error:  # a page that waits without a word is worse than one that says what failed
            _log.exception("%s could not be looked at", self.folder)
            words = f"the folder could not be read: {error}"
            self._seen = FolderView(before.place, self.folder, before.look + 1, ready=True, problem=words)
        return self._seen

    def _sheets(self) -> Any:
        """Changes when a sheet or the plan does; the catalogue looks at recordings and what is next to them alone."""
        files = [*(self.folder / BUILDS).glob("*.toml"), self.folder / "plan.toml"]
        return sorted((str(file), _changed(file)) for file in files)


def _photos(entries: tuple[Entry, ...]) -> Any:
    """Changes when a photo comes, goes or is replaced."""
    files = [Path(photo) for entry in entries for photo in entry.photos]
    return [(str(file), _changed(file)) for file in files]


def _calibrations(folder: Path, entries: tuple[Entry, ...]) -> Any:
    """Changes when a calibration does that a recording is read with."""
    folders = {folder, *(Path(entry.path).parent for entry in entries)}
    return sorted((str(one), _changed(one / FILE)) for one in folders)


def _changed(file: Path) -> int:
    """Ns since 1970; 0 where it cannot be told, as of a link that leads nowhere."""
    try:
        return file.stat().st_mtime_ns
    except (OSError, ValueError):
        return 0


class Library:
    """All folders of one program."""

    def __init__(self, folder: Path, season: Path | None, in_use: Callable[[], Any] = lambda: AUTO) -> None:
        """``in_use`` gives what one's own recordings are read with, as ``calibration`` of a notebook."""
        self.places = {OWN: LibraryFolder(OWN, folder, in_use)}
        if season is not None and season.resolve() != folder.resolve():
            self.places[SEASON] = LibraryFolder(SEASON, season)
        self.answers = BackgroundAnswers()

    def choose(self, wished: str, *, simulated: bool) -> LibraryFolder:
        """The folder that a viewer looks into: as wished, else one's own; next to a simulated rig, as long as there is
        no trial of one's own, the season.
        """
        if wished in self.places:
            return self.places[wished]
        own = self.places[OWN]
        empty = simulated and SEASON in self.places and not own.look().trials
        return self.places[SEASON] if empty else own

    def sweeps(self, *, simulated: bool) -> tuple[tuple[FolderView, Entry], ...]:
        """Recorded sweeps that can be read, the newest of one's own first; next to a simulated rig the season's too."""
        looked_into = [OWN, *([SEASON] if simulated and SEASON in self.places else [])]
        found = []
        for place in looked_into:
            seen = self.places[place].look()
            found += [(seen, entry) for entry in seen.entries if entry.kind == "sweep" and entry.state == "closed"]
        return tuple(found)


def title_of(entry: Entry) -> str:
    """What a recording is called, with its source and its day."""
    source = str(entry.metadata.get("air_source", ""))
    day = "" if entry.began is None else local_day(entry.began)
    return ", ".join(filter(None, (entry.title, source if source not in entry.title else "", day)))
