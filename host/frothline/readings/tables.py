"""Writing, reading and joining of tables without loss of ``attrs["units"]``.

``write`` is ``export_table``: Parquet keeps all of ``attrs`` in the schema's metadata, CSV keeps the units, the
identity of the recording and its marks in the lines that begin with #.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.errors import InputError, MissingPackage, UnitMismatch
from frothline.readings.export import export_table
from frothline.units import same_unit

if TYPE_CHECKING:
    import pandas as pd

NAME = "table"  # the column that names the table of a row
_JSON = ("units", "marks")
_WRITER = "written by"


def write(frame: pd.DataFrame, path: str | Path) -> Path:
    """Write a table by suffix, ``.csv`` or ``.parquet``; returns the path. Raises as ``export_table``."""
    return export_table(frame, path)


def read(path: str | Path) -> pd.DataFrame:
    """Read a table written by ``write`` or ``frothline table``, with its ``attrs``.

    Raises InputError for another suffix, a missing file or another kind of table, MissingPackage for Parquet without
    pyarrow.
    """
    path = Path(path)
    reader = {".csv": _read_csv, ".parquet": _read_parquet}.get(path.suffix.lower())
    if reader is None:
        raise InputError("unknown table format", where=str(path), remedy="Give a .csv or .parquet file")
    try:
        return reader(path)
    except OSError as error:
        what = f"the table cannot be read: {error.strerror or error}"
        raise InputError(what, where=str(path), remedy="Check its name") from error
    except (ValueError, KeyError) as error:  # also of pyarrow, pandas and JSON
        what = f"this is not a table with units: {str(error).splitlines()[0] if str(error) else 'it is damaged'}"
        raise InputError(what, where=str(path), remedy="Write it with tables.write or `frothline table`") from error


def concat(tables: Iterable[pd.DataFrame] | Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Concatenate tables by rows; units stay in ``attrs["units"]``.

    With a mapping the first column, ``table``, has its keys. Entries of ``attrs`` that are equal in all tables stay;
    the others are in ``attrs["tables"]``, by table.

    Raises InputError for no table or one without units, UnitMismatch if a column has two units.
    """
    import pandas as pd  # noqa: PLC0415  a second to load

    named = dict(tables) if isinstance(tables, Mapping) else dict(enumerate(tables))
    if not named:
        raise InputError("no table is given", where="tables.concat", remedy="Give one table or more")
    units: dict[str, str] = {NAME: ""} if isinstance(tables, Mapping) else {}
    plain = []
    for key, table in named.items():
        if "units" not in table.attrs:
            raise InputError(
                "a table has no units in its attrs",
                where=f"tables.concat, table {key}",
                remedy="Use .table(), fl.read or tables.read, and set attrs again after a pandas operation",
            )
        for column in map(str, table.columns):
            unit = str(table.attrs["units"].get(column, ""))
            if not same_unit(units.setdefault(column, unit), unit):
                raise UnitMismatch(
                    f"the column {column} is in {units[column] or 'no unit'} and in {unit or 'no unit'}",
                    where=f"tables.concat, table {key}",
                    remedy="Convert one of them, or rename its column",
                )
        bare = table.copy(deep=False)
        bare.attrs = {}
        if isinstance(tables, Mapping):
            bare.insert(0, NAME, str(key))
        plain.append(bare)
    frame = pd.concat(plain, ignore_index=True)
    each = [{name: value for name, value in table.attrs.items() if name != "units"} for table in named.values()]
    same = {name: value for name, value in each[0].items() if all(name in one and one[name] == value for one in each)}
    others = [{name: value for name, value in one.items() if name not in same} for one in each]
    frame.attrs = {"units": units, **same, **({"tables": others} if any(others) else {})}
    return frame


def _read_csv(path: Path) -> pd.DataFrame:
    import pandas as pd  # noqa: PLC0415

    attrs: dict[str, Any] = {}
    count = 0
    with path.open(encoding="utf-8") as file:
        for line in file:
            if not line.startswith("# "):
                break
            count += 1
            name, _, value = line[2:].rstrip("\n").partition(": ")
            name = name.removesuffix(":")
            if name in _JSON:
                attrs[name] = json.loads(value)
            elif value and name != _WRITER:
                attrs[name] = value
    if "units" not in attrs:
        raise ValueError("its first lines have no units")
    frame = pd.read_csv(path, skiprows=count)
    frame.attrs = attrs
    return frame


def _read_parquet(path: Path) -> pd.DataFrame:
    try:
        import pyarrow as pa  # noqa: PLC0415  an extra that CSV does not need
        import pyarrow.parquet as pq  # noqa: PLC0415
    except ImportError as error:
        raise MissingPackage(
            "Parquet needs the package pyarrow",
            where=str(path),
            remedy="Install it with: pip install 'frothline[parquet]'",
        ) from error
    try:
        table = pq.read_table(path)
    except pa.ArrowException as error:
        raise ValueError(str(error)) from error
    found = json.loads((table.schema.metadata or {})[b"frothline"])
    frame = table.to_pandas()
    frame.attrs = {name: value for name, value in found.items() if name != "written_by"}
    return frame
