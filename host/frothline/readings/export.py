"""Export of tables for other programs as CSV and Parquet.

A table is written under a temporary name in the same folder, synced to disk, and renamed in one step, so that the file
is always complete. It contains the units of its columns and the identity and hash of its recording.
"""

from __future__ import annotations

import json
import re
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

    Read it with ``pandas.read_csv(path, comment="#")``; a spreadsheet skips the first lines. A text that a spreadsheet
    would take for a formula gets an apostrophe before it; numbers stay as they are.
    """
    head = [str(_as_text(f"# {name}: {frame.attrs.get(name, '')}")) for name in _SHORT]
    head.append(f"# units: {_json_cells(frame.attrs.get('units', {}))}")
    head.append(f"# marks: {_json_cells(_plain(frame.attrs.get('marks', [])))}")
    head.append(f"# written by: {software()}")

    def write(file: IO[bytes]) -> None:
        file.write(("\n".join(line.replace("\n", " ").replace("\r", " ") for line in head) + "\n").encode())
        _without_formulas(frame).to_csv(file, index=False, float_format="%.9g", lineterminator="\n")

    return write_atomically(path, write)


# A cell with one of these first is a formula for a spreadsheet: OWASP, "CSV Injection".
_FORMULA = re.compile(r"\s*[=+\-@]")
_FORMULA_LATER = re.compile(r'([,;\n]\s*"*)([=+\-@])')  # in a line that a spreadsheet divides into cells
_NUMBER = re.compile(r"[+-]?\d+(\.\d*)?([eE][+-]?\d+)?")
_FORMULA_IN_JSON = re.compile(r"([,;])([=+\-@])")  # a comma of JSON itself has a space behind it


def _json_cells(value: Any) -> str:
    """JSON in which no cell begins as a formula; JSON may write each character by its number."""
    text = json.dumps(value, ensure_ascii=False)
    return _FORMULA_IN_JSON.sub(lambda found: f"{found[1]}\\u{ord(found[2]):04x}", text)


def _without_formulas(frame: pd.DataFrame) -> pd.DataFrame:
    """The table with texts and column names that are no formulas; a tab or a carriage return becomes a space."""
    plain = frame.rename(columns=_as_text)
    for k, kind in enumerate(plain.dtypes):
        if getattr(kind, "kind", "O") not in "biufcmM":
            plain.isetitem(k, plain.iloc[:, k].map(_as_text))
    return plain


def _as_text(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    value = _FORMULA_LATER.sub(r"\1'\2", re.sub(r"[\t\r]", " ", value))
    return f"'{value}" if _FORMULA.match(value) and not _NUMBER.fullmatch(value) else value


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
