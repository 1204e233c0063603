"""``library``: files of measured air sources, merged, searched and pooled."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import Any

from frothline.bench.folders import default_folder
from frothline.bench.source_files import SOURCES
from frothline.cli.output import Say, fitted_columns
from frothline.cli.sensors import sensors_of
from frothline.errors import InputError
from frothline.formatting import full_text
from frothline.readings.applied_calibration import AUTO
from frothline.rounding import counted
from frothline.source_library.collection import LibraryCollection, read_library
from frothline.source_library.functions import save_generator
from frothline.source_library.prior import PooledKind, pool_group
from frothline.source_library.saving import source_of
from frothline.sweep.generator_file import read_generator
from frothline.sweep.source_curve import fit_source
from frothline.sweep.source_file import SourceFigures, write_source
from frothline.trials.passed_on_builds import file_of
from frothline.units import SYSTEMS, Unit

DONE, PROBLEMS = 0, 1
MOST_SHOWN = 60  # sources in the list


def run(options: Namespace, say: Say) -> int:
    if options.add:
        return _add(options, say)
    if options.generator is not None:
        return _add_generator(options, say)
    for name in ("name", "to", "wet", "dry_sweep"):
        if getattr(options, name):
            option = f"--{name.replace('_', '-')}"
            raise InputError(f"{option} needs --add or --generator", where=option, remedy="Give what the file is for")
    if options.prior is not None and not options.group:
        raise InputError("--prior needs --group", where="--prior", remedy="Give the kind of the sources")
    folder = options.folder or default_folder() / SOURCES
    say.progress(f"reading {folder}")
    library = read_library(folder)
    chosen = library.search(group=options.group, text=options.search)
    data: dict[str, Any] = {"folder": folder, "sources": chosen.rows(), "groups": library.groups}
    data["generators"] = [
        {"name": held.name, "file": path.name, "builder": held.builder} for path, held in chosen.generators
    ]
    lines = [f"{counted(len(chosen.entries), 'source')} in {folder}", *_listed(chosen, options.units)]
    lines += [f"generator: {held.name} ({file_of(held.builder)}, {path.name})" for path, held in chosen.generators]
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


_POOLED = ("group", "units", "shut_off", "free_delivery", "mean_shut_off", "mean_free_delivery", "leakage")


def _target(options: Namespace) -> Path:
    """The file to write; an existing one is refused."""
    if options.to is None:
        raise InputError("--to is missing", where="--to", remedy="Give the file to write, ending in .toml")
    target: Path = options.to
    if target.exists():
        raise InputError("a file with this name exists", where=str(target), remedy="Give another name")
    return target


def _add_generator(options: Namespace, say: Say) -> int:
    target = _target(options)
    sensors = sensors_of(options, *options.wet, *options.dry_sweep, say=say)
    calibration = sensors.get("calibration", AUTO)
    wet, dry = options.wet, options.dry_sweep
    save_generator(options.generator, target, dry=dry, wet=wet, name=options.name, calibration=calibration)
    held = read_generator(target)
    data = {"file": target, "name": held.name, "dry": len(held.dry), "wet": len(held.wet), "factors": held.factors}
    say.result(data, f"{target}: {held.name}, {len(held.dry)} dry and {len(held.wet)} wet points")
    return DONE


def _add(options: Namespace, say: Say) -> int:
    target = _target(options)
    sensors = sensors_of(options, *options.add, say=say)
    curve = fit_source(options.add, holes=options.holes, **sensors)
    source = source_of(curve, options.name, options.group)
    write_source(target, source)
    data = {"file": target, "name": source.name, "group": source.group, "points": len(source.points)}
    say.result(data, f"{target}: {source.name}, {counted(len(source.points), 'point')}")
    return DONE


def _listed(chosen: LibraryCollection, units: str) -> list[str]:
    system = SYSTEMS[units]
    p, q = system["pressure"], system["flow"]
    rows = [["Source", "Kind", f"Shut-off {p.symbol}", f"Free delivery {q.symbol}"]]
    for one in chosen.entries[:MOST_SHOWN]:
        known = one.source.figures
        figures = ["–", "–"]
        if known is not None:
            top = f"{p.from_si(known.shut_off[0]):.3g}" if isinstance(known, SourceFigures) else "pump"
            figures = [top, f"{q.from_si(known.free_delivery[0]):.3g}"]
        rows.append([one.source.name, one.source.group or "–", *figures])
    more = len(chosen.entries) - MOST_SHOWN
    lines = fitted_columns(rows, right_from=2) if len(rows) > 1 else []
    return [*lines, *([f"and {more} more"] if more > 0 else [])]


def _pooled(pooled: PooledKind, units: str) -> list[str]:
    system = SYSTEMS[units]
    if pooled.leakage is not None:
        share = Unit("%", 0.01)
        return [
            pooled.words,
            f"  free delivery of an unmeasured one  {full_text(pooled.free_delivery, system['flow'])}",
            f"  flow lost at the highest pressure   {full_text(pooled.leakage, share)}",
        ]
    return [
        pooled.words,
        f"  shut-off pressure of an unmeasured one  {full_text(pooled.shut_off, system['pressure'])}",
        f"  free delivery of an unmeasured one      {full_text(pooled.free_delivery, system['flow'])}",
    ]
