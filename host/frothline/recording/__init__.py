"""Recordings: the bytes as they came, kept before they are decoded; what state they are in; tables read back from them.

Loading this loads no sensor code: ``read_table`` and its kin are fetched when first asked for.
"""

from typing import TYPE_CHECKING, Any

from frothline.recording.log import RecordingWriter, WriterStatus
from frothline.recording.recover import Recorded, VerifyReport, load, segments_of, verify
from frothline.recording.segments import SUFFIX, Policy

if TYPE_CHECKING:
    from frothline.recording.catalogue import Catalogue
    from frothline.recording.export import export_table, to_csv, to_parquet
    from frothline.recording.summary import Entry
    from frothline.recording.table import Mark, marks, read_series, read_table, read_tables

_LATER = {
    "Catalogue": "catalogue",
    "Entry": "summary",
    "Mark": "table",
    "export_table": "export",
    "marks": "table",
    "read_series": "table",
    "read_table": "table",
    "read_tables": "table",
    "to_csv": "export",
    "to_parquet": "export",
}

__all__ = [
    "SUFFIX",
    "Catalogue",
    "Entry",
    "Mark",
    "Policy",
    "Recorded",
    "RecordingWriter",
    "VerifyReport",
    "WriterStatus",
    "export_table",
    "load",
    "marks",
    "read_series",
    "read_table",
    "read_tables",
    "segments_of",
    "to_csv",
    "to_parquet",
    "verify",
]


def __getattr__(name: str) -> Any:
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module  # noqa: PLC0415  beside its only use

    return getattr(import_module(f"{__name__}.{_LATER[name]}"), name)
