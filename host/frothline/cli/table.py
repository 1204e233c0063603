"""``table``: export a recording as a table for other programs."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import Any

from frothline.cli.arguments.table import FORMATS
from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.errors import InputError
from frothline.readings.export import export_table
from frothline.readings.table import read_table
from frothline.rounding import counted

WHOLE, LOSSES = 0, 1


def run(options: Namespace, say: Say) -> int:
    source: Path = options.recording
    ending = options.format or (options.output.suffix.lstrip(".") if options.output is not None else "csv")
    if ending not in FORMATS:
        raise InputError(
            f"tables are written as {' or '.join(FORMATS)}, not as {ending!r}", where="--output", remedy="Give --format"
        )
    target: Path = options.output or source.with_suffix(f".{ending}")
    if target.suffix.lower() != f".{ending}":
        target = target.with_name(f"{target.name}.{ending}")
    if target.exists() and not options.overwrite:
        raise InputError("a file with this name exists", where=str(target), remedy="Give --overwrite or --output")

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
    say.result(data, f"{target}: {counted(len(table), 'row')}, {counted(len(table.columns), 'column')}, SI units")
    return WHOLE
