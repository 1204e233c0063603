"""``report``: one HTML file for a sweep, a run or a series of trials (that of a batch comes with ``batch``)."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import Any

from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.errors import InputError
from frothline.recording.reader import load
from frothline.recording.summary import metadata_path, read_metadata
from frothline.report.html_page import Report
from frothline.report.run import run_report
from frothline.report.sweep import sweep_report
from frothline.report.trials import series_report
from frothline.sweep.source_file import holds_points
from frothline.trials.notebook import open_notebook
from frothline.units import SYSTEMS

WRITTEN = 0


def run(options: Namespace, say: Say) -> int:
    first: Path = options.what[0]
    target: Path = options.output or (first / "report.html" if first.is_dir() else first.with_suffix(".html"))
    if target.exists() and not options.overwrite:
        raise InputError("a file with this name exists", where=str(target), remedy="Give --overwrite or --output")
    say.progress("reading and evaluating")
    report = _made(options, say)
    report.write(target)
    size = target.stat().st_size
    say.result({**report.data, "file": target}, f"{target}: {report.title}, {size / 1e3:.0f} kB, opens offline")
    return WRITTEN


def _made(options: Namespace, say: Say) -> Report:

    more: dict[str, Any] = {"system": SYSTEMS[options.units]}
    sensors = sensors_of(options, *options.what, say=say)
    first: Path = options.what[0]
    if first.is_dir():
        if len(options.what) > 1:
            raise InputError("a report covers one folder", where=str(options.what[1]), remedy="Give one folder")
        return series_report(open_notebook(first, **sensors), names=options.trials or (), **more)
    if options.trials:
        raise InputError("--trials needs a folder", where=str(first), remedy="Give the folder")
    recordings = [path for path in options.what if not holds_points(path)]
    kinds = {str(read_metadata(metadata_path(path))[0].get("kind", "")) for path in recordings}
    if "run" in kinds:
        if len(options.what) > 1:
            raise InputError("a report covers one run or one folder", where=str(options.what[1]), remedy="Give one run")

        load(first)
        return run_report(open_notebook(first.parent, **sensors), str(first), **sensors, **more)
    return sweep_report(options.what, holes=options.holes, **sensors, **more)
