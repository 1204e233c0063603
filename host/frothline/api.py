"""The functions behind ``import frothline as fl``: files in, results out.

Each calls the function used by the pages and the command line, and adds only the reading of paths. Every path may be
``str`` or ``Path``. ``calibration="auto"`` is the rule of ``frothline.readings.applied_calibration``: the file
``calibration.toml`` in the folder of the recording, and the data sheets where there is none.

Every result has a one-line repr, an HTML table for notebooks, ``.table()`` with units in ``attrs["units"]``, and
``.plot()`` where a chart is useful. Values are SI; an uncertain value is a ``frothline.Estimate``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.bench.evaluation_input import input_of
from frothline.bench.folders import default_folder
from frothline.bench.own_build import OwnBuild
from frothline.bench.own_build import own_build as write_own_build
from frothline.errors import InputError
from frothline.generator.build import Build
from frothline.generator.evaluation import Evaluation, evaluate
from frothline.generator.linked_entries import as_written
from frothline.generator.sheet import read_sheet, write_sheet
from frothline.generator.sheet_changes import change_sheet, check_entry
from frothline.quantities import shorten
from frothline.readings.applied_calibration import AUTO, paths_of
from frothline.readings.overview import overview as recording_overview
from frothline.readings.overview_result import RecordingOverview
from frothline.readings.recording_check import RecordingCheck, check_recording
from frothline.readings.table import read_table, read_tables
from frothline.sensors.spool import Spool
from frothline.sweep.generator_resistance import GeneratorResistance, read_resistance
from frothline.sweep.recorded_generator import Role
from frothline.sweep.source_curve import SourceCurve
from frothline.sweep.source_curve import fit_source as fit_source_curve
from frothline.trials.notebook import Notebook

if TYPE_CHECKING:
    import pandas as pd

    from frothline.bench.session import Session
    from frothline.curve.source_entries import Motor

Paths = str | Path | Sequence[str | Path]


def read(
    path: Paths,
    calibration: Any = AUTO,
    *,
    spool: Spool | str | Path | None = None,
    columns: Sequence[str] | None = None,
) -> pd.DataFrame:
    """A recording as a table: one row a line message, SI; several recordings below one another with their names.

    path : a recording (.froth), or a sequence of recordings
    calibration : "auto", a calibration or its file, or None for the data sheets
    spool : sizes of the spool or their file, where they differ from the guide
    columns : series by name; all if not given

    ``attrs["units"]`` has the unit of each column; the rest of ``attrs`` is described in ``frothline.readings.table``.
    Raises NotARecording, NewerFormat, SensorMissing, InputError.
    """
    reader = read_table if isinstance(path, str | Path) else read_tables
    return reader(path, calibration, _spool(spool), columns)


def overview(
    path: str | Path,
    calibration: Any = AUTO,
    *,
    spool: Spool | str | Path | None = None,
    columns: Sequence[str] | None = None,
    begin: float = 0.0,
    end: float | None = None,
    points: int = 1000,
) -> RecordingOverview:
    """Lowest and highest value of each series in equal stretches of time, for a chart of a long recording.

    path : a recording (.froth)
    calibration, spool, columns : as for ``read``
    begin, end : s, the part to show; all of the recording if not given
    points : number of stretches, which are the rows of the table

    Columns: ``time`` (s, begin of the stretch), then ``<series>_low`` and ``<series>_high`` in SI, NaN where no sample
    begins. ``attrs["units"]`` has the unit of each column, ``attrs["seconds"]`` the length of the recording,
    ``attrs["marks"]`` the notes, samples and alarms of the part. It is a DataFrame whose ``plot()`` draws pressure,
    flow and mass; ``table()`` gives a plain one. The first call reads all of the recording and stores the values in a
    hidden folder next to it, the next ones read these.

    Raises NotARecording, NewerFormat, SensorMissing, InputError.
    """
    return recording_overview(path, calibration, _spool(spool), columns=columns, begin=begin, end=end, points=points)


def fit_source(
    *recordings: Paths,
    calibration: Any = AUTO,
    spool: Spool | str | Path | None = None,
    holes: Sequence[float] = (),
    motor: Motor = "series",
    now: Paths = (),
) -> SourceCurve:
    """The curve of an air source from its recorded sweeps, as ``frothline curve`` fits it.

    recordings : recordings (.froth), or tables of points entered by hand (.csv), see ``sweep.points_by_hand``
    holes : m, one a recording, for sweeps with drilled plates instead of an anemometer
    motor : speed control of the source, "series" or "constant speed"
    now : later recordings or tables of the same source: the curve is rescaled for its loaded filter

    Raises RecordingError, SensorError, FitError where the points do not determine a curve, InputError.
    """
    how = {"calibration": calibration, "spool": _spool(spool)}
    return fit_source_curve(_flat(recordings), holes=holes, motor=motor, now=paths_of(now), **how)


def fit_resistance(
    *recordings: Paths,
    role: Role = "generator",
    calibration: Any = AUTO,
    spool: Spool | str | Path | None = None,
) -> GeneratorResistance:
    """The resistance of a generator from recorded sweeps through it.

    role : "dry" or "wet" to require that state, "generator" for either

    Raises RecordingError, SensorError, FitError, InputError.
    """
    return read_resistance(_flat(recordings), role, calibration=calibration, spool=_spool(spool))


def build(path: str | Path) -> Build:
    """The generator described by a build sheet, SI. Raises InputError with the line of each wrong entry."""
    return read_sheet(path)


def own_build(received: str | Path, path: str | Path) -> OwnBuild:
    """Write the sheet of a received generator as a new build sheet of one's own; its notes say where it comes from.

    received : file of a measured generator that another builder passed on
    path : of the new sheet, which must not exist

    Raises InputError.
    """
    return write_own_build(Path(received), Path(path))


def predict(
    build: Build | str | Path,
    curve: SourceCurve | Paths,
    *,
    dry: Paths = (),
    wet: Paths = (),
    folder: str | Path | None = None,
    calibration: Any = AUTO,
    spool: Spool | str | Path | None = None,
    holes: Sequence[float] = (),
) -> Evaluation:
    """Operating point of a generator on an air source, air rate, foam output: ``.now`` has the values.

    build : a build or its sheet
    curve : from ``fit_source``, or recorded sweeps of the source
    dry, wet : recorded sweeps through this generator, which narrow the intervals
    folder : folder with foam samples of this build; that of the source's first sweep if not given
    calibration, spool, holes : for recordings given as paths, as in ``fit_source``; a curve has its own

    Raises RecordingError, SensorError, FitError, InputError; a missing operating point is a result, with its reason.
    """
    return what_if(build, curve, dry=dry, wet=wet, folder=folder, calibration=calibration, spool=spool, holes=holes)


def what_if(
    build: Build | str | Path,
    curve: SourceCurve | Paths,
    changes: Mapping[str, Any] | None = None,
    *,
    new_curve: SourceCurve | Paths = (),
    alone: bool = False,
    dry: Paths = (),
    wet: Paths = (),
    folder: str | Path | None = None,
    calibration: Any = AUTO,
    spool: Spool | str | Path | None = None,
    holes: Sequence[float] = (),
    new_holes: Sequence[float] = (),
    **entries: Any,
) -> Evaluation:
    """The effect of changed entries of the build sheet, or of another air source: ``.change`` has before and after.

    changes, entries : by path, as ``{"outlet.bore": "50x3.7"}`` or ``**{"outlet.bore": 0.03}``; text as in a sheet,
    numbers in SI
    new_curve : the air source that replaces the present one
    holes, new_holes : m, of drilled plates, for ``curve`` and ``new_curve`` given as paths
    alone : no linked entry changes; otherwise wool changes with the packing's length, holes under liquid with the rows

    Other parameters as for ``predict``. Raises InputError where the changed build is impossible.
    """
    built = build if isinstance(build, Build) else read_sheet(build)
    wanted = built
    given = {path: _as_written(path, value) for path, value in {**(changes or {}), **entries}.items()}
    if given:
        sheet, _ = change_sheet(write_sheet(built), "changed build", built, given, alone=alone)
        if sheet.build is None:
            fatal = next(one for one in sheet.problems if one.fatal)
            raise InputError(fatal.what, where=fatal.path or "changes", remedy=fatal.remedy)
        wanted = sheet.build
    how = {"calibration": calibration, "spool": _spool(spool)}
    given_source = _curve(curve, how, holes)
    if given_source is None:
        raise InputError("no air source is given", where="curve", remedy="Give a curve of fit_source, or recordings")
    found = evaluate(
        input_of(
            built,
            wanted,
            source=given_source,
            new_source=_curve(new_curve, how, new_holes),
            dry=paths_of(dry),
            wet=paths_of(wet),
            folder=None if folder is None else Path(folder),
            **how,
        )
    )
    if found.error is not None:
        raise found.error
    return found


def notebook(
    folder: str | Path | None = None, calibration: Any = AUTO, *, spool: Spool | str | Path | None = None
) -> Notebook:
    """The trials of a folder: table, comparison, effects of changes, the next trial.

    folder : FROTHLINE_FOLDER, else ``~/Frothline``, if not given

    Raises InputError where there is no such folder.
    """
    return Notebook(default_folder() if folder is None else folder, calibration, _spool(spool))


def connect(
    port: str | None = None,
    *,
    folder: str | Path | None = None,
    rate: int | None = None,
    calibration: Any = AUTO,
    spool: Spool | str | Path | None = None,
) -> Session:
    """A live session with a rig, started: ``with fl.connect() as rig: rig.table()``. It must be closed.

    port : like "/dev/ttyUSB0", "COM3", "socket://host:port", "modelled://sweep" or "replay://file.froth"; the rig that
    answers if not given
    folder : where recordings go; FROTHLINE_FOLDER, else ``~/Frothline``, if not given
    rate : line messages per second, 10 to 500; the board's own if not given

    Raises PortError where there is no rig.
    """
    from frothline.bench.session import Session  # noqa: PLC0415  its threads and ports are needed only here

    session = Session(port, folder, rate=rate, calibration=calibration, spool=_spool(spool))
    try:
        session.start(wait=True)
    except BaseException:
        session.close()
        raise
    return session


def verify(path: str | Path) -> RecordingCheck:
    """Completeness of a recording. Raises NotARecording, NewerFormat, RecordingUnwritable."""
    return check_recording(path)


def _flat(recordings: Sequence[Paths]) -> list[Path]:
    found = [path for one in recordings for path in paths_of(one)]
    if not found:
        raise InputError("no recording is given", where="recordings", remedy="Give one path or more")
    return found


def _curve(curve: SourceCurve | Paths, how: Mapping[str, Any], holes: Sequence[float]) -> SourceCurve | None:
    if isinstance(curve, SourceCurve):
        return curve
    paths = paths_of(curve)
    return fit_source_curve(paths, holes=holes, **how) if paths else None


def _spool(spool: Spool | str | Path | None) -> Spool | None:
    return Spool.load(Path(spool)) if isinstance(spool, str | Path) else spool


def _as_written(path: str, value: Any) -> Any:
    """A number in SI as written in a sheet; text unchanged."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return as_written(check_entry(path, f"change of {shorten(path)}"), value) if number and "." in path else value
