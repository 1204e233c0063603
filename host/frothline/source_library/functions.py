"""The functions of ``import frothline as fl`` for files of measured sources."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from frothline.generator.build import Build
from frothline.generator.sheet import read_sheet
from frothline.readings.applied_calibration import AUTO, paths_of
from frothline.source_library.collection import LibraryCollection, read_library
from frothline.source_library.prior import PooledKind, pool_group
from frothline.source_library.saving import source_of
from frothline.sweep.generator_file import generator_of, write_generator
from frothline.sweep.recorded_generator import read_generator_sweep
from frothline.sweep.source_curve import SourceCurve
from frothline.sweep.source_file import write_source

Paths = str | Path | Sequence[str | Path]


def library(folder: str | Path) -> LibraryCollection:
    """The files of measured sources in a folder; ``.search`` chooses, ``.table()`` has one row a source.

    Raises InputError without such a folder.
    """
    return read_library(folder)


def pool_sources(folder: str | Path | LibraryCollection, group: str) -> PooledKind:
    """The measured sources of one kind, pooled with the spread between units; ``.write`` saves an unmeasured one.

    folder : folder of files, or a library that was read;  group : like "workshop vacuum"

    Raises TooFewPoints below four measured sources, InputError.
    """
    return pool_group(folder if isinstance(folder, LibraryCollection) else read_library(folder), group)


def save_source(curve: SourceCurve, path: str | Path, *, name: str = "", group: str = "") -> Path:
    """Write a source's curve as a file that can be passed on, and taken wherever a recording of a source is.

    path : ends in .toml;  name, group : of the source, and its kind for pooling

    Raises InputError, RecordingUnwritable.
    """
    return write_source(path, source_of(curve, name, group))


def save_generator(
    build: Build | str | Path,
    path: str | Path,
    *,
    dry: Paths = (),
    wet: Paths = (),
    name: str = "",
    calibration: Any = AUTO,
) -> Path:
    """Write a measured generator as a file that can be passed on: its sheet, its points, its fitted factors.

    build : a build or its sheet;  dry, wet : recorded sweeps through it, of which one is needed;  path : ends in .toml

    The file is taken wherever a sheet is, and wherever a recorded sweep through a generator is. Raises RecordingError,
    SensorError, InputError, RecordingUnwritable.
    """
    built = build if isinstance(build, Build) else read_sheet(build)
    swept = {"dry": paths_of(dry), "wet": paths_of(wet)}
    points = {
        role: read_generator_sweep(paths, role, calibration=calibration) if paths else ()  # type: ignore[arg-type]
        for role, paths in swept.items()
    }
    origin = [one.name for paths in swept.values() for one in paths]
    return write_generator(path, generator_of(built, points["dry"], points["wet"], name=name, origin=origin))
