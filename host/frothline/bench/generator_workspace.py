"""The generator on the pages: the edited sheet, the chosen sweeps, and their evaluation.

A program has one workspace, shared by all pages on phone and computer. The evaluation runs in its own thread, the
newest question first.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from frothline.bench.background import at_once
from frothline.bench.chosen_sweeps import LIVE_SOURCE, NOTHING, ChosenSweeps
from frothline.bench.session_api import SessionApi
from frothline.bench.sheet_draft import SheetDraft
from frothline.bench.sheet_folder import SheetFolder
from frothline.bench.snapshot import LIVE, Snapshot
from frothline.bench.workspace_state import WorkspaceState
from frothline.curve.blower import BlowerFit
from frothline.errors import FrothlineError, InputError
from frothline.generator.build import Build
from frothline.generator.build_comparison import has_same_air_path
from frothline.generator.evaluation import Evaluation, EvaluationInput, evaluate, search_sizes
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.learned_factors import Experience
from frothline.generator.sheet import parse_sheet, sheet_text, simulated_sheet, starting_sheet
from frothline.generator.sheet_form import as_typed
from frothline.generator.size_search import CHANGES, SizeSearch, Wanted
from frothline.readings.applied_calibration import AUTO
from frothline.trials.inside_folder import refuse_outside


class GeneratorWorkspace:
    """The edited generator and its evaluation. ``look`` and ``notice`` are cheap.

    All other methods may be called from any thread and raise InputError.
    """

    def __init__(
        self,
        session: SessionApi,
        season: Path | None = None,
        *,
        start: Callable[[Callable[[], None]], None] = at_once,
    ) -> None:
        """``season`` : folder whose source sweeps are offered with a simulated rig.

        ``start`` : runs what reads the folder for ``notice``; with ``in_thread`` its caller never waits for a disk.
        """
        self._session = session
        self._folder = SheetFolder(season)
        self._lock = threading.RLock()
        self._draft = SheetDraft()
        self._sweeps = ChosenSweeps()
        self._start = start
        self._began = self._ready = False
        self._form = self._result = 1
        self._leaving: str | None = None
        self._trouble: dict[str, str] = {}
        self._knowledge = FoamKnowledge.usual()
        self._experience: Experience | None = None
        self._found: SizeSearch | None = None
        self._answer: Evaluation | None = None
        self._asked: EvaluationInput | None = None
        self._depends: tuple[Any, ...] = ()
        self._working = False
        self._read()

    # --- state for the pages -----------------------------------------------------------------------------------------

    def look(self) -> WorkspaceState:
        with self._lock:
            draft = self._draft
            return WorkspaceState(
                name=str(draft.values.get("name", "")),
                file=draft.opened or draft.file,
                values=draft.values,
                altered=draft.altered,
                problems=draft.problems,
                build=draft.build,
                built=draft.built,
                answer=self._answer,
                working=self._working,
                found=self._found,
                files=self._folder.found.files,
                recorded=self._folder.found.recorded,
                received=self._folder.found.received,
                swept=self._sweeps.swept,
                chosen=dict(self._sweeps.chosen),
                trouble=dict(self._trouble),
                form=self._form,
                result=self._result,
                sheets=self._folder.sheets,
                opened=draft.opened,
                leaving=self._leaving,
                ignored_entries=draft.ignored_entries,
            )

    @property
    def built(self) -> Build:
        """The generator in use, from its saved sheet."""
        return self._draft.built

    @property
    def edited(self) -> Build | None:
        """The generator of the form with its changes; None while an entry is invalid."""
        return self._draft.build

    @property
    def file(self) -> str:
        """Name of its sheet under ``builds``; empty where it was never saved."""
        return self._draft.file

    @property
    def source(self) -> BlowerFit | None:
        """The air source's curve in use."""
        return self._sweeps.source

    def notice(self, now: Snapshot) -> None:
        """Take over changes in the session."""
        with self._lock:
            if not self._began and now.link.state == LIVE:
                self._began = True
                self._start(lambda: self._begin(now))
            measured = self._sweeps.notice(now)
            for kind in measured:
                self._trouble.pop(kind, None)
                self._form += 1
            if measured:
                self._start(self._refresh)
            if self._ready and self._folder.look(keeps=now.recording is not None):
                self._form += 1
            self._ask()

    @property
    def knowledge(self) -> FoamKnowledge:
        """Foam knowledge from samples of the generator in use."""
        return self._knowledge

    def know(self, knowledge: FoamKnowledge, experience: Experience | None = None) -> None:
        """Take the foam knowledge of this build, and the measured builds of the folder (None: unchanged)."""
        with self._lock:
            self._knowledge = knowledge
            self._experience = experience or self._experience
            self._ask()

    # --- the form ---------------------------------------------------------------------------------------------------

    def edit(self, typed: Mapping[str, str]) -> None:
        """Set typed entries; an empty text removes the entry. ``look`` reports wrong entries."""
        with self._lock:
            changes = self._draft.changes_of(typed)
            if changes:
                self._put(changes)

    def try_size(self, number: int) -> str:
        """Put the result of a size search into the form."""
        with self._lock:
            found = self._found
            if found is None or not 0 <= number < len(found.choices):
                raise InputError("this size is no longer available", remedy="Search again")
            self._put(self._draft.size_changes(found.choices[number].prediction.build))
            self._found = found  # the other results can be tried too
            return f"In the form: {found.choices[number].words}"

    def undo(self) -> None:
        """Return to the saved sheet and the measured source."""
        with self._lock:
            self._draft.discard()
            self._sweeps.chosen["new_source"] = NOTHING
            self._read()

    def save(self, name: str) -> Path:
        """Write the form as the sheet of the generator in use; gives its path.

        Raises InputError while an entry is invalid or if the file cannot be written.
        """
        with self._lock:
            before = self._draft.built
            path = self._draft.save(self._folder.for_saving(), name)
            edited = self._draft.build
            assert edited is not None  # otherwise it was not saved
            if self._sweeps.has_measured_line and not has_same_air_path(before, edited):
                self._sweeps.measured_build = self._sweeps.measured_build or before
            self._folder.refresh()
            self._read()
            return path

    def open(self, name: str, *, leave: bool = False) -> str:
        """Open another sheet: one of the folder, or "" for a new one.

        Unsaved changes need confirmation first, unless ``leave``. A sheet with invalid entries appears in the form with
        its problems, and the generator in use stays. Raises InputError for a file that is not a sheet; the form then
        stays unchanged.
        """
        with self._lock:
            return self._open(starting_sheet() if not name else self._sheet(name), name, leave=leave)

    def _open(self, text: str, name: str, *, leave: bool) -> str:
        if self._draft.unsaved and not leave:
            self._leaving = name
            self._form += 1
            return ""  # the page shows the question next to the list
        self._trouble.pop("open", None)
        self._sweeps.chosen["new_source"] = NOTHING
        wrong = self._draft.take(text, name)
        if not wrong:
            self._sweeps.forget_swept()
        self._read()
        if wrong:
            return (
                f"{name}: {wrong} {'entry is' if wrong == 1 else 'entries are'} invalid; see the message at each entry"
            )
        return f"{self._draft.built.name} is open"

    def _sheet(self, name: str) -> str:
        """The text of a sheet of the folder; it is valid TOML."""
        if not self._folder.has(name):
            raise InputError(f"no build sheet “{name}”", where=str(self._folder.sheets))
        refuse_outside(self._folder.folder, self._folder.sheets / name, name)
        text = sheet_text(self._folder.sheets / name)
        if not as_typed(text):  # a form cannot show it
            fatal = [one for one in parse_sheet(text, name).problems if one.fatal]
            self._trouble["open"] = " ".join(f"{one.where}: {one.what}. {one.remedy}." for one in fatal)
            self._form += 1
            raise InputError(fatal[0].what, where=fatal[0].where, remedy=fatal[0].remedy)
        return text

    def stay(self) -> str:
        """Cancel the opening of another sheet."""
        with self._lock:
            self._leaving = None
            self._form += 1
            return "Your changes are still here"

    # --- sources and measurements -----------------------------------------------------------------------------------

    def choose(self, what: str, path: str) -> str:
        """``what`` is source, new_source, dry or wet; ``path`` a recording, LIVE_SOURCE or NOTHING.

        Reads the recording, which is slow; raises RecordingError, SensorError, FitError with the reason.
        """
        sweeps = self._sweeps
        if what not in sweeps.chosen:
            raise InputError(f"“{what}” cannot be chosen", remedy="Reload the page")
        if path not in (LIVE_SOURCE, NOTHING):
            if path not in {item.path for item in self._folder.found.recorded}:
                raise InputError("this recording no longer exists", where=path, remedy="Reload the page")
            try:
                sweeps.load(what, path, self._calibration(path))
            except FrothlineError as error:
                with self._lock:
                    self._trouble[what] = str(error)
                    self._form += 1
                raise
        with self._lock:
            self._trouble.pop(what, None)
            sweeps.chosen[what] = path
            if what in ("dry", "wet") and path != NOTHING:
                sweeps.only(what)
            self._form += 1
            self._ask()
        return ""

    def _calibration(self, path: str) -> Any:
        """The calibration of a recording: the session's for its own recordings, the folder's file for others."""
        own = Path(path).is_relative_to(self._session.snapshot().folder)
        return self._session.calibrating().for_recordings() if own else AUTO

    # --- search for a size ----------------------------------------------------------------------------------------

    def search(self, change: str, wanted: str, value: float) -> str:
        """Search the size that gives a target figure (SI); ``look`` then has the result."""
        answer = self._answer
        if answer is None:
            raise InputError("no search is possible yet", remedy="Correct the sheet and sweep the source first")
        if change not in CHANGES or wanted not in _WANTED:
            raise InputError("this cannot be searched", remedy="Reload the page")
        found = search_sizes(answer, change, _WANTED[wanted], value)
        with self._lock:
            self._found = found
            self._result += 1
        return ""

    # --- internal -----------------------------------------------------------------------------------------------------

    def _begin(self, now: Snapshot) -> None:
        """After the rig has answered: use its folder and the last saved sheet, or the simulated generator's sheet.

        The files are read before the lock is taken, so that no page waits for them.
        """
        self._folder.begin(now.folder, simulated=now.simulated)
        newest = max(self._folder.found.files, key=self._age, default="")
        text = ""
        if newest:
            with suppress(InputError):
                text = self._sheet(newest)
        with self._lock:
            if text and not self._draft.unsaved:
                with suppress(InputError):
                    self._open(text, newest, leave=True)
            if not self._draft.file and not self._draft.opened and not self._draft.unsaved and now.simulated:
                self._draft.start_from(simulated_sheet())
                self._read()
            self._form += 1
            self._ready = True

    def _refresh(self) -> None:
        """After a sweep: offer its recording."""
        self._folder.refresh()
        with self._lock:
            self._form += 1

    def _age(self, name: str) -> float:
        try:
            return (self._folder.sheets / name).stat().st_mtime
        except OSError:
            return 0.0

    def _put(self, changes: Mapping[str, Any]) -> None:
        self._draft.put(changes)
        self._read()

    def _read(self) -> None:
        """Parse the sheet and request an evaluation."""
        if self._draft.read():  # the samples belong to another generator
            self._knowledge = FoamKnowledge.usual(self._draft.built)
        self._leaving = None
        self._found = None
        self._form += 1
        self._result += 1
        self._ask()

    def _given(self) -> EvaluationInput:
        draft, sweeps = self._draft, self._sweeps
        linked = (one.words for one in draft.carried_along if one.path in draft.altered)
        return EvaluationInput(
            draft.built,
            draft.wanted,
            sweeps.source,
            sweeps.new_source,
            sweeps.room_air(),
            self._knowledge,
            sweeps.points_of("dry"),
            sweeps.points_of("wet"),
            sweeps.measured_build,
            (*sweeps.role_notes(draft.built), *linked),
            self._experience,
        )

    def _ask(self) -> None:
        """Request a new evaluation if any of its inputs changed."""
        draft, sweeps = self._draft, self._sweeps
        depends = (
            draft.built,
            draft.wanted,
            id(sweeps.source),  # curves hold arrays; a new curve is a new object
            tuple(sweeps.chosen.items()),
            sweeps.count,
            sweeps.measured_build,
            sweeps.room_air(),
            self._knowledge,
            id(self._experience),  # a new reading of the folder is a new object
            draft.carried_along,
        )
        if depends == self._depends:
            return
        self._depends, self._asked = depends, self._given()
        if not self._working:
            self._working = True
            threading.Thread(target=self._work, name="frothline-evaluation", daemon=True).start()

    def _work(self) -> None:
        while True:
            with self._lock:
                given, earlier = self._asked, self._answer
            assert given is not None
            answer: Evaluation | None
            try:
                answer, words = evaluate(given, earlier), ""
            except Exception as error:  # the page shows it
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
