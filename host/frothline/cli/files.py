"""``verify`` and ``table``: what is in a recording, and the table that others can read."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import Any

from frothline.cli.output import Command, Say
from frothline.cli.port import add_sensors, sensors_of
from frothline.errors import InputError

WHOLE, LOSSES = 0, 1
FORMATS = ("csv", "parquet")


def _verify_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", nargs="+", type=Path, help="one or more recordings (.froth)")


def _verify(options: Namespace, say: Say) -> int:
    from frothline.recording import verify  # noqa: PLC0415

    reports = []
    for path in options.recording:
        say.progress(f"reading {path}")
        reports.append(verify(path))
    data = [report.as_dict() for report in reports]
    lines = [f"{report.name}: " + "\n  ".join(report.sentences()) for report in reports]
    say.result(data if len(data) > 1 else data[0], "\n".join(lines))
    return WHOLE if all(report.exit_code == 0 for report in reports) else LOSSES


def _table_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", type=Path, help="a recording (.froth)")
    sub.add_argument("-o", "--output", type=Path, metavar="FILE", help="where to (beside the recording if not given)")
    sub.add_argument("--format", choices=FORMATS, help="by the ending of FILE if not given, else csv")
    sub.add_argument("--overwrite", action="store_true", help="write over a file that is there")
    add_sensors(sub)


def _table(options: Namespace, say: Say) -> int:
    source: Path = options.recording
    ending = options.format or (options.output.suffix.lstrip(".") if options.output is not None else "csv")
    if ending not in FORMATS:
        raise InputError(
            f"tables are written as {' or '.join(FORMATS)}, not as {ending!r}", where="--output", remedy="Say --format"
        )
    target: Path = options.output or source.with_suffix(f".{ending}")
    if target.suffix.lower() != f".{ending}":
        target = target.with_name(f"{target.name}.{ending}")
    if target.exists() and not options.overwrite:
        raise InputError(
            "there is a file of that name already", where=str(target), remedy="Say --overwrite or --output"
        )
    from frothline.readings.export import export_table  # noqa: PLC0415  pandas takes a second to load
    from frothline.readings.table import read_table  # noqa: PLC0415  pandas takes a second to load

    say.progress(f"reading {source}")
    table = read_table(source, **sensors_of(options, source, say=say))
    say.progress(f"writing {target}")
    export_table(table, target)
    data: dict[str, Any] = {
        "path": target,
        "rows": len(table),
        "columns": list(map(str, table.columns)),
        "units": dict(table.attrs.get("units", {})),
    }
    say.result(data, f"{target}: {len(table)} rows, {len(table.columns)} columns, SI units")
    return WHOLE


COMMANDS = (
    Command(
        "verify",
        "say what of a recording is whole, damaged or missing",
        _verify_options,
        _verify,
        "Says what of a recording is whole, damaged or missing. Exit code 0: whole, or complete though a write failed;"
        " 1: interrupted, damaged or incomplete; 4: not readable.",
    ),
    Command("table", "write a recording as a table (CSV, Parquet)", _table_options, _table, aliases=("export",)),
)
