"""The functions behind ``import frothline as fl`` that change trials, their plan and sheets, and that make reports.

As in ``api_records``: each calls the function used by the pages and the command line, and writes the same file.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from frothline.bench.folders import default_folder
from frothline.bench.given_entries import Folder, Saved, folder_of, text_of, texts_of
from frothline.bench.record_entries import PourEntry
from frothline.bench.recorded_samples import correct_taken, count_taken, sample_of
from frothline.bench.sample_correction import ENTRIES, KINDS
from frothline.errors import InputError
from frothline.foam.agent_file import new_agent as write_new_agent
from frothline.foam.concrete_batch import ConcreteBatch, correct_cast
from frothline.generator.build import Build
from frothline.generator.sheet import read_sheet, starting_sheet, write_new_sheet
from frothline.generator.sheet import save_build as write_build
from frothline.pours.plan import PourPlan
from frothline.pours.plan_file import new_plan
from frothline.quantities import read_quantity, with_units
from frothline.readings.applied_calibration import AUTO, paths_of
from frothline.recording.catalogue import Catalogue
from frothline.recording.sidecar import add_note as append_note
from frothline.recording.summary import metadata_path
from frothline.report.batch import batch_card, batch_report
from frothline.report.html_page import Report
from frothline.report.of_files import report_of
from frothline.report.pour_plan import plan_card
from frothline.report.pours import pours_report
from frothline.trials.cup_notes import keep_cup as append_cup
from frothline.trials.notebook import Notebook
from frothline.trials.plan_edit import PLAN, add_planned, remove_planned
from frothline.trials.plan_edit import undo_plan as put_plan_back
from frothline.trials.trial import Trial
from frothline.units import SYSTEMS, chosen_system

Paths = str | Path | Sequence[str | Path]


# --- trials -----------------------------------------------------------------------------------------------------------


def add_note(recording: Trial | str | Path, text: str) -> Saved:
    """Append a sentence to the notes of a recording, in the TOML next to it.

    Raises InputError for an empty note, without such a recording, or if the file cannot be written.
    """
    path = _recording(recording)
    if not text.strip():
        raise InputError("the note is empty", where="add_note: text", remedy="Write a sentence")
    written = append_note(path, text)
    return Saved(f"Note saved in {written.name}", written)


def correct_sample(recording: Trial | str | Path, number: int, **entries: Any) -> Saved:
    """Correct a weighed sample of a recording; the sample stays as written, and every reader takes the correction.

    number : of the sample in its file, from 1
    entries : full, empty, container, fill (time), start, end (bucket full), depth, drained, note; like
        ``full="331 g", drained="60 s: 4 mL; 120 s: 9 mL"``, or numbers in SI and drained as pairs of s and m³. None or
        "" takes the depth, the drained liquid, the note or the fill time out

    Raises InputError with the entry; nothing is saved then.
    """
    path = _recording(recording)
    known = [PourEntry(name, name, KINDS.get(name, ""), label) for name, label in ENTRIES.items()]
    given = {name: _readings(one) if name == "drained" else one for name, one in entries.items()}
    texts = with_units(texts_of(given, known, "correct_sample", emptied=True), KINDS, "metric")
    seconds = next(
        (one.seconds for one in Catalogue(path.parent).entries if Path(one.path).absolute() == path.absolute()), None
    )
    return Saved(correct_taken(sample_of(path, number), texts, seconds), metadata_path(path))


def withdraw_sample(recording: Trial | str | Path, number: int) -> Saved:
    """Withdraw a sample: it stays in its file, and nothing counts it. Arguments and errors as ``correct_sample``."""
    path = _recording(recording)
    return Saved(count_taken(sample_of(path, number), counts=False), metadata_path(path))


def restore_sample(recording: Trial | str | Path, number: int) -> Saved:
    """Count a withdrawn sample again. Arguments and errors as ``correct_sample``."""
    path = _recording(recording)
    return Saved(count_taken(sample_of(path, number), counts=True), metadata_path(path))


def keep_cup(trial: Trial | str | Path, batch: ConcreteBatch, cup: str | float) -> Saved:
    """Save a weighed cup of a batch with the trial of its foam; later batches take its share of surviving foam.

    trial : that made the foam, or its recording;  batch : of ``fl.batch``;  cup : density as weighed, like "652 kg/m3"

    Raises InputError if the cup cannot be of this batch.
    """
    path = _recording(trial)
    try:
        weighed = read_quantity(text_of("cup", cup, "density", "keep_cup"), "density")
    except ValueError as error:
        raise InputError(str(error), where="keep_cup: cup", remedy="Write it like 652 kg/m3") from error
    found = correct_cast(batch, batch.foam, weighed)
    assert found.survival is not None  # a cup always gives it
    append_cup(path, weighed, batch.mix.cast_density, found.survival)
    return Saved(f"Cup saved in {metadata_path(path).name}: {found.words}", metadata_path(path))


# --- the plan of the trials -------------------------------------------------------------------------------------------


def plan_build(build: Build | str | Path, folder: Folder = None) -> Saved:
    """Make a build the next trial: it comes before everything proposed, after those that are planned already.

    build : a build or its sheet;  folder : of the recordings, or its notebook; FROTHLINE_FOLDER, else ``~/Frothline``,
    if not given

    Raises InputError if the plan of the folder cannot be read, RecordingUnwritable.
    """
    planned = build if isinstance(build, Build) else read_sheet(build)
    path = add_planned(folder_of(folder), planned)
    return Saved(f"“{planned.name}” is planned as the next trial", path)


def unplan_build(name: str, folder: Folder = None) -> Saved:
    """Take a planned build out of the plan, by name. Folder and errors as ``plan_build``."""
    path = remove_planned(folder_of(folder), name)
    return Saved(f"“{name}” is no longer planned", path)


def undo_plan(folder: Folder = None) -> Saved:
    """Put the plan before its last change back; a second call undoes that. Folder and errors as ``plan_build``."""
    where = folder_of(folder)
    return Saved(put_plan_back(where), where / PLAN)


# --- new files --------------------------------------------------------------------------------------------------------


def save_build(build: Build, path: str | Path) -> Saved:
    """Write a build as a new sheet, whose name is that of the file; ``fl.build`` reads it.

    Raises InputError if there is such a file, or if it cannot be written.
    """
    written = write_build(build, Path(path))
    return Saved(f"Sheet saved in {written.name}", written)


def new_build(path: str | Path) -> Saved:
    """Write a sheet to fill in, as ``frothline build --new`` does. Errors as ``save_build``."""
    written = write_new_sheet(starting_sheet(), Path(path))
    return Saved(f"Sheet to fill in saved in {written.name}", written)


def new_agent(name: str, folder: Folder = None) -> Saved:
    """Write the file of a foaming agent to fill in, as ``frothline agents --new`` does; ``fl.agents`` reads it.

    Folder as for ``plan_build``. Raises InputError, RecordingUnwritable.
    """
    written = write_new_agent(folder_of(folder), name)
    return Saved(f"Agent to fill in saved in {written.parent.name}/{written.name}", written)


def new_pour_plan(path: str | Path) -> Saved:
    """Write the file of a pour plan to fill in, as ``frothline pourplan --new`` does; ``fl.pour_plan`` reads it.

    Raises InputError if there is such a file, RecordingUnwritable.
    """
    written = new_plan(Path(path))
    return Saved(f"Plan to fill in saved in {written.name}", written)


# --- reports ----------------------------------------------------------------------------------------------------------


def make_report(
    of: ConcreteBatch | Notebook | Paths,
    *,
    trial: Trial | None = None,
    trials: Sequence[str] = (),
    calibration: Any = AUTO,
    spool: Any = None,
    holes: Sequence[float] = (),
) -> Report:
    """The report of a batch, a folder of trials, a run, or sweeps of one air source; ``.write`` saves it as HTML.

    of : a batch, a notebook, a folder, a recording, or recordings of one source;  trial : that made the batch's foam
    trials : names, only these of the folder;  calibration, spool, holes : as for ``fl.fit_source``

    Figures are in the units that FROTHLINE_UNITS names. Raises InputError, RecordingError, SensorError, FitError.
    """
    system = SYSTEMS[chosen_system()]
    if isinstance(of, ConcreteBatch):
        return batch_report(of, of.foam, trial=trial, system=system)
    if isinstance(of, Notebook):
        return report_of([of.folder], trials=trials, system=system, calibration=of.calibration, spool=spool)
    paths = paths_of(of)
    if not paths:
        raise InputError("nothing is given to report", where="make_report", remedy="Give a folder or a recording")
    return report_of(paths, trials=trials, holes=holes, system=system, calibration=calibration, spool=spool)


def make_card(of: ConcreteBatch | PourPlan, *, trial: Trial | None = None) -> Report:
    """The card of a batch or a pour plan for the wall, in the units that FROTHLINE_UNITS names; ``.write`` saves it."""
    system = SYSTEMS[chosen_system()]
    if isinstance(of, PourPlan):
        return plan_card(of, system=system)
    return batch_card(of, of.foam, trial=trial, system=system)


def make_pours_report(folder: Folder = None) -> Report:
    """The report of all pours of a folder; ``.write`` saves it. Raises InputError without a pour."""
    book = folder if isinstance(folder, Notebook) else Notebook(default_folder() if folder is None else folder)
    return pours_report(book, system=SYSTEMS[chosen_system()])


def _recording(recording: Trial | str | Path) -> Path:
    path = recording.path if isinstance(recording, Trial) else Path(recording)
    if not path.is_file():
        raise InputError("there is no such recording", where=str(path), remedy="Give the path of a .froth file")
    return path


def _readings(value: Any) -> Any:
    """Drained liquid as a text, from pairs of time and volume."""
    if value is None or isinstance(value, str) or not isinstance(value, Iterable) or isinstance(value, Mapping):
        return value
    pairs = [tuple(one) if isinstance(one, Iterable) and not isinstance(one, str) else () for one in value]
    if any(len(one) != 2 for one in pairs):
        raise InputError("drained liquid has pairs", where="correct_sample: drained", remedy='Write [("60 s", "4 mL")]')
    where = "correct_sample: drained"
    return "; ".join(
        f"{text_of('start', time, '', where)}: {text_of('drained', volume, 'drained', where)}" for time, volume in pairs
    )
