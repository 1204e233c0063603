"""A table read back from a recording: one row per line message, SI columns, gaps marked.

Columns: ``time`` (s on the recording's axis, see ``board_time``), ``gap`` (True on the first row behind a silence or a
loss: lines are not drawn across it), then each series of the sensors by its name, and ``u_<name>``, its standard
uncertainty. Series slower than the line (temperatures, supply, ambient, scale) are interpolated linearly between their
readings, and are NaN where two readings are further apart than ``BRIDGE`` times their usual distance. No value is held.

``attrs``: ``units`` by column, ``recording`` (identity), ``sha256`` of its bytes, ``name``, ``started`` (ISO 8601, or
empty), ``source``, ``software``, ``firmware``, ``label``, ``marks``, ``boots``, ``lost`` and ``damaged`` frames,
``guessed_silences`` (breaks of unknown length, taken as 0), ``unknown`` (reason by column why a fitted sensor has no
value), ``not_calibrated`` (columns of sensors that were never calibrated).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from frothline.errors import InputError
from frothline.readings import time_axis
from frothline.readings.applied_calibration import AUTO, calibration_for, paths_of, refuse_twice
from frothline.readings.marks import marks
from frothline.readings.series import convert_pieces
from frothline.readings.time_axis import Piece
from frothline.recording.reader import load
from frothline.recording.recorded import Recorded
from frothline.recording.segments import SUFFIX
from frothline.sensors.calibration import Calibration
from frothline.sensors.series import UNITS, Series, Status
from frothline.sensors.spool import Spool
from frothline.sensors.status_words import unknown_words
from frothline.wire import text

BRIDGE = 3.0
_GAP = 1.5  # times the distance of its neighbours
_NEAR = 50  # rows on each side that give the usual distance


def _gaps(time: NDArray[np.float64], broken: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """True on the first row after a gap; ``broken`` is set where frames are missing before a row."""
    if time.size < 2:
        return np.zeros(time.size, dtype=np.bool_)
    step = np.diff(time)
    around = np.maximum(np.concatenate([[np.inf], step[:-1]]), np.concatenate([step[1:], [np.inf]]))
    around[0], around[-1] = step[min(1, step.size - 1)], step[max(0, step.size - 2)]
    gap = step > _GAP * around
    for k in np.flatnonzero(broken[1:] & ~gap & np.isfinite(step)).tolist():
        gap[k] = step[k] > _GAP * np.nanmedian(step[max(0, k - _NEAR) : k + _NEAR + 1])
    return np.concatenate([[False], gap])


def _on(time: NDArray[np.float64], series: Series, parts: list[Piece]) -> tuple[NDArray[Any], NDArray[Any]]:
    """Value and uncertainty of a slower series at other times; NaN beyond its readings and across breaks."""
    known = np.isfinite(series.value)
    at, value, u = series.time[known], series.value[known], series.u[known]
    if at.size < 2:
        nothing = np.full(time.size, np.nan)
        return nothing, nothing
    right = np.clip(np.searchsorted(at, time), 1, at.size - 1)
    usual = float(np.median(np.diff(series.time))) if len(series) > 1 else np.inf
    starts = np.array([piece.start for piece in parts])
    same = np.searchsorted(starts, at[right], side="right") == np.searchsorted(starts, at[right - 1], side="right")
    near = (at[right] - at[right - 1] <= BRIDGE * usual) & same & (time >= at[0]) & (time <= at[-1])
    return (
        np.where(near, np.interp(time, at, value), np.nan),
        np.where(near, np.interp(time, at, u), np.nan),
    )


def read_table(
    path: str | Path | Sequence[str | Path] | Recorded,
    calibration: Calibration | Path | str | None = AUTO,
    spool: Spool | None = None,
    columns: Sequence[str] | None = None,
) -> pd.DataFrame:
    """Read the table of one recording; see the module docstring. ``columns`` selects series by name, default all.

    ``path`` : of the recording, or of its segments where they are in several folders
    ``calibration`` : "auto" (``calibration.toml`` in the folder of the recording, if there is one), a calibration or
    its file, or None for the data sheets

    Raises NotARecording, NewerFormat, SensorMissing without a description of the board, InputError for an unknown
    column and for files of two recordings. Damage raises nothing: it is marked as gaps and counted in ``attrs``.
    """
    for column in columns or ():
        if column not in UNITS:
            raise InputError(f"unknown column {column!r}", remedy=f"There are {', '.join(UNITS)}.")
    recorded = path if isinstance(path, Recorded) else load(path)
    decoded = recorded.decoded
    parts = time_axis.pieces(recorded)
    series = convert_pieces(recorded, parts, calibration_for(calibration, recorded), spool)
    rows = decoded.offsets.get("line", np.empty(0, dtype=np.int64))
    time = time_axis.place(decoded.tables["line"]["tick"], rows, parts)
    inside = np.isfinite(time)
    broken = np.diff(np.searchsorted(decoded.losses["offset"], rows, side="right"), prepend=0) > 0
    new_piece = np.diff(np.searchsorted([piece.begin for piece in parts], rows, side="right"), prepend=1) > 0
    data: dict[str, Any] = {"time": time[inside], "gap": (_gaps(time, broken) | new_piece)[inside]}
    for name in UNITS:
        if name not in series or (columns is not None and name not in columns):
            continue
        one = series[name]
        if len(one) == inside.sum() and np.allclose(one.time, data["time"], rtol=0, atol=1e-6):
            data[name], data[f"u_{name}"] = one.value, one.u
        else:
            data[name], data[f"u_{name}"] = _on(data["time"], one, parts)
    frame = pd.DataFrame(data)
    frame.attrs = _attributes(recorded, parts, frame)
    shown = {name: one.status for name, one in series.items() if name in frame}
    frame.attrs["unknown"] = {
        name: unknown_words(int(np.bitwise_or.reduce(status)))
        for name, status in shown.items()
        if (status & (Status.UNSEEN | (Status.UNCALIBRATED if name == "scale_mass" else 0))).any()
    }
    frame.attrs["not_calibrated"] = [name for name, bits in shown.items() if (bits & Status.UNCALIBRATED).any()]
    return frame


def read_tables(
    paths: str | Path | Sequence[str | Path],
    calibration: Calibration | Path | str | None = AUTO,
    spool: Spool | None = None,
    columns: Sequence[str] | None = None,
) -> pd.DataFrame:
    """Read several recordings as one tidy frame; the first column, ``recording``, names each row's recording.

    A recording is named by its file, or by its path if two files have the same name. Columns without a sensor are NaN.
    ``attrs``: ``units`` by column, and ``recordings``: the ``attrs`` of each one's own table, by name. Arguments and
    errors as for ``read_table``; InputError for no path, or for the same recording twice.
    """
    each = paths_of(paths)
    if not each:
        raise InputError("no recording is given", where="read_tables", remedy="Give one path or more")
    names = [path.name.removesuffix(SUFFIX) for path in each]
    names = [name if names.count(name) == 1 else str(path) for name, path in zip(names, each, strict=True)]
    tables: dict[str, pd.DataFrame] = {}
    known: dict[str, str] = {}
    for name, path in zip(names, each, strict=True):
        table = read_table(path, calibration, spool, columns)
        refuse_twice(known, name, table.attrs["recording"] or table.attrs["sha256"])
        tables[name] = table
    attributes = {name: dict(table.attrs) for name, table in tables.items()}
    for table in tables.values():
        table.attrs = {}  # pandas compares them when it joins tables
    frame = pd.concat(tables, names=["recording"]).reset_index(level="recording").reset_index(drop=True)
    order = [name for name in ("recording", "time", "gap") if name in frame]
    order += [name for one in UNITS for name in (one, f"u_{one}") if name in frame]
    frame = frame[order]
    units = {column: unit for attrs in attributes.values() for column, unit in attrs["units"].items()}
    frame.attrs = {
        "units": {column: units.get(column, "") for column in map(str, frame.columns)},
        "recordings": attributes,
    }
    return frame


def _attributes(recorded: Recorded, parts: list[Piece], frame: pd.DataFrame) -> dict[str, Any]:
    decoded = recorded.decoded
    started = time_axis.wall_clock_start(recorded, parts)
    head = next((head for head in recorded.heads if head.identity is not None), None)
    rows = decoded.tables["description"]
    last = rows[-1] if rows.size else None
    units = {"time": "s", "gap": ""}
    units |= {name: unit for name, unit in UNITS.items() if name in frame}
    units |= {f"u_{name}": unit for name, unit in UNITS.items() if name in frame}
    return {
        "units": units,
        "name": recorded.name,
        "recording": recorded.identity,
        "sha256": recorded.digest(),
        "started": "" if started is None else datetime.fromtimestamp(started, UTC).isoformat(timespec="milliseconds"),
        "source": (head.source or "") if head else "",
        "software": (head.software or "") if head else "",
        "label": "" if last is None else text(last["label"]),
        "firmware": ""
        if last is None
        else f"{last['firmware_major']}.{last['firmware_minor']}.{last['firmware_patch']}",
        "marks": [vars(mark) for mark in marks(recorded, parts)],
        "boots": int(1 + np.count_nonzero(np.diff(rows["boot_count"].astype(np.int64)))) if rows.size else 0,
        "lost": decoded.lost,
        "damaged": len(decoded.damage),
        "guessed_silences": sum(piece.guessed for piece in parts),
    }
