"""The folders of recordings that the pages look into, as they were a few seconds ago, and what is worked out from them.

There are two at most: where this session's recordings go, and the simulated season that comes with the source tree,
which is shown beside a simulated rig. Everything that reads files runs in threads of its own.
"""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.errors import FrothlineError
from frothline.formatting import local_day
from frothline.recording.applied_calibration import AUTO, FILE
from frothline.screen.slow import Slow

if TYPE_CHECKING:
    from frothline.bench.notebook import Notebook
    from frothline.bench.notebook_plan import PlanFile
    from frothline.bench.trial import Trial
    from frothline.recording import Entry

OWN, SEASON = "own", "season"
AGE = 5.0  # s between two looks at a folder
MOST_ANSWERS = 120
BUILDS = "builds"

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Seen:
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


class Place:
    """One folder."""

    def __init__(self, place: str, folder: Path, in_use: Callable[[], Any] = lambda: AUTO) -> None:
        self.folder = folder
        self._in_use = in_use
        self._how = ""
        self._seen = Seen(place, folder)
        self._stamp: Any = None
        self._slow: Slow[Seen] = Slow(self._look, self._seen, AGE)

    def look(self) -> Seen:
        """At once."""
        return self._slow.look()

    def expire(self) -> None:
        """Something was written there: look again soon."""
        self._slow.expire()

    def _look(self) -> Seen:
        from frothline.bench.notebook import open_notebook  # noqa: PLC0415  a second to load

        before = self._seen
        if not self.folder.is_dir():
            self._seen = Seen(before.place, self.folder, before.look + bool(before.entries), ready=True)
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
            self._seen = Seen(
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
            self._seen = Seen(before.place, self.folder, before.look + 1, ready=True, problem=str(error))
        except Exception as error:  # a page that waits without a word is worse than one that says what failed
            _log.exception("%s could not be looked at", self.folder)
            words = f"the folder could not be read: {error}"
            self._seen = Seen(before.place, self.folder, before.look + 1, ready=True, problem=words)
        return self._seen

    def _sheets(self) -> Any:
        """Changes when a sheet or the plan does; the catalogue looks at recordings and what lies beside them alone."""
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


@dataclass(frozen=True)
class Answer:
    """What was worked out: ``value`` once it is there, ``trouble`` why it cannot be had."""

    value: Any = None
    trouble: str = ""
    working: bool = True


class Answers:
    """Each question is worked out once, one after the other, in a thread; the latest are kept."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: OrderedDict[Hashable, Answer] = OrderedDict()
        self._asked: OrderedDict[Hashable, Callable[[], Any]] = OrderedDict()
        self._thread: threading.Thread | None = None

    def look(self, question: Hashable, find: Callable[[], Any]) -> Answer:
        """The answer, or one that is ``working``."""
        with self._lock:
            known = self._known.get(question)
            if known is not None:
                self._known.move_to_end(question)
                return known
            self._asked.setdefault(question, find)
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="frothline-answers", daemon=True)
                self._thread.start()
        return Answer()

    def _work(self) -> None:
        while True:
            with self._lock:
                if not self._asked:
                    self._thread = None
                    return
                question, find = self._asked.popitem()  # the newest first: it is what somebody looks at now
            try:
                answer = Answer(find(), working=False)
            except FrothlineError as error:
                answer = Answer(trouble=str(error), working=False)
            except Exception as error:  # whatever went wrong must be said rather than waited for
                _log.exception("a page's question could not be answered")
                answer = Answer(trouble=f"this could not be worked out: {error}", working=False)
            with self._lock:
                self._known[question] = answer
                while len(self._known) > MOST_ANSWERS:
                    self._known.popitem(last=False)


class Shelf:
    """All folders of one program."""

    def __init__(self, folder: Path, season: Path | None, in_use: Callable[[], Any] = lambda: AUTO) -> None:
        """``in_use`` gives what one's own recordings are read with, as ``calibration`` of a notebook."""
        self.places = {OWN: Place(OWN, folder, in_use)}
        if season is not None and season.resolve() != folder.resolve():
            self.places[SEASON] = Place(SEASON, season)
        self.answers = Answers()

    def choose(self, wished: str, *, simulated: bool) -> Place:
        """The folder that a viewer looks into: as wished, else one's own; beside a simulated rig, as long as there is
        no trial of one's own, the season.
        """
        if wished in self.places:
            return self.places[wished]
        own = self.places[OWN]
        empty = simulated and SEASON in self.places and not own.look().trials
        return self.places[SEASON] if empty else own

    def sweeps(self, *, simulated: bool) -> tuple[tuple[Seen, Entry], ...]:
        """Recorded sweeps that can be read, the newest of one's own first; beside a simulated rig the season's too."""
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
