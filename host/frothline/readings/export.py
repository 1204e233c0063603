"""Export of tables for other programs as CSV and Parquet.

A table is written under a temporary name in the same folder, synced to disk, and renamed in one step, so that the file
is always complete. It contains the units of its columns and the identity and hash of its recording.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from frothline.atomic_file import write_atomically
from frothline.errors import InputError
from frothline.recording.host_frames import software

if TYPE_CHECKING:
    import pandas as pd

_SHORT = ("name", "recording", "sha256", "started", "source", "software", "label", "firmware")


def to_csv(frame: pd.DataFrame, path: str | Path) -> Path:
    """Write comma-separated UTF-8 text in SI: metadata lines that begin with #, then names, then rows; nan is empty.

    Read it with ``pandas.read_csv(path, comment="#")``; a spreadsheet skips the first lines.
    """
    head = [f"# {name}: {frame.attrs.get(name, '')}" for name in _SHORT]
    head.append(f"# units: {json.dumps(frame.attrs.get('units', {}), ensure_ascii=False)}")
    head.append(f"# marks: {json.dumps(_plain(frame.attrs.get('marks', [])), ensure_ascii=False)}")
    head.append(f"# written by: {software()}")

    def write(file: IO[bytes]) -> None:
        file.write(("\n".join(line.replace("\n", " ").replace("\r", " ") for line in head) + "\n").encode())
        frame.to_csv(file, index=False, float_format="%.9g", lineterminator="\n")

    return write_atomically(path, write)


def to_parquet(frame: pd.DataFrame, path: str | Path) -> Path:
    """Write Parquet, with ``unit`` in the metadata of each column and ``frothline`` in that of the table.

    Raises InputError if the Parquet library is not installed.
    """
    try:
        import pyarrow as pa  # noqa: PLC0415  an extra that CSV needs not
        import pyarrow.parquet as pq  # noqa: PLC0415
    except ImportError as error:
        raise InputError(
            "Parquet needs the package pyarrow",
            where=str(path),
            remedy="Install it with: pip install 'frothline[parquet]', or write CSV.",
        ) from error
    units = frame.attrs.get("units", {})
    told = _plain({**frame.attrs, "written_by": software()})
    plain = frame.copy(deep=False)
    plain.attrs = {}
    for column in plain.columns:  # Parquet has one type per column: numbers mixed with texts become texts, as in CSV
        if plain[column].dtype == object and {type(one) for one in plain[column].dropna()} >= {str, float}:
            plain[column] = [str(one) for one in plain[column]]
    table = pa.Table.from_pandas(plain, preserve_index=False)
    fields = [field.with_metadata({"unit": units.get(field.name, "")}) for field in table.schema]
    metadata = {**(table.schema.metadata or {}), b"frothline": json.dumps(told).encode()}
    table = table.cast(pa.schema(fields, metadata=metadata))
    return write_atomically(path, lambda file: pq.write_table(table, file, compression="zstd"))


def export_table(frame: pd.DataFrame, path: str | Path) -> Path:
    """Write a table by suffix: ``.csv`` or ``.parquet``. Raises InputError for another suffix."""
    writers = {".csv": to_csv, ".parquet": to_parquet}
    writer = writers.get(Path(path).suffix.lower())
    if writer is None:
        raise InputError("unknown table format", where=str(path), remedy="End the file name in .csv or .parquet.")
    return writer(frame, path)


def _plain(value: Any) -> Any:
    """The value without NaN, which JSON lacks."""
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float) and value != value:  # noqa: PLR0124  the test for NaN
        return None
    return value
