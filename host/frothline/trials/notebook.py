"""The notebook: a folder of recordings with its trials, effects and next trial.

>>> from frothline.trials.notebook import open_notebook
>>> notebook = open_notebook("recordings/season")          # doctest: +SKIP
>>> notebook.table()                                       # doctest: +SKIP  tidy DataFrame, units in .attrs
>>> notebook.which_helped("density")                       # doctest: +SKIP
>>> notebook.next_run()                                    # doctest: +SKIP

The folder is the only source. Slow results of a recording are cached in it by the file's size and time, and computed
again when these change.
"""

from __future__ import annotations

import json
import logging
from contextlib import suppress
from dataclasses import replace
from functools import cached_property
from glob import escape as escape_glob
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.atomic_file import write_atomically
from frothline.curve.blower import BlowerFit
from frothline.errors import FrothlineError, InputError
from frothline.foam.agent import AgentBook
from frothline.foam.agent_file import read_agents
from frothline.presentable import draw_picture
from frothline.readings.applied_calibration import AUTO, calibration_for
from frothline.recording.catalogue import Catalogue
from frothline.recording.summary import Entry, in_words
from frothline.rounding import counted
from frothline.sweep.recorded_source import RecordedSweeps, load_sweeps
from frothline.trials import measurements
from frothline.trials.agent_comparison import AgentComparison, compare_agents
from frothline.trials.bubbles import with_bubbles
from frothline.trials.compare import Comparison, compare
from frothline.trials.known_names import known_names
from frothline.trials.next_trial import NextTrial, next_of
from frothline.trials.plan_edit import PLAN
from frothline.trials.plan_file import PlanFile, read_plan
from frothline.trials.pours import PourBook, read_pours, with_concrete
from frothline.trials.swept_builds import SweptBuild, swept_builds
from frothline.trials.trial import Trial, filling_of, load_trial
from frothline.trials.trial_table import html_table, trials_picture, trials_table
from frothline.trials.which_helped import EffectsOfChanges, which_helped
from frothline.units import SYSTEMS, chosen_system

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

_log = logging.getLogger(__name__)

CACHE = ".frothline-trials.json"
_VERSION = 4  # of the cache; grows when Measured changes


class Notebook:
    """A folder of recordings. ``refresh`` reads it again; all other methods use the last reading.

    ``catalogue`` : all recordings, with ``find`` over words, kind, build, tag and time
    ``trials`` : the condensed runs, the oldest first
    """

    def __init__(self, folder: str | Path, calibration: Any = AUTO, spool: Any = None) -> None:
        """Raises InputError if there is no such folder.

        ``calibration`` : "auto", a ``sensors.Calibration`` or its file, or None for the data sheets, as in
        ``read_table``: with "auto" each recording is read with the calibration in its own folder.
        """
        self.folder = Path(folder)
        self.catalogue = Catalogue(self.folder)
        self.calibration, self._spool = calibration, spool
        self._trials: tuple[Trial, ...] | None = None
        self._pours: PourBook | None = None

    # --- content ----------------------------------------------------------------------------------------------

    def refresh(self) -> int:
        """Read the folder again; returns the number of new or changed recordings."""
        renewed = self.catalogue.refresh()
        self._trials = None
        self.__dict__.pop("plan", None)
        return renewed

    def find(self, words: str = "", **filters: Any) -> list[Entry]:
        """Recordings that contain every word, newest first; filters as in ``Catalogue.find``."""
        return self.catalogue.find(words, **filters)

    @property
    def trials(self) -> tuple[Trial, ...]:
        """Runs in order of time; those with unknown time last."""
        if self._trials is None:
            condensed = tuple(with_bubbles(one) for one in self._condensed())
            self._pours = read_pours(self.folder, condensed)
            self._trials = with_concrete(condensed, self._pours)
        return self._trials

    @property
    def agents(self) -> AgentBook:
        """The foaming agents in the folder ``agents`` of this folder, as they are written now."""
        return read_agents(self.folder)

    def compare_agents(
        self, response: str = "density", *, block: str = "day", trials: tuple[Trial, ...] | None = None
    ) -> AgentComparison:
        """Foaming agents compared on a figure, with the day (or the batch of solution) as the block.

        Raises InputError for an unknown figure; TooFewPoints where the trials do not allow the comparison.
        """
        return compare_agents(self.trials if trials is None else trials, response, block)

    @property
    def pours(self) -> PourBook:
        """The pours in the folder ``pours`` of this folder, with what became of them."""
        assert self.trials is not None
        assert self._pours is not None
        return self._pours

    def trial(self, name: str) -> Trial:
        """By name or title; raises InputError if there is none, or if several have that title."""
        found = [one for one in self.trials if name in (one.name, str(one.path))]
        found = found or [one for one in self.trials if one.title == name]
        if len(found) == 1:
            return found[0]
        what = f"{len(found)} trials have that title" if found else "unknown trial name"
        remedy = known_names(name, {one.name: one.title for one in found or self.trials})
        raise InputError(what, where=f"{self.folder}: {name}", remedy=remedy)

    def compare(self, before: str, after: str) -> Comparison:
        """Compare two trials by name: parts and figures, with the scatter between the folder's repeated runs."""
        return compare(self.trial(before), self.trial(after), self.trials)

    @property
    def simulated(self) -> bool:
        """Whether any recording was made by a simulated rig."""
        return any(one.simulated for one in self.trials)

    def _condensed(self) -> tuple[Trial, ...]:
        runs = [
            one for one in self.catalogue if one.state in ("closed", "open") and (one.kind == "run" or _unread(one))
        ]
        runs.sort(key=lambda entry: (entry.started is None, entry.started or 0.0, entry.name))
        plain = self._spool is None  # other programs evaluate it again
        cache = self._read_cache() if plain else {}
        kept: dict[str, Any] = {}
        trials = []
        for entry in runs:
            path = Path(entry.path)
            filling = _filling(entry)
            how = self._how(path)
            stamp = [*_stamp(path, filling), *([how] if how else [])]
            measured = None
            key = str(path.relative_to(self.folder)) if path.is_relative_to(self.folder) else str(path)
            old = cache.get(key)
            if old is not None and old[0] == stamp:
                with suppress(KeyError, TypeError, ValueError):
                    measured = measurements.from_json(old[1])
            if measured is None:
                with suppress(FrothlineError, OSError):  # ``load_trial`` meets and reports it again
                    measured = measurements.measure(path, filling, self.calibration, self._spool)
            if measured is not None:
                kept[key] = [stamp, measurements.as_json(measured)]
            trials.append(self._trial_of(entry, measured))
        if plain and kept.keys() and {k: v[0] for k, v in kept.items()} != {k: v[0] for k, v in cache.items()}:
            text = json.dumps(
                {"version": _VERSION, "trials": kept}
            )  # in ASCII, because a file name may not be valid text
            with suppress(FrothlineError, OSError):  # a read-only folder only costs time
                write_atomically(self.folder / CACHE, lambda file: file.write(text.encode()))
        return tuple(trials)

    def _how(self, path: Path) -> str:
        """A stamp of a recording's calibration; empty for the data sheets."""
        try:
            found = calibration_for(self.calibration, path)
        except FrothlineError:  # ``load_trial`` meets it again, and it becomes the trial's problem
            return "unreadable"
        return "" if found is None else found.stamp

    def _trial_of(self, entry: Entry, measured: measurements.Measured | None) -> Trial:
        try:
            return load_trial(entry, self.calibration, self._spool, measured)
        except Exception as error:  # one bad file must not hide the other trials
            _log.exception("%s could not be summarised", entry.path)
            bare = replace(entry, metadata={"kind": entry.kind}, photos=(), problem=in_words(error))
            return load_trial(bare, measured=measured or measurements.Measured("", why={}))

    def _read_cache(self) -> dict[str, Any]:
        try:
            cache = json.loads((self.folder / CACHE).read_text(encoding="utf-8"))
            found = cache["trials"] if cache["version"] == _VERSION else {}
            return {key: value for key, value in found.items() if isinstance(value, list) and len(value) == 2}
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return {}

    def swept_builds(self) -> tuple[SweptBuild, ...]:
        """Sweeps through generators with their builds; the first reading of each takes about a second."""
        return swept_builds(self.folder, tuple(self.catalogue), self.calibration, self._spool)

    # --- air sources ------------------------------------------------------------------------------------------------

    def sweeps_of(self, air_source: str) -> list[Entry]:
        """Recorded sweeps of an air source, newest first."""
        return [e for e in self.catalogue if e.kind == "sweep" and str(e.metadata.get("air_source", "")) == air_source]

    @property
    def air_sources(self) -> tuple[str, ...]:
        """Names of all air sources that were swept or run."""
        names = [str(e.metadata.get("air_source", "")) for e in self.catalogue if e.kind in ("sweep", "run")]
        return tuple(sorted({name for name in names if name}))

    def sweep(self, air_source: str) -> RecordedSweeps:
        """Points of all sweeps of a source. Raises InputError if it was never swept, else as ``load_sweeps``."""
        found = self.sweeps_of(air_source)
        if not found:
            raise InputError(
                f"no sweep of “{air_source}”",
                where=str(self.folder),
                remedy="Record a sweep, and write air_source = “…” in its TOML file.",
            )
        return load_sweeps([Path(entry.path) for entry in found], self.calibration, self._spool)

    def curve(self, air_source: str) -> BlowerFit:
        """The curve of a source from all its sweeps. Raises InputError, RecordingError, FitError."""
        return self.sweep(air_source).fit()

    # --- what helped, what next -------------------------------------------------------------------------------------

    def which_helped(self, response: str = "density", trials: tuple[Trial, ...] | None = None) -> EffectsOfChanges:
        """Effects of all changes on one figure of FIGURES. Raises InputError or TooFewPoints."""
        return which_helped(self.trials if trials is None else trials, response)

    @cached_property
    def plan(self) -> PlanFile | None:
        """``plan.toml`` of the folder, None without one. Raises InputError for a wrong file."""
        path = self.folder / PLAN
        return read_plan(path) if path.exists() or path.is_symlink() else None

    def next_run(self, *, seed: int = 0) -> NextTrial:
        """The next trial, with its reason. Raises InputError without a plan, or for a wrong one."""
        if self.plan is None:
            raise InputError(
                "no plan in this folder",
                where=str(self.folder / PLAN),
                remedy="Write the factors and targets in plan.toml; `frothline plan --help` shows how.",
            )
        return next_of(self.plan, self.trials, seed=seed)

    # --- tables -----------------------------------------------------------------------------------------------------

    def table(self) -> pd.DataFrame:
        """One row per trial: name, started, air_source, build, solution_batch, then each figure with ``u_<name>``; SI.

        ``attrs["units"]`` has the unit of each column, ``attrs["simulated"]`` is whether any trial was simulated.
        """
        return trials_table(self.trials)

    def plot(self, response: str = "density") -> go.Figure:
        """One figure of all trials with its 95 % interval, as a Plotly figure. Raises InputError for an unknown one."""
        return draw_picture(trials_picture(self.trials, response))

    def __repr__(self) -> str:
        """Short text without reading a recording: the catalogue counts the trials until they are used."""
        if self._trials is None:
            return f"<Notebook {self.folder}: {sum(entry.kind == 'run' for entry in self.catalogue)} runs>"
        made = ", simulated" if self.simulated else ""
        return f"<Notebook {self.folder}: {counted(len(self.trials), 'trial')}{made}>"

    def _repr_html_(self) -> str:
        made = "<p><b>Simulated.</b></p>" if self.simulated else ""
        return (
            f"<h4>{escape(str(self.folder))}: {counted(len(self.trials), 'trial')}</h4>{made}"
            f"{html_table(self.trials, SYSTEMS[chosen_system()])}"
        )


def open_notebook(folder: str | Path, calibration: Any = AUTO, spool: Any = None) -> Notebook:
    """Open the notebook of a folder. Arguments and errors as in ``Notebook``."""
    return Notebook(folder, calibration, spool)


def season() -> Path | None:
    """The simulated season of the source tree, as example data; None without it."""
    folder = Path(__file__).parents[3] / "recordings" / "season"
    return folder if folder.is_dir() else None


def _unread(entry: Entry) -> bool:
    """Whether the TOML file of a recording cannot be read, so that it may be a run: it is shown with its problem."""
    return bool(entry.problem) and not entry.metadata


def _filling(entry: Entry) -> measurements.Filling | None:
    try:
        return filling_of(entry)
    except Exception:  # ``load_trial`` meets it again, and it becomes the trial's problem
        return None


def _stamp(path: Path, filling: measurements.Filling | None) -> list[Any]:
    """A stamp of a recording's measurements: size and time of its segments, and the filling time of the sample."""
    out: list[Any] = []
    for file in sorted(path.parent.glob(f"{escape_glob(path.name.removesuffix('.froth'))}*.froth")):
        with suppress(OSError):
            status = file.stat()
            out.append([file.name, status.st_size, status.st_mtime_ns])
    return [out, None if filling is None else [filling.at, filling.took]]
