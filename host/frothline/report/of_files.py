"""The report of files: of a folder of trials, of a run, or of sweeps of one air source."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.recording.reader import load
from frothline.recording.summary import metadata_path, read_metadata
from frothline.report.html_page import Report
from frothline.report.run import run_report
from frothline.report.sweep import sweep_report
from frothline.report.trials import series_report
from frothline.sweep.source_file import holds_points
from frothline.trials.notebook import open_notebook
from frothline.units import METRIC, Unit


def report_of(
    what: Sequence[Path],
    *,
    trials: Sequence[str] = (),
    holes: Sequence[float] = (),
    system: Mapping[str, Unit] = METRIC,
    **sensors: Any,
) -> Report:
    """The report of one folder, of one run, or of sweeps of one air source.

    what : paths, the first one decides;  trials : names, only these of the folder;  holes : m, of drilled plates, for
    sweeps;  sensors : calibration and spool, as for ``read_table``

    Raises InputError, RecordingError, SensorError, FitError.
    """
    first = what[0]
    if first.is_dir():
        if len(what) > 1:
            raise InputError("a report covers one folder", where=str(what[1]), remedy="Give one folder")
        return series_report(open_notebook(first, **sensors), names=trials, system=system)
    if trials:
        raise InputError("trials are chosen from a folder", where=str(first), remedy="Give the folder")
    recordings = [path for path in what if not holds_points(path)]
    kinds = {str(read_metadata(metadata_path(path))[0].get("kind", "")) for path in recordings}
    if "run" in kinds:
        if len(what) > 1:
            raise InputError("a report covers one run or one folder", where=str(what[1]), remedy="Give one run")
        load(first)
        return run_report(open_notebook(first.parent, **sensors), str(first), **sensors, system=system)
    return sweep_report(what, holes=holes, **sensors, system=system)
