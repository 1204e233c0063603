"""The whole of a long recording, or a part of it, with a limited number of points.

The lowest and the highest value of every ``SAMPLES`` samples are calculated once and stored in a hidden folder next to
the recording. They are checked against the recording's files, the calibration and the spool before each use, and
calculated again where anything differs. The folder may be deleted. A part that is shorter than the stored values can
show is read from the recording.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import blake2b
from pathlib import Path
from typing import Any
from zipfile import BadZipFile
from zlib import error as ZlibError  # noqa: N812

import numpy as np
from numpy.typing import NDArray

from frothline.atomic_file import write_atomically
from frothline.errors import FrothlineError, InputError
from frothline.readings import time_axis
from frothline.readings.applied_calibration import AUTO, calibration_for
from frothline.readings.marks import RecordedMark, marks
from frothline.readings.outline import Progress, batches, outlined
from frothline.readings.overview_result import RecordingOverview
from frothline.readings.series import convert_pieces, converter_of
from frothline.recording.files import PART, Files, bytes_between, files_of
from frothline.recording.reader import segments_of
from frothline.recording.recorded import Recorded
from frothline.recording.segments import stem_and_number
from frothline.sensors.calibration import Calibration
from frothline.sensors.series import UNITS, Series
from frothline.sensors.spool import Spool
from frothline.wire import decode_all

FOLDER = ".frothline-overview"
SAMPLES = 64  # that one stored pair of values covers
_VERSION = 2
_AT_ONCE = 1024 * SAMPLES  # line messages that are converted together; they stay in the processor's cache
_LEAD = 3.0  # s before a part from which the slower sensors are read
_PART = PART  # bytes of a recording that are read together
_HEAD = 4096  # bytes of each file that are compared
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Extremes:
    """Lowest and highest values of one series: ``time`` of the first sample of each pair, (n,) each."""

    time: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True)
class Overview:
    """The stored values of one recording.

    series : by name
    offsets : (n,) places in the joined bytes at which the pairs of the line's series begin; ``times`` (n,), s
    pieces : (k, 2) begin and end of each piece in these bytes
    files, starts : names of the segments, and their begins in these bytes
    head : the frames that describe the board
    seconds : length of the recording
    marks : notes, samples and alarms with a time
    """

    series: dict[str, Extremes]
    offsets: NDArray[np.int64]
    times: Floats
    pieces: NDArray[np.int64]
    files: tuple[str, ...]
    starts: NDArray[np.int64]
    head: bytes
    seconds: float
    marks: tuple[RecordedMark, ...] = ()


def overview(
    path: str | Path,
    calibration: Calibration | Path | str | None = AUTO,
    spool: Spool | None = None,
    *,
    columns: Sequence[str] | None = None,
    begin: float = 0.0,
    end: float | None = None,
    points: int = 1000,
    progress: Progress | None = None,
) -> RecordingOverview:
    """Lowest and highest value of each series in equal stretches of time, for a chart.

    path : a recording (.froth)
    calibration, spool : as for ``read``
    columns : series by name; all if not given
    begin, end : s on the recording's axis; all of it if not given
    points : number of stretches
    progress : receives the share of the first reading that is done, 0 to 1

    Returns a table of ``points`` rows: ``time`` (s, begin of the stretch), then ``<series>_low`` and ``<series>_high``
    in SI, NaN where there is no sample. ``attrs``: ``units`` by column, ``seconds`` (length of the recording),
    ``stretch`` (s, length of each), ``known`` (series with a value anywhere in it), ``marks`` (notes, samples
    and alarms of the part: dictionaries with ``time`` in s, ``kind`` and ``text``).

    The first call for a recording reads all of it; the next ones read the values that were stored then.
    Raises NotARecording, NewerFormat, SensorMissing, InputError.
    """
    for name in columns or ():
        if name not in UNITS:
            raise InputError(f"unknown column {name!r}", remedy=f"There are {', '.join(UNITS)}.")
    if points < 1:
        raise InputError(f"{points} points are too few", where="points", remedy="Give 1 or more")
    used = calibration_for(calibration, path)
    paths = segments_of(path)
    whole = stored(paths, used, spool, progress)
    last = whole.seconds if end is None else float(end)
    if not begin < last:
        raise InputError(
            f"the part from {begin:g} s to {last:g} s is empty",
            where="begin and end",
            remedy="Give an end after the begin",
        )
    shown = _close(whole, paths, used, spool, begin, last, points) or whole.series
    edges = np.linspace(begin, last, points + 1)
    data: dict[str, Floats] = {"time": edges[:-1]}
    for name in UNITS:
        if name in shown and (columns is None or name in columns):
            data[f"{name}_low"], data[f"{name}_high"] = _in_stretches(shown[name], edges)
    frame = RecordingOverview(data)
    units = {f"{name}_{side}": unit for name, unit in UNITS.items() for side in ("low", "high")}
    frame.attrs = {"units": {"time": "s"} | {name: units[name] for name in data if name in units}}
    frame.attrs["seconds"] = whole.seconds
    frame.attrs["stretch"] = (last - begin) / points
    frame.attrs["known"] = [name for name, one in whole.series.items() if np.isfinite(one.low).any()]
    frame.attrs["marks"] = [vars(mark) for mark in whole.marks if begin <= mark.time <= last]
    return frame


def stored(
    paths: Sequence[Path], calibration: Calibration | None, spool: Spool | None, progress: Progress | None = None
) -> Overview:
    """The stored values of a recording, which are calculated and stored first where they are missing or old.

    progress : receives the share that was calculated, 0 to 1
    """
    stamp = _stamp(paths, calibration, spool)
    file = paths[0].parent / FOLDER / f"{stem_and_number(paths[0])[0]}.npz"
    found = _read(file, stamp)
    if found is None:
        found = _calculated(files_of(paths), calibration, spool, progress)
        _write(file, stamp, found)
    return found


def _stamp(paths: Sequence[Path], calibration: Calibration | None, spool: Spool | None) -> str:
    """A text that changes with the files of the recording and with everything that affects a value."""
    lines: list[Any] = [_VERSION, SAMPLES, "" if calibration is None else calibration.stamp, repr(spool)]
    for path in paths:
        status = path.stat()
        with path.open("rb") as file:
            lines.append([path.name, status.st_size, status.st_mtime_ns, file.read(_HEAD).hex()])
    return blake2b(json.dumps(lines).encode(), digest_size=16).hexdigest()


def _calculated(
    files: Files, calibration: Calibration | None, spool: Spool | None, progress: Progress | None = None
) -> Overview:
    """All of a recording, read twice and a part at a time, so that memory does not grow with its length."""
    outline = outlined(files, _PART, None if progress is None else lambda share: progress(0.5 * share))
    parts = time_axis.pieces(outline)
    found: dict[str, list[Extremes]] = {}
    offsets, times = [np.empty(0, dtype=np.int64)], [np.empty(0)]
    begun, converter = None, None
    second = None if progress is None else lambda share: progress(0.5 + 0.5 * share)
    for piece, tables in batches(files, parts, _AT_ONCE, _PART, second):
        if piece is not begun or converter is None:
            begun, converter = piece, converter_of(outline, parts, piece, calibration, spool, uncertainties=False)
        line = tables["line"]
        first = tables.offsets["line"][::SAMPLES].copy() if line.size else offsets[0]  # no view of all
        offsets.append(first)
        times.append(time_axis.place(line["tick"][::SAMPLES], first, [piece]))
        for name, series in converter.convert(tables).items():
            if len(series):
                found.setdefault(name, []).append(_extremes(series, len(line), piece.start))
    return Overview(
        {name: _joined(found.pop(name)) for name in list(found)},
        np.concatenate(offsets),
        np.concatenate(times),
        np.array([(piece.begin, piece.end) for piece in parts], dtype=np.int64).reshape(-1, 2),
        tuple(one.name for one in files.paths),
        np.array(files.starts, dtype=np.int64),
        outline.head(),
        max((piece.start + piece.seconds for piece in parts), default=0.0),
        tuple(mark for mark in marks(outline, parts) if np.isfinite(mark.time)),
    )


def _extremes(series: Series, rows: int, start: float) -> Extremes:
    """``rows`` : line messages in the time of the series; a pair covers the same time in slower series."""
    first = np.arange(0, len(series), max(1, SAMPLES * len(series) // max(rows, len(series))))
    return Extremes(
        series.time[first] + start, np.fmin.reduceat(series.value, first), np.fmax.reduceat(series.value, first)
    )


def _joined(pieces: Sequence[Extremes]) -> Extremes:
    return Extremes(*(np.concatenate([getattr(one, name) for one in pieces]) for name in ("time", "low", "high")))


def _in_stretches(shown: Extremes, edges: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest value between each two edges."""
    low, high = np.full((2, edges.size - 1), np.nan)
    inside = slice(*np.searchsorted(shown.time, [edges[0], edges[-1]]))
    column = np.clip(np.searchsorted(edges, shown.time[inside], side="right") - 1, 0, edges.size - 2)
    if column.size:
        first = np.flatnonzero(np.diff(column, prepend=-1))
        low[column[first]] = np.fmin.reduceat(shown.low[inside], first)
        high[column[first]] = np.fmax.reduceat(shown.high[inside], first)
    return low, high


def _close(
    whole: Overview,
    paths: Sequence[Path],
    calibration: Calibration | None,
    spool: Spool | None,
    begin: float,
    end: float,
    points: int,
) -> dict[str, Extremes] | None:
    """Every sample of a part of one piece, where the stored values are too coarse for it; None otherwise."""
    low, high = np.searchsorted(whole.times, [begin, end])
    if high - low >= points or not whole.times.size:
        return None
    first = max(0, int(np.searchsorted(whole.times, begin - _LEAD, side="right")) - 1)
    from_, to = int(whole.offsets[first]), int(whole.offsets[high]) if high < whole.offsets.size else None
    piece = whole.pieces[max(0, int(np.searchsorted(whole.pieces[:, 0], from_, side="right")) - 1)]
    if to is None or to > piece[1]:
        to = int(piece[1])
        if high < whole.offsets.size:
            return None  # the part has a break in it
    data = whole.head + bytes_between(
        [paths[0].parent / name for name in whole.files], whole.starts.tolist(), from_, to
    )
    part = Recorded(tuple(paths), (), (0,), data, decode_all(data))
    made = convert_pieces(part, time_axis.pieces(part), calibration, spool, uncertainties=False)
    line = next((one for name in ("line_pressure", "rotor_frequency") if (one := made.get(name)) is not None), None)
    if line is None or not len(line):
        return None
    moved = float(whole.times[first]) - float(line.time[0])
    return {name: Extremes(one.time + moved, one.value, one.value) for name, one in made.items()}


def _write(file: Path, stamp: str, whole: Overview) -> None:
    """Store the values; a folder that cannot be written costs the time again."""
    arrays: dict[str, Any] = {
        f"{name}.{side}": getattr(one, side) for name, one in whole.series.items() for side in ("time", "low", "high")
    }
    arrays |= {"offsets": whole.offsets, "times": whole.times, "pieces": whole.pieces, "starts": whole.starts}
    arrays["files"] = np.array(whole.files)
    arrays["mark_times"] = np.array([mark.time for mark in whole.marks], dtype=np.float64)
    arrays["mark_words"] = np.array([(mark.kind, mark.text) for mark in whole.marks], dtype=np.str_).reshape(-1, 2)
    arrays |= {"head": np.frombuffer(whole.head, dtype=np.uint8), "seconds": np.float64(whole.seconds)}
    try:
        file.parent.mkdir(exist_ok=True)
        write_atomically(file, lambda to: np.savez(to, stamp=np.array(stamp), **arrays))
    except (OSError, FrothlineError):
        return


def _read(file: Path, stamp: str) -> Overview | None:
    """The stored values; None where there are none for this stamp, or they are damaged."""
    try:
        with file.open("rb") as opened, np.load(opened, allow_pickle=False) as held:
            if str(held["stamp"]) != stamp:
                return None
            names = [key.removesuffix(".time") for key in held.files if key.endswith(".time")]
            series = {name: Extremes(*(held[f"{name}.{side}"] for side in ("time", "low", "high"))) for name in names}
            return Overview(
                series,
                held["offsets"],
                held["times"],
                held["pieces"],
                tuple(held["files"].tolist()),
                held["starts"],
                held["head"].tobytes(),
                float(held["seconds"]),
                tuple(
                    RecordedMark(time, *words)
                    for time, words in zip(held["mark_times"].tolist(), held["mark_words"].tolist(), strict=True)
                ),
            )
    except (OSError, ValueError, KeyError, EOFError, BadZipFile, ZlibError):
        return None
