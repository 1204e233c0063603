"""The functions of ``import frothline as fl`` for files of measured sources."""

from __future__ import annotations

from pathlib import Path

from frothline.source_library.collection import LibraryCollection, read_library
from frothline.source_library.prior import PooledKind, pool_group
from frothline.source_library.saving import source_of
from frothline.sweep.source_curve import SourceCurve
from frothline.sweep.source_file import write_source


def library(folder: str | Path) -> LibraryCollection:
    """The files of measured sources in a folder; ``.search`` chooses, ``.table()`` has one row a source.

    Raises InputError without such a folder.
    """
    return read_library(folder)


def pool_sources(folder: str | Path | LibraryCollection, group: str) -> PooledKind:
    """The measured sources of one kind, pooled with the spread between units; ``.write`` saves an unmeasured one.

    folder : folder of files, or a library that was read;  group : like "workshop vacuum"

    Raises TooFewPoints below three measured sources, InputError.
    """
    return pool_group(folder if isinstance(folder, LibraryCollection) else read_library(folder), group)


def save_source(curve: SourceCurve, path: str | Path, *, name: str = "", group: str = "") -> Path:
    """Write a source's curve as a file that can be passed on, and taken wherever a recording of a source is.

    path : ends in .toml;  name, group : of the source, and its kind for pooling

    Raises InputError, RecordingUnwritable.
    """
    return write_source(path, source_of(curve, name, group))
