"""The files of many builders in one folder: read once, searched by kind and text, exported as a table.

A file that cannot be read is listed with its reason. Nothing is fitted: a file has the figures of its curve.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from frothline.atomic_file import write_atomically
from frothline.errors import InputError, MissingPackage
from frothline.presentable import Observations, Presentable, PresentedFigure
from frothline.rounding import counted
from frothline.sweep.generator_file import GeneratorFile, read_generator
from frothline.sweep.source_file import FORMAT, SUFFIX, SourceFigures, SourceFile, read_source

MOST_FILES = 20_000
HEAD = 2048  # bytes in which a file says its format


@dataclass(frozen=True)
class LibraryEntry:
    """One source of the library; ``path`` is where it was found."""

    path: Path
    source: SourceFile


@dataclass(frozen=True, repr=False)
class LibraryCollection(Presentable):
    """Sources of a folder, or a choice of them.

    generators : files of measured generators
    problems : files that cannot be read, with the reason
    """

    folder: Path
    entries: tuple[LibraryEntry, ...]
    problems: tuple[str, ...] = ()
    generators: tuple[tuple[Path, GeneratorFile], ...] = ()

    def search(self, *, group: str = "", text: str = "", measured: bool | None = None) -> LibraryCollection:
        """Sources of a group whose name, group or notes contain a text. Case is ignored."""
        wanted, part = _plain(group), _plain(text)
        kept = [
            one
            for one in self.entries
            if (not wanted or _plain(one.source.group) == wanted)
            and (not part or part in _plain(" ".join((one.source.name, one.source.group, *one.source.notes))))
            and (measured is None or one.source.measured is measured)
        ]
        builds = [one for one in self.generators if not wanted and (not part or part in _plain(one[1].name))]
        return LibraryCollection(self.folder, tuple(kept), self.problems, tuple(builds))

    @property
    def groups(self) -> dict[str, int]:
        """Number of measured sources by group, the largest first."""
        found: dict[str, int] = {}
        names: dict[str, str] = {}
        for one in self.entries:
            if one.source.measured and one.source.group:
                name = names.setdefault(_plain(one.source.group), one.source.group)
                found[name] = found.get(name, 0) + 1
        return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))

    def rows(self) -> list[dict[str, Any]]:
        """One row a source, SI; None where a figure is unknown."""
        made = []
        for one in self.entries:
            known = one.source.figures
            top, free = (None, None), (None, None)
            if known is not None:
                free = known.free_delivery  # type: ignore[assignment]
                if isinstance(known, SourceFigures):  # the pressure of a pump rises until a part fails
                    top = known.shut_off  # type: ignore[assignment]
            made.append(
                {
                    "name": one.source.name,
                    "group": one.source.group,
                    "measured": one.source.measured,
                    "points": len(one.source.points),
                    "shut_off": top[0],
                    "u_shut_off": top[1],
                    "free_delivery": free[0],
                    "u_free_delivery": free[1],
                    "calibrated": one.source.calibrated,
                    "file": one.path.name,
                }
            )
        return made

    def write_parquet(self, path: str | Path) -> Path:
        """All points of all sources as one columnar file, one row a point. Raises MissingPackage without pyarrow."""
        try:
            import pyarrow as pa  # noqa: PLC0415  optional
            import pyarrow.parquet as pq  # noqa: PLC0415
        except ImportError as error:
            raise MissingPackage(
                "a Parquet file needs the package pyarrow", remedy="pip install 'frothline[parquet]'"
            ) from error

        rows = self.rows()
        columns: dict[str, list[Any]] = {name: [] for name in (*_SOURCE, *_POINT)}
        for number, (entry, row) in enumerate(zip(self.entries, rows, strict=True)):
            for point in entry.source.points:
                columns["source"].append(number)
                for name in _SOURCE[1:]:
                    columns[name].append(row[name])
                for name in _POINT:
                    columns[name].append(getattr(point, name))
        types = {"source": pa.int32(), "name": pa.string(), "group": pa.string(), "measured": pa.bool_()}
        arrays = [pa.array(values, types.get(name, pa.float64())) for name, values in columns.items()]
        table = pa.table(arrays, names=list(columns))
        return write_atomically(path, lambda file: pq.write_table(table, file))

    def _title(self) -> str:
        return f"{counted(len(self.entries), 'source')} in {self.folder}"

    def _figures(self) -> Sequence[PresentedFigure]:
        return ()

    def _words(self) -> Sequence[str]:
        listed = [f"{name}: {counted(number, 'source')}" for name, number in self.groups.items()]
        return (*listed, *self.problems[:20])

    def _observations(self) -> Observations:
        rows: tuple[Mapping[str, Any], ...] = tuple(self.rows())
        units = dict.fromkeys(("name", "group", "measured", "points"), "")
        units |= dict.fromkeys(("shut_off", "u_shut_off"), "Pa")
        units |= dict.fromkeys(("free_delivery", "u_free_delivery"), "m3/s")
        return Observations(rows, units | {"calibrated": "", "file": ""})


_SOURCE = ("source", "name", "group", "measured", "shut_off", "free_delivery")
_POINT = ("pressure", "u_pressure", "flow", "u_flow", "covariance", "ambient_density")


def read_library(folder: str | Path) -> LibraryCollection:
    """Read every file of a measured source in a folder and its folders. Raises InputError without such a folder.

    Links are not followed. Other TOML files, like those next to recordings, are passed over.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise InputError("there is no such folder", where=str(folder), remedy="Give the folder with the files")
    entries: list[LibraryEntry] = []
    problems: list[str] = []
    generators: list[tuple[Path, GeneratorFile]] = []
    for path in _files(folder):
        if len(entries) >= MOST_FILES:
            problems.append(f"only the first {MOST_FILES} sources are read")
            break
        try:
            if not _is_library(path):
                continue
            if _is_generator(path):
                generators.append((path, read_generator(path)))
                continue
            entries.append(LibraryEntry(path, read_source(path)))
        except InputError as error:
            problems.append(str(error))
        except OSError as error:
            problems.append(f"{path}: {error.strerror or error}")
    return LibraryCollection(folder, tuple(entries), tuple(problems), tuple(generators))


def _files(folder: Path) -> Iterator[Path]:
    for here, folders, names in os.walk(folder):
        folders[:] = sorted(one for one in folders if not one.startswith("."))
        for name in sorted(names):
            path = Path(here) / name
            if path.suffix.casefold() == SUFFIX and path.is_file() and not path.is_symlink():
                yield path


def _is_library(path: Path) -> bool:
    with path.open("rb") as file:
        return FORMAT.encode() in file.read(HEAD)


def _is_generator(path: Path) -> bool:
    with path.open("rb") as file:
        return b'kind = "generator"' in file.read(HEAD)


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())
