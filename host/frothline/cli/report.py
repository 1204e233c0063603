"""``report``: one HTML file for a sweep, a run or a series of trials (that of a batch comes with ``batch``)."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.errors import InputError
from frothline.report.of_files import report_of
from frothline.units import SYSTEMS

WRITTEN = 0


def run(options: Namespace, say: Say) -> int:
    first: Path = options.what[0]
    target: Path = options.output or (first / "report.html" if first.is_dir() else first.with_suffix(".html"))
    if target.exists() and not options.overwrite:
        raise InputError("a file with this name exists", where=str(target), remedy="Give --overwrite or --output")
    say.progress("reading and evaluating")
    sensors = sensors_of(options, *options.what, say=say)
    report = report_of(
        options.what, trials=options.trials or (), holes=options.holes, system=SYSTEMS[options.units], **sensors
    )
    report.write(target)
    size = target.stat().st_size
    say.result({**report.data, "file": target}, f"{target}: {report.title}, {size / 1e3:.0f} kB, opens offline")
    return WRITTEN
