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
from frothline.bench.pour_planning import plan_pour
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.batch_order import BatchOrder
from frothline.foam.concrete_batch import ConcreteBatch, mix_batch
from frothline.foam.dilution import read_dilution
from frothline.generator.build import Build
from frothline.generator.evaluation import Evaluation, evaluate
from frothline.generator.linked_entries import as_written
from frothline.generator.sheet import read_sheet, write_sheet
from frothline.generator.sheet_changes import change_sheet, check_entry
from frothline.pours.plan import PourPlan
from frothline.quantities import read_quantity, shorten
from frothline.readings.applied_calibration import AUTO, paths_of
from frothline.readings.overview import overview as recording_overview
from frothline.readings.recording_check import RecordingCheck, check_recording
from frothline.readings.table import read_table, read_tables
from frothline.sensors.spool import Spool
from frothline.sweep.generator_resistance import GeneratorResistance, read_resistance
from frothline.sweep.recorded_generator import Role
from frothline.sweep.source_curve import SourceCurve
from frothline.sweep.source_curve import fit_source as fit_source_curve
from frothline.trials.notebook import Notebook
from frothline.trials.trial import Trial
from frothline.trials.workshop_foam import foam_for_batch

if TYPE_CHECKING:
    import pandas as pd

    from frothline.bench.session import Session
    from frothline.curve.fan_laws import Motor

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
) -> pd.DataFrame:
    """Lowest and highest value of each series in equal stretches of time, for a chart of a long recording.

    path : a recording (.froth)
    calibration, spool, columns : as for ``read``
    begin, end : s, the part to show; all of the recording if not given
    points : number of stretches, which are the rows of the table

    Columns: ``time`` (s, begin of the stretch), then ``<series>_low`` and ``<series>_high`` in SI, NaN where no sample
    begins. ``attrs["units"]`` has the unit of each column, ``attrs["seconds"]`` the length of the recording. The first
    call reads all of the recording and stores the values in a hidden folder next to it, the next ones read these.
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


def batch(
    density: str | float,
    volume: str | float,
    foam: Trial | Estimate | str | float,
    *,
    notebook: Notebook | None = None,
    output: Estimate | str | float | None = None,
    dry: bool = False,
    water_cement: float = 0.5,
    sand_cement: float = 0.0,
    bag: str | float = "25 kg",
    bucket: str | float = "10 L",
    dilution: str | None = None,
    survival: Estimate | None = None,
    reservoir: str | float | None = None,
) -> ConcreteBatch:
    """A batch of cellular concrete: cement, water, foam, run time, and the density to expect.

    density : target, like "600 kg/m3";  ``dry``: it is the oven-dry density
    volume : to fill, like "120 L"
    foam : a trial, whose density, output, dilution and start-up are used, or a density, like "60 kg/m3"
    notebook : its trials give the share of foam that survives mixing; that of the trial's folder if not given
    output : of foam, like "30 L/min", where it is not that of the trial
    bag, bucket, reservoir : cement in one bag, bucket for the foam, solution in the full reservoir
    dilution : "1+30" or "1 in 31";  survival : share of the foam's air that survives mixing

    Text is read as on the command line; numbers are SI: kg/m³, m³, m³/s, kg.

    Raises InputError for an impossible mix or an unknown figure.
    """
    trial = foam if isinstance(foam, Trial) else None
    trials = () if trial is None else (notebook or Notebook(trial.path.parent)).trials
    order = BatchOrder(
        _quantity(density, "density", "density"),
        _quantity(volume, "volume", "volume"),
        water_cement,
        sand_cement,
        dry=dry,
        bag=_quantity(bag, "mass", "bag"),
        bucket=_quantity(bucket, "volume", "bucket"),
    )
    given = foam_for_batch(
        trial,
        trials,
        density=None if isinstance(foam, Trial) else _estimate(foam, "density", "foam"),
        output=None if output is None else _estimate(output, "flow", "output"),
        dilution=None if dilution is None else _dilution(dilution),
        survival=survival,
        reservoir=None if reservoir is None else _quantity(reservoir, "volume", "reservoir"),
    )
    return mix_batch(order, given)


def pour_plan(
    path: str | Path | None = None,
    *,
    trial: Trial | None = None,
    folder: str | Path | None = None,
    prices: str | Path | None = None,
    seed: int = 0,
    **entries: Any,
) -> PourPlan:
    """The plan of a pour: mixes, foam by time, bucket and scale, timetable, lifts, form pressure, shopping, density.

    path : plan file (TOML), see ``frothline.pours.plan_file``
    trial : that made the foam;  folder : of the trials that the plan file names, that of the file if not given
    prices : price file, see ``frothline.pours.prices``; ``prices.toml`` next to the plan file if it is there
    seed : of the simulation of the density
    entries : by name, as the options of ``frothline pourplan``: ``volume="400 L", foam_density="75 kg/m3 (73 to 77)"``;
    they take precedence over the file. Text is read as on the command line; ``foam_density`` and ``output`` may be
    estimates

    Raises InputError with everything that is wrong at once.
    """
    return plan_pour(
        None if path is None else Path(path),
        {name.replace("_", "-"): value for name, value in entries.items()},
        folder=None if folder is None else Path(folder),
        trial=trial,
        prices=None if prices is None else Path(prices),
        seed=seed,
    )


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


def _quantity(value: str | float, kind: str, name: str) -> float:
    if not isinstance(value, str):
        return float(value)
    try:
        return read_quantity(value, kind)
    except ValueError as error:
        raise InputError(str(error), where=f"batch: {name}", remedy="Write it with its unit") from error


def _as_written(path: str, value: Any) -> Any:
    """A number in SI as written in a sheet; text unchanged."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return as_written(check_entry(path, f"change of {shorten(path)}"), value) if number and "." in path else value


def _estimate(value: Estimate | str | float, kind: str, name: str) -> Estimate | float:
    return value if isinstance(value, Estimate) else _quantity(value, kind, name)


def _dilution(text: str) -> Any:
    try:
        return read_dilution(text)
    except ValueError as error:
        raise InputError(str(error), where="batch: dilution", remedy="Write it like 1+30") from error
