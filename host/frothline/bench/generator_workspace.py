"""The build sheet as it lies on the desk: as saved, as altered in the form, and what an alteration would do.

One desk for all pages of a program, as there is one bench: what is typed on the phone is seen on the computer. Entries
stay as they were typed; what is wrong with one is told at it. The answer is worked out in a thread of its own, the
newest question first.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import Any

from frothline.bench.session_api import SessionApi
from frothline.bench.sheet_folder import SHEETS, RecordedSweepFile, SheetFolder
from frothline.bench.snapshot import LIVE, Snapshot
from frothline.curve import BlowerFit, SteadyPoint
from frothline.errors import FrothlineError, InputError
from frothline.generator.build import Build
from frothline.generator.build_comparison import has_same_air_path, makes_same_foam
from frothline.generator.evaluation import Evaluation, EvaluationInput, evaluate, search_sizes
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.linked_entries import LEADS, RULES, Along, along_entries
from frothline.generator.room_air import RoomAir
from frothline.generator.sheet import (
    Problem,
    edit_sheet,
    parse_sheet,
    sheet_text,
    simulated_sheet,
    starting_sheet,
    write_value,
)
from frothline.generator.sheet_form import ENTRIES, as_typed, typed_entry
from frothline.generator.size_search import CHANGES, SizeSearch, Wanted
from frothline.readings.applied_calibration import AUTO, calibration_for
from frothline.recording.disk import write_atomically
from frothline.recording.sidecar import clean_name
from frothline.sweep.recorded_generator import Role, check_role, read_generator_sweep, role_notes

NOTHING = ""


LEAST_POINTS = 3  # steady points that a line is scaled to


LIVE_SOURCE = "live"  # of the sources the one swept last, of the generator's lines the one swept just now


# Air of the room and the line is looked at in these steps, or every breath of air would ask for a new answer.
_STEPS = {"ambient_pressure": 500.0, "ambient_temperature": 2.0, "ambient_humidity": 0.2, "line_temperature": 5.0}


@dataclass(frozen=True)
class WorkspaceState:
    """What lies on the desk, all of one moment.

    values : as typed, by path; an entry that is not written is not among them
    usual : what an entry is where nothing is written, as words;  problems : what is wrong, most of it with its path
    files : names of the sheets that can be opened, in ``sheets``;  recorded : recordings to choose from
    opened : the sheet in the form, where it is not the one that stands there
    leaving : the sheet that was asked for while there were changes that are not saved, None without such a question
    left_out : paths of entries that cannot be; answers are given for the others, these as they are built
    form, result : grow when the form or the answer changes
    """

    name: str
    file: str  # of the saved sheet, empty where it was never saved
    values: Mapping[str, str]
    altered: tuple[str, ...]
    problems: tuple[Problem, ...]
    build: Build | None
    built: Build
    answer: Evaluation | None
    working: bool
    found: SizeSearch | None
    files: tuple[str, ...]
    recorded: tuple[RecordedSweepFile, ...]
    swept: frozenset[str]  # "dry", "wet": lines of this generator that were swept in this session
    chosen: Mapping[str, str]  # "source", "new_source", "dry", "wet" -> path, LIVE_SOURCE or NOTHING
    trouble: Mapping[str, str]  # of these
    form: int
    result: int
    sheets: Path = Path(SHEETS)
    opened: str = ""
    leaving: str | None = None
    left_out: tuple[str, ...] = ()


class GeneratorWorkspace:
    """``look`` and ``notice`` are cheap; everything else may be called from any thread and raises InputError."""

    def __init__(self, session: SessionApi, season: Path | None = None) -> None:
        """``season`` : folder whose sweeps of sources are offered beside a simulated rig."""
        self._session = session
        self._lying = SheetFolder(season)
        self._lock = threading.RLock()
        self._saved = self._text = self._base = starting_sheet()  # as built, in the form, as it came into the form
        self._file = ""
        self._began = False
        self._form = self._result = 1
        self._opened = ""  # the sheet whose text lies in the form, where it is not the one that stands there
        self._leaving: str | None = None
        self._left_out: tuple[str, ...] = ()
        self._chosen = {"source": LIVE_SOURCE, "new_source": NOTHING, "dry": NOTHING, "wet": NOTHING}
        self._trouble: dict[str, str] = {}
        self._curves: dict[str, BlowerFit] = {}
        self._points: dict[str, tuple[SteadyPoint, ...]] = {}
        self._read_with: dict[str, str] = {}  # stamp of the calibration, by path
        self._live: BlowerFit | None = None
        self._taken: dict[str, tuple[SteadyPoint, ...]] = {}  # the session's sweeps that were looked at, by kind
        self._air: dict[str, float] = {}  # measured now, in steps
        self._recorded_air: dict[str, RoomAir] = {}  # by the path of the source's recording
        self._knowledge = FoamKnowledge.usual()
        self._found: SizeSearch | None = None
        self._answer: Evaluation | None = None
        self._asked: EvaluationInput | None = None
        self._depends: tuple[Any, ...] = ()
        self._working = False
        self._by_hand: frozenset[str] | set[str] = frozenset()  # entries that would go along and were typed
        self._moved: tuple[Along, ...] = ()  # what went along with the edits
        self._swept: Build | None = None  # what was measured, where it was changed and saved since
        self._measured = 0  # sweeps of this session that became a measured line
        start = parse_sheet(self._saved, "sheet").build
        assert start is not None
        self._built = start
        self._read()

    # --- what the pages see -----------------------------------------------------------------------------------------

    def look(self) -> WorkspaceState:
        with self._lock:
            return WorkspaceState(
                name=str(self._values.get("name", "")),
                file=self._opened or self._file,
                values=self._values,
                altered=self._altered,
                problems=self._problems,
                build=self._build,
                built=self._built,
                answer=self._answer,
                working=self._working,
                found=self._found,
                files=self._lying.found.files,
                recorded=self._lying.found.recorded,
                swept=frozenset(kind for kind in ("dry", "wet") if _swept(kind) in self._points),
                chosen=dict(self._chosen),
                trouble=dict(self._trouble),
                form=self._form,
                result=self._result,
                sheets=self._lying.sheets,
                opened=self._opened,
                leaving=self._leaving,
                left_out=self._left_out,
            )

    @property
    def built(self) -> Build:
        """The generator that stands there, by its sheet."""
        return self._built

    @property
    def file(self) -> str:
        """Name of its sheet under ``builds``; empty where it was never saved."""
        return self._file

    @property
    def source(self) -> BlowerFit | None:
        """The air source's curve that answers are given for."""
        chosen = self._chosen["source"]
        return self._live if chosen == LIVE_SOURCE else self._curves.get(chosen)

    def notice(self, now: Snapshot) -> None:
        """Take what has changed on the bench into account."""
        with self._lock:
            if not self._began and now.link.state == LIVE:
                self._begin(now)
            if now.fit is not None:
                self._live = now.fit
            self._take_swept(now)
            if self._began and self._lying.look(keeps=now.recording is not None):
                self._form += 1
            for name, step in _STEPS.items():
                latest = now.latest.get(name)
                # half a step more before it moves, so that it does not flicker between two steps
                if latest is not None and latest.known and abs(latest.value - self._air.get(name, inf)) > 0.75 * step:
                    self._air[name] = step * round(latest.value / step)
            self._ask()

    def _take_swept(self, now: Snapshot) -> None:
        """A sweep through this generator that has ended is its measured line from now on."""
        for kind, points in now.through.items():
            if self._taken.get(kind) is points:
                continue
            self._taken[kind] = points
            if len(points) >= LEAST_POINTS:
                self._points[_swept(kind)] = points
                self._chosen[kind] = LIVE_SOURCE
                self._only(kind)
                self._trouble.pop(kind, None)
                self._measured += 1
                self._lying.refresh()
                self._form += 1

    def _forget_swept(self) -> None:
        """Another generator lies here: what was measured was the one before."""
        for kind in ("dry", "wet"):
            self._points.pop(_swept(kind), None)
            self._chosen[kind] = NOTHING
        self._swept = None

    def _only(self, kind: str) -> None:
        """A measured line of the generator as it stands; the other one, if it was of the build before, is let go."""
        if self._swept is not None:
            self._chosen["wet" if kind == "dry" else "dry"] = NOTHING
            self._swept = None

    @property
    def knowledge(self) -> FoamKnowledge:
        """What is known of the foam of the generator that stands there."""
        return self._knowledge

    def know(self, knowledge: FoamKnowledge) -> None:
        """What samples of this build have told of its foam."""
        with self._lock:
            self._knowledge = knowledge
            self._ask()

    # --- the form ---------------------------------------------------------------------------------------------------

    def edit(self, typed: Mapping[str, str]) -> None:
        """The entries as a person typed them; an empty one is taken out. What is wrong with one is told at it."""
        with self._lock:
            changes = {}
            for path, text in typed.items():
                if path not in ENTRIES:
                    raise InputError(f"there is no entry “{path}”", remedy="Load the page again")
                if text.strip() != self._values.get(path, ""):
                    changes[path] = typed_entry(path, text)
            if changes:
                self._by_hand = (self._by_hand | changes.keys()) & RULES.keys()
                along = self._along(changes)
                self._put({**changes, **along})

    def _along(self, changes: Mapping[str, Any]) -> dict[str, Any]:
        """What goes along with an edit, from the sheet as it came into the form; what was typed by hand does not.

        Where a lead is again as it was, so is what went along with it.
        """
        if LEADS.isdisjoint(changes):
            return {}
        base = parse_sheet(self._base, "sheet").build
        if base is None:  # a sheet with entries that cannot be: nothing can be scaled from it
            return {}
        saved = as_typed(self._base)
        typed = {p: typed_entry(p, t) for p, t in self._values.items() if p in ENTRIES and t != saved.get(p, "")}
        wanted = {path: raw for path, raw in {**typed, **changes}.items() if path not in RULES}
        along, self._moved = along_entries(base, wanted, self._by_hand)
        back = [path for path in RULES if path not in along and path not in self._by_hand]
        restored = {path: typed_entry(path, saved[path]) for path in back if path in saved}
        return {path: raw for path, raw in (restored | along).items() if path not in changes}

    def try_size(self, number: int) -> str:
        """Put a size that was found into the form."""
        with self._lock:
            if self._found is None or not 0 <= number < len(self._found.choices):
                raise InputError("that size is no longer offered", remedy="Ask for sizes again")
            after = self._found.choices[number].prediction.build
            base = self._build or self._built
            changes: dict[str, Any] = {}
            for path, kind in ENTRIES.items():
                part, _, name = path.partition(".")
                if name and getattr(getattr(after, part), name) != getattr(getattr(base, part), name):
                    value = getattr(getattr(after, part), name)
                    changes[path] = value if kind in {"count", "share"} else write_value(value, kind)
            found = self._found
            self._put(changes)
            self._found = found  # the others can be tried as well
            return f"In the form: {found.choices[number].words}"

    def undo(self) -> None:
        """Back to the sheet as saved, and to the source that was measured."""
        with self._lock:
            self._text = self._base = self._saved
            self._opened = ""
            self._alone_again()
            self._chosen["new_source"] = NOTHING
            self._read()

    def save(self, name: str) -> Path:
        """Write the form as the sheet of the generator that stands there; gives its path.

        Raises InputError while an entry is wrong, or where it cannot be written.
        """
        with self._lock:
            if self._build is None:
                wrong = next(problem for problem in self._problems if problem.fatal)
                raise InputError(f"the sheet is not saved: {wrong.what}", where=wrong.path, remedy=wrong.remedy)
            wanted = clean_name(name or self._build.name) or "build"
            folder = self._lying.sheets
            path = folder / f"{wanted}.toml"
            text = edit_sheet(self._text, {"name": name.strip() or self._build.name})
            try:
                folder.mkdir(parents=True, exist_ok=True)
                write_atomically(path, lambda file: file.write(text.encode()))
            except OSError as error:
                raise InputError(
                    f"the sheet cannot be written: {error.strerror or error}",
                    where=str(path),
                    remedy="Check the folder",
                ) from error
            before = self._built
            self._saved = self._text = self._base = text
            self._alone_again()
            self._file, self._opened = path.name, ""
            if any(self._chosen[kind] != NOTHING for kind in ("dry", "wet")) and not has_same_air_path(
                before, self._build
            ):
                self._swept = self._swept or before
            self._lying.refresh()
            self._read()
            return path

    def open(self, name: str, *, leave: bool = False) -> str:
        """Take another sheet: one of the folder, or "" for a fresh one to start from.

        Changes that are not saved are asked about first, unless they may be left. A sheet with entries that cannot be
        comes into the form with all that is wrong, and the generator that stands there stays. Raises InputError for a
        file that cannot be read as a sheet at all; the form is as it was then.
        """
        with self._lock:
            text = starting_sheet() if not name else self._sheet(name)
            if self._text != self._base and not leave:
                self._leaving = name
                self._form += 1
                return ""  # the question stands beside the list
            self._trouble.pop("open", None)
            self._chosen["new_source"] = NOTHING
            sheet = parse_sheet(text, name)
            self._text = self._base = text
            self._alone_again()
            if sheet.build is None:
                self._opened = name
                self._read()
                wrong = sum(problem.fatal for problem in sheet.problems)
                return f"{name}: {wrong} {'entry needs' if wrong == 1 else 'entries need'} a look, each says why"
            self._saved = text
            self._file, self._opened = name, ""
            self._forget_swept()
            self._read()
            return f"{self._built.name} lies on the desk"

    def _sheet(self, name: str) -> str:
        """The text of a sheet of the folder, which is TOML at least."""
        if name not in self._lying.found.files:
            raise InputError(f"there is no sheet “{name}”", where=str(self._lying.sheets))
        text = sheet_text(self._lying.sheets / name)
        if not as_typed(text):  # nothing of it can be shown in a form
            problems = parse_sheet(text, name).problems
            self._trouble["open"] = " ".join(
                f"{problem.where}: {problem.what}. {problem.remedy}." for problem in problems if problem.fatal
            )
            self._form += 1
            first = next(problem for problem in problems if problem.fatal)
            raise InputError(first.what, where=first.where, remedy=first.remedy)
        return text

    def stay(self) -> str:
        """No other sheet, after all."""
        with self._lock:
            self._leaving = None
            self._form += 1
            return "Your changes are still here"

    # --- sources and measurements -----------------------------------------------------------------------------------

    def choose(self, what: str, path: str) -> str:
        """``what`` is source, new_source, dry or wet; ``path`` a recording, LIVE_SOURCE or NOTHING.

        Reads it, which takes a while; raises RecordingError, SensorError, FitError with the reason.
        """
        if what not in self._chosen:
            raise InputError(f"“{what}” cannot be chosen", remedy="Load the page again")
        if path not in (LIVE_SOURCE, NOTHING):
            if path not in {item.path for item in self._lying.found.recorded}:
                raise InputError("that recording is no longer there", where=path, remedy="Load the page again")
            try:
                self._load(what, path)
            except FrothlineError as error:
                with self._lock:
                    self._trouble[what] = str(error)
                    self._form += 1
                raise
        with self._lock:
            self._trouble.pop(what, None)
            self._chosen[what] = path
            if what in ("dry", "wet") and path != NOTHING:
                self._only(what)
            self._form += 1
            self._ask()
        return ""

    def _load(self, what: str, path: str) -> None:
        from frothline.sweep.recorded_source import load_sweeps  # noqa: PLC0415  reads a whole recording

        calibration = calibration_for(self._calibration(path), path)
        stamp = "" if calibration is None else calibration.stamp
        if self._read_with.get(path, "") != stamp:  # read with another calibration before
            self._read_with[path] = stamp
            self._points.pop(path, None)
            self._curves.pop(path, None)
        if what in {"dry", "wet"}:
            role: Role = "dry" if what == "dry" else "wet"
            check_role([Path(path)], role)
            if path not in self._points:
                found = read_generator_sweep([Path(path)], role, calibration=self._calibration(path))
                if not found:
                    raise InputError(
                        "no steady point was found in it",
                        where=path,
                        remedy="Sweep it with the guide, or hold each opening of the bleed for some five seconds",
                    )
                self._points[path] = found
        elif path not in self._curves:
            check_role([Path(path)], "source")
            of_source = load_sweeps([Path(path)], self._calibration(path))
            self._curves[path], self._recorded_air[path] = of_source.fit(), of_source.air

    def _calibration(self, path: str) -> Any:
        """What a recording is read with: one's own as the session was told, others with the file in their folder."""
        own = Path(path).is_relative_to(self._session.snapshot().folder)
        return self._session.calibrating().for_recordings() if own else AUTO

    def look_for_files(self) -> None:
        """Look through the folder again for sheets and recordings."""
        with self._lock:
            self._lying.refresh()
            self._form += 1

    # --- the other way round ----------------------------------------------------------------------------------------

    def search(self, change: str, wanted: str, value: float) -> str:
        """Which size brings a wanted figure (SI); ``look`` then has what was found."""
        answer = self._answer
        if answer is None:
            raise InputError("nothing can be sought yet", remedy="Mend the sheet, and sweep the source first")
        if change not in CHANGES or wanted not in _WANTED:
            raise InputError("that cannot be sought", remedy="Load the page again")
        found = search_sizes(answer, change, _WANTED[wanted], value)
        with self._lock:
            self._found = found
            self._result += 1
        return ""

    # --- inside -----------------------------------------------------------------------------------------------------

    def _begin(self, now: Snapshot) -> None:
        """Once the rig has answered: its folder, and the sheet that was saved last, or the simulated generator's."""
        self._began = True
        self._lying.begin(now.folder, simulated=now.simulated)
        newest = max(self._lying.found.files, key=self._age, default="")
        if newest:
            try:
                self.open(newest, leave=True)
            except InputError:
                newest = ""
        if not self._file and not self._opened and now.simulated:
            self._saved = self._text = self._base = simulated_sheet()
            self._read()
        self._form += 1

    def _age(self, name: str) -> float:
        try:
            return (self._lying.sheets / name).stat().st_mtime
        except OSError:
            return 0.0

    def _alone_again(self) -> None:
        """Nothing is altered yet: what was typed by hand and what went along is part of the sheet now, or gone."""
        self._by_hand, self._moved = frozenset(), ()

    def _put(self, changes: Mapping[str, Any]) -> None:
        self._text = edit_sheet(self._text, changes)
        self._read()

    def _read(self) -> None:
        """From the text to everything that is made of it."""
        saved, sheet = parse_sheet(self._saved, "sheet"), parse_sheet(self._text, "sheet")
        assert saved.build is not None
        if not makes_same_foam(saved.build, self._built):  # what was weighed was the foam of another
            self._knowledge = FoamKnowledge.usual(saved.build)
        self._built, self._build, self._problems = saved.build, sheet.build, sheet.problems
        self._values = as_typed(self._text)
        before = as_typed(self._saved)
        self._leaving = None
        self._wanted, self._left_out = self._valid()
        self._altered = tuple(path for path in ENTRIES if "." in path and self._values.get(path) != before.get(path))
        self._found = None
        self._form += 1
        self._result += 1
        self._ask()

    def _valid(self) -> tuple[Build | None, tuple[str, ...]]:
        """The build in the form, with entries that cannot be as they are built; and the paths of these."""
        if self._build is not None:
            return self._build, ()
        paths = tuple(dict.fromkeys(problem.path for problem in self._problems if problem.fatal))
        if not all(path in ENTRIES for path in paths):
            return None, ()
        before = as_typed(self._saved)
        try:
            text = edit_sheet(self._text, {path: typed_entry(path, before.get(path, "")) for path in paths})
        except FrothlineError:
            return None, ()
        found = parse_sheet(text, "sheet").build
        return found, paths if found is not None else ()

    def _room_air(self) -> RoomAir:
        """What the rig measures now; where it measures none, that of the source's recording."""
        if "ambient_pressure" in self._air:
            return RoomAir(**self._air, origin="now")
        chosen = self._chosen["new_source"] if self._chosen["new_source"] != NOTHING else self._chosen["source"]
        return self._recorded_air.get(chosen, RoomAir())

    def _given(self) -> EvaluationInput:
        measured = [(kind, self._chosen[kind]) for kind in ("dry", "wet")]
        dry, wet = (self._points.get(_swept(kind) if at == LIVE_SOURCE else at, ()) for kind, at in measured)
        return EvaluationInput(
            self._built,
            self._wanted,
            self.source,
            self._curves.get(self._chosen["new_source"]),
            self._room_air(),
            self._knowledge,
            dry,
            wet,
            self._swept,
            (*self._role_notes(), *(one.words for one in self._moved if one.path in self._altered)),
        )

    def _role_notes(self) -> tuple[str, ...]:
        """What to know of the recordings that were chosen, as the prompt says it."""
        measured = self._swept or self._built
        given: tuple[tuple[str, Role, Build | None], ...] = (
            ("source", "source", None),
            ("new_source", "source", None),
            ("dry", "dry", measured),
            ("wet", "wet", measured),
        )
        chosen = [(self._chosen[what], role, build) for what, role, build in given]
        return tuple(
            note
            for path, role, build in chosen
            if path not in {LIVE_SOURCE, NOTHING}
            for note in role_notes([Path(path)], role, build)
        )

    def _ask(self) -> None:
        """Have the answer worked out anew if anything that it depends on has changed."""
        depends = (
            self._built,
            self._wanted,
            id(self.source),  # curves hold arrays; a new curve is a new object
            tuple(self._chosen.items()),
            self._measured,
            self._swept,
            self._room_air(),
            self._knowledge,
            self._moved,
        )
        if depends == self._depends:
            return
        self._depends, self._asked = depends, self._given()
        if not self._working:
            self._working = True
            threading.Thread(target=self._work, name="frothline-desk", daemon=True).start()

    def _work(self) -> None:
        while True:
            with self._lock:
                given = self._asked
            assert given is not None
            answer: Evaluation | None
            try:
                answer, words = evaluate(given), ""
            except Exception as error:  # the desk must say it rather than work for ever
                answer, words = None, str(error)
            with self._lock:
                if given is not self._asked:
                    continue
                self._answer = answer
                self._trouble.pop("answer", None)
                if words:
                    self._trouble["answer"] = words
                self._result += 1
                self._working = False
                return


_WANTED: dict[str, Wanted] = {"pressure": "pressure", "air_rate": "air_rate", "air_to_solution": "air_to_solution"}


def _swept(kind: str) -> str:
    """Where the points of the session's own sweep stand among those of recordings."""
    return f"{LIVE_SOURCE} {kind}"


__all__ = ["LIVE_SOURCE", "NOTHING", "SHEETS", "GeneratorWorkspace", "WorkspaceState", "simulated_sheet"]
