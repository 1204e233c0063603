"""``report``: one HTML file for a sweep, a run or a series of trials (that of a batch comes with ``batch``)."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.cli.output import Command, Say, add_units
from frothline.cli.port import add_sensors, sensors_of
from frothline.errors import InputError
from frothline.units import SYSTEMS

if TYPE_CHECKING:
    from frothline.report import Report

WRITTEN = 0


def _options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "what",
        nargs="+",
        type=Path,
        help="recorded sweeps of one air source, or one recorded run, or a folder of trials",
    )
    sub.add_argument("-o", "--output", type=Path, metavar="FILE", help="where to (beside what it is of, if not given)")
    sub.add_argument("--overwrite", action="store_true", help="write over a file that is there")
    sub.add_argument("--trials", nargs="+", metavar="NAME", help="of a folder: only these trials")
    add_sensors(sub)
    add_units(sub)


def _report(options: Namespace, say: Say) -> int:
    first: Path = options.what[0]
    target: Path = options.output or (first / "report.html" if first.is_dir() else first.with_suffix(".html"))
    if target.exists() and not options.overwrite:
        raise InputError(
            "there is a file of that name already", where=str(target), remedy="Say --overwrite or --output"
        )
    say.progress("reading and evaluating")
    report = _made(options, say)
    report.write(target)
    size = target.stat().st_size
    say.result({**report.data, "file": target}, f"{target}: {report.title}, {size / 1e3:.0f} kB, opens offline")
    return WRITTEN


def _made(options: Namespace, say: Say) -> Report:
    from frothline.recording.summary import metadata_path, read_metadata  # noqa: PLC0415
    from frothline.report import run_report, series_report, sweep_report  # noqa: PLC0415
    from frothline.trials.notebook import open_notebook  # noqa: PLC0415  scipy and pandas take a second to load

    more: dict[str, Any] = {"system": SYSTEMS[options.units]}
    sensors = sensors_of(options, *options.what, say=say)
    first: Path = options.what[0]
    if first.is_dir():
        if len(options.what) > 1:
            raise InputError("a report is of one folder", where=str(options.what[1]), remedy="Name one")
        return series_report(open_notebook(first, **sensors), names=options.trials or (), **more)
    if options.trials:
        raise InputError("--trials chooses from a folder", where=str(first), remedy="Name the folder")
    kinds = {str(read_metadata(metadata_path(path))[0].get("kind", "")) for path in options.what}
    if "run" in kinds:
        if len(options.what) > 1:
            raise InputError(
                "a report is of one run, or of a folder", where=str(options.what[1]), remedy="Name one run"
            )
        from frothline.recording import load  # noqa: PLC0415  says plainly when it is no recording

        load(first)
        return run_report(open_notebook(first.parent, **sensors), str(first), **sensors, **more)
    return sweep_report(options.what, **sensors, **more)


COMMANDS = (
    Command(
        "report",
        "write a report of a sweep, a run or a series of trials",
        _options,
        _report,
        "Writes one HTML file with charts, figures and their intervals, budgets, and the hashes of the recordings\n"
        "behind it. It opens offline and prints on A4. --json gives the same figures. `frothline batch --report` does\n"
        "the same for a batch.",
    ),
)
