"""``library``: files of measured air sources, merged, searched and pooled."""

from __future__ import annotations

from argparse import Namespace
from typing import Any

from frothline.bench.folders import default_folder
from frothline.bench.source_files import SOURCES
from frothline.cli.output import Say, fitted_columns
from frothline.cli.sensors import sensors_of
from frothline.errors import InputError
from frothline.formatting import full_text
from frothline.rounding import counted
from frothline.source_library.collection import LibraryCollection, read_library
from frothline.source_library.prior import PooledKind, pool_group
from frothline.source_library.saving import source_of
from frothline.sweep.source_curve import fit_source
from frothline.sweep.source_file import write_source
from frothline.units import SYSTEMS

DONE, PROBLEMS = 0, 1
MOST_SHOWN = 60  # sources in the list


def run(options: Namespace, say: Say) -> int:
    if options.add:
        return _add(options, say)
    for name in ("name", "to"):
        if getattr(options, name):
            raise InputError(f"--{name} needs --add", where=f"--{name}", remedy="Give the recordings with --add")
    if options.prior is not None and not options.group:
        raise InputError("--prior needs --group", where="--prior", remedy="Give the kind of the sources")
    folder = options.folder or default_folder() / SOURCES
    say.progress(f"reading {folder}")
    library = read_library(folder)
    chosen = library.search(group=options.group, text=options.search)
    data: dict[str, Any] = {"folder": folder, "sources": chosen.rows(), "groups": library.groups}
    lines = [f"{counted(len(chosen.entries), 'source')} in {folder}", *_listed(chosen, options.units)]
    if options.group:
        pooled = pool_group(library, options.group)
        lines += _pooled(pooled, options.units)
        data["pooled"] = {name: getattr(pooled, name) for name in _POOLED}
        if options.prior is not None:
            data["prior"] = write_source(options.prior, pooled.source)
            lines.append(f"a source of this kind, unmeasured: {options.prior}")
    if options.parquet is not None:
        data["parquet"] = chosen.write_parquet(options.parquet)
        lines.append(f"points written to {options.parquet}")
    lines += [f"problem: {one}" for one in library.problems]
    data["problems"] = library.problems
    say.result(data, "\n".join(lines))
    return PROBLEMS if library.problems else DONE


_POOLED = ("group", "units", "shut_off", "free_delivery", "mean_shut_off", "mean_free_delivery")


def _add(options: Namespace, say: Say) -> int:
    if options.to is None:
        raise InputError("--add needs --to", where="--add", remedy="Give the file to write, ending in .toml")
    if options.to.exists():
        raise InputError("a file with this name exists", where=str(options.to), remedy="Give another name")
    sensors = sensors_of(options, *options.add, say=say)
    curve = fit_source(options.add, holes=options.holes, **sensors)
    source = source_of(curve, options.name, options.group)
    write_source(options.to, source)
    data = {"file": options.to, "name": source.name, "group": source.group, "points": len(source.points)}
    say.result(data, f"{options.to}: {source.name}, {counted(len(source.points), 'point')}")
    return DONE


def _listed(chosen: LibraryCollection, units: str) -> list[str]:
    system = SYSTEMS[units]
    p, q = system["pressure"], system["flow"]
    rows = [["Source", "Kind", f"Shut-off {p.symbol}", f"Free delivery {q.symbol}"]]
    for one in chosen.entries[:MOST_SHOWN]:
        known = one.source.figures
        figures = ["–", "–"]
        if known is not None:
            figures = [f"{p.from_si(known.shut_off[0]):.3g}", f"{q.from_si(known.free_delivery[0]):.3g}"]
        rows.append([one.source.name, one.source.group or "–", *figures])
    more = len(chosen.entries) - MOST_SHOWN
    lines = fitted_columns(rows, right_from=2) if len(rows) > 1 else []
    return [*lines, *([f"and {more} more"] if more > 0 else [])]


def _pooled(pooled: PooledKind, units: str) -> list[str]:
    system = SYSTEMS[units]
    return [
        pooled.words,
        f"  shut-off pressure of an unmeasured one  {full_text(pooled.shut_off, system['pressure'])}",
        f"  free delivery of an unmeasured one      {full_text(pooled.free_delivery, system['flow'])}",
    ]
