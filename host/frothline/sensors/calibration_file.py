"""Calibration files in TOML.

    format = 1
    board = "bench 1"

    [channel.pressure]
    input = "ratio"            # unit of the readings: see INPUTS
    unit = "Pa"
    form = "polynomial"        # or "king"
    coefficients = [ ... ]
    covariance = [[ ... ], [ ... ]]
    range = [low, high]        # of the input
    date, who, how, board, reason, residuals, points = ...

    [zero]
    pressure = 0.0402          # read with the source off

    [previous.pressure]        # what was in use before; empty: data-sheet values
    zero = 0.0397
    [previous.pressure.channel]
    input = ...

    [[history]]                # changes, the oldest first; they do not affect any figure
    channel = "pressure"
    what = "calibrated"
    date, who, how, board, points, residual, unit = ...

A file is written to a temporary name, synced, and then renamed. Channels of the file that the new calibration does not
have are left as they are.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import tomlkit
from tomlkit.exceptions import TOMLKitError

from frothline.atomic_file import write_atomically
from frothline.errors import InputError, RecordingError
from frothline.sensors.calibration import Calibration, CalibrationChange, ChannelCalibration, Previous
from frothline.sensors.spool import MOST_PULSES
from frothline.toml_text import TomlUnreadable, edit_toml, read_text, read_toml

FORMAT = 1
# Input and units of each channel's line; a file with other values is refused.
INPUTS: Mapping[str, tuple[str, tuple[str, ...]]] = MappingProxyType(
    {
        "pressure": ("ratio", ("Pa",)),
        "differential": ("ratio", ("Pa",)),
        "rotor": ("Hz", ("m3/s", "m/s")),
        "thermal": ("V", ("m/s",)),
        "temperature": ("1/K nominal", ("1/K",)),
        "scale": ("count", ("kg",)),
        "supply": ("1/ratio", ("V",)),
        "plate": ("kg/s nominal", ("kg/s",)),
    }
)


HISTORY_TEXTS = ("channel", "what", "date", "who", "how", "board", "of", "unit")


def save(path: str | Path, calibration: Calibration) -> None:
    """Write or update a calibration file; bytes and name are on the medium when it returns.

    InputError if it cannot be written, or if the existing file is not a calibration: that file is left as it is.
    """
    path = Path(path)
    there = _text(path) if path.exists() else ""
    if there.strip():
        _read(there, str(path))
    try:
        text = _updated(there, calibration)
    except (TOMLKitError, TypeError, KeyError, AttributeError, ValueError) as trouble:
        raise InputError(
            f"the tables of this calibration cannot be updated ({trouble})",
            where=str(path),
            remedy="Rename the file, save again, and copy its other channels into the new file",
        ) from trouble
    _read(text, str(path))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(path, lambda file: file.write(text.encode()))
    except (OSError, RecordingError) as trouble:
        raise InputError(
            f"the calibration cannot be written ({getattr(trouble, 'what', trouble)})",
            where=str(path),
            remedy="Choose a folder you may write in",
        ) from trouble


def _updated(there: str, calibration: Calibration) -> str:
    """Text of a file with the channels of ``calibration``; ``there`` is its text so far."""
    document = edit_toml(there) if there.strip() else tomlkit.document()
    if not document:
        document.add(tomlkit.comment("Calibration of a board. Written by frothline; comments you add are preserved."))
    document["format"] = FORMAT
    document["board"] = calibration.board
    channels = document.setdefault("channel", tomlkit.table(is_super_table=True))
    for name, channel in calibration.channels.items():
        channels[name] = _table(channel)
    zeros = document.setdefault("zero", tomlkit.table()) if calibration.zeros else document.get("zero", {})
    for name, value in calibration.zeros.items():
        zeros[name] = value
    before = document.setdefault("previous", tomlkit.table(is_super_table=True)) if calibration.previous else {}
    for name, previous in calibration.previous.items():
        before[name] = _previous_table(previous)
        # A restored calibration may have no line or no zero.
        if name not in calibration.channels:
            channels.pop(name, None)
        if name not in calibration.zeros:
            zeros.pop(name, None)
    # A zero that is older than the line is not valid for it.
    for name in [one for one in zeros if one in calibration.channels and one not in calibration.zeros]:
        del zeros[name]
    if calibration.history:
        changes = tomlkit.aot()
        for change in calibration.history:
            entries = {name: value for name, value in vars(change).items() if value not in ("", None, 0)}
            changes.append(tomlkit.item(entries))
        document["history"] = changes
    return tomlkit.dumps(document)


def _table(channel: ChannelCalibration) -> Any:
    table = tomlkit.table()
    table["input"], table["unit"] = channel.input, channel.unit
    table["form"] = "polynomial" if channel.king is None else "king"
    table["coefficients"] = channel.coefficients.tolist()
    table["covariance"] = channel.covariance.tolist()
    table["range"] = [channel.low, channel.high]
    if channel.king is not None:
        table["king"] = dict(channel.king)
    if channel.rival is not None:
        table["rival"] = channel.rival.tolist()
    if channel.systematic:
        table["systematic"] = channel.systematic
    if channel.relative_systematic:
        table["relative_systematic"] = channel.relative_systematic
    if channel.pulses_per_revolution:
        table["pulses_per_revolution"] = channel.pulses_per_revolution
    if math.isfinite(channel.dof):
        table["dof"] = channel.dof
    for key in ("date", "who", "how", "board", "reason"):
        table[key] = getattr(channel, key)
    if channel.remarks:
        table["remarks"] = list(channel.remarks)
    table["residuals"] = list(channel.residuals)
    # input, its standard uncertainty, reference, its standard uncertainty
    table["points"] = [list(point) for point in channel.points]
    return table


def _previous_table(previous: Previous) -> Any:
    table = tomlkit.table()
    if previous.zero is not None:
        table["zero"] = previous.zero
    if previous.line is not None:
        table["channel"] = _table(previous.line)
    return table


def load(path: str | Path) -> Calibration:
    """Read a calibration file. InputError names the file, the field and the expected value."""
    return _read(_text(Path(path)), str(path))


def _read(text: str, where: str) -> Calibration:
    try:
        document = read_toml(text)
    except TomlUnreadable as trouble:
        raise InputError(f"this is not TOML: {trouble}", where=where, remedy="Fix that line") from trouble
    version = document.get("format")
    if version != FORMAT:
        what = (
            "has no format number"
            if version is None
            else f"is of format {_short(str(version))}; this version reads {FORMAT}"
        )
        raise InputError(
            f"the calibration {what}", where=where, remedy="Use the version that wrote it, or calibrate again"
        )
    board = document.get("board", "")
    if not isinstance(board, str):
        raise InputError(f"board is {_short(repr(board))}", where=where, remedy='Write it as text: board = "bench 1"')
    channels = {
        name: _channel(name, entries, f"{where} [channel.{name}]", board)
        for name, entries in _tables(document, "channel", where).items()
    }
    zero = _tables(document, "zero", where)
    zeros = {name: _number(zero, name, f"{where} [zero]") for name in zero}
    previous: dict[str, Previous] = {}
    for name in (before := _tables(document, "previous", where)):
        at = f"{where} [previous.{name}]"
        entries = _tables(before, name, at)
        line = _channel(name, entries["channel"], f"{at} channel", board) if "channel" in entries else None
        previous[name] = Previous(line, _number(entries, "zero", at) if "zero" in entries else None)
    return Calibration(board, channels, zeros, previous, _history(document.get("history", ())))


def _tables(entries: Mapping[str, Any], key: str, where: str) -> Mapping[str, Any]:
    """The table under ``key``, empty without one. InputError if something else is there."""
    table = entries.get(key, {})
    if not isinstance(table, Mapping):
        raise InputError(f"{key} is {_short(repr(table))}, not a table", where=where, remedy="Remove the entry")
    return table


def _history(raw: Any) -> tuple[CalibrationChange, ...]:
    """The readable lines of the history; no figure depends on it, so that a bad line is left out."""
    found = []
    for one in raw if isinstance(raw, list) else ():
        if not isinstance(one, Mapping) or not one.get("channel"):
            continue
        texts = {
            name: str(one.get(name, "")) for name in ("channel", "what", "date", "who", "how", "board", "of", "unit")
        }
        points, residual = one.get("points", 0), one.get("residual")
        found.append(
            CalibrationChange(
                **texts,
                points=points if isinstance(points, int) and not isinstance(points, bool) else 0,
                residual=_finite(residual),
            )
        )
    return tuple(found)


def _channel(name: str, entries: Any, where: str, board: str) -> ChannelCalibration:
    if name not in INPUTS:
        raise InputError(f"unknown channel {_short(repr(name))}", where=where, remedy=f"Known: {', '.join(INPUTS)}")
    if not isinstance(entries, Mapping):
        raise InputError(f"the channel is {_short(repr(entries))}, not a table", where=where, remedy="Remove it")
    wanted, units = INPUTS[name]
    if entries.get("input") != wanted:
        raise InputError(
            f"input is {_short(repr(entries.get('input')))}", where=where, remedy=f"Write input = {wanted!r}"
        )
    if entries.get("unit") not in units:
        raise InputError(
            f"unit is {_short(repr(entries.get('unit')))}",
            where=where,
            remedy=f"It must be {' or '.join(units)}; convert other units first",
        )
    king = entries.get("king") if entries.get("form") == "king" else None
    if king is not None and (not isinstance(king, Mapping) or set(king) != {"wire", "reference", "density"}):
        raise InputError("king must hold wire, reference and density", where=where)
    coefficients = _array(entries, "coefficients", where, 1)
    covariance = _array(entries, "covariance", where, 2)
    size = coefficients.size
    if not (1 <= size <= 3 and (king is None or size == 3)):
        raise InputError(
            f"{size} coefficients", where=where, remedy="Give two for a straight line, three for a quadratic"
        )
    with np.errstate(over="ignore"):
        symmetric = covariance.shape == (size, size) and np.allclose(covariance, covariance.T, rtol=1e-6, atol=0)
    if not symmetric:
        raise InputError(
            "covariance does not belong to the coefficients", where=where, remedy=f"It is {size} by {size}"
        )
    # Scaled to a unit diagonal first: the raw numbers may span twenty orders of magnitude.
    diagonal = np.sqrt(np.maximum(np.diag(covariance), 0))
    scale = np.where(diagonal > 0, diagonal, 1.0)
    with np.errstate(all="ignore"):  # of a number near the largest the quotient is not finite
        scaled = covariance / np.outer(scale, scale)
    if np.any(np.diag(covariance) < 0) or not np.all(np.isfinite(scaled)) or np.linalg.eigvalsh(scaled).min() < -1e-8:
        raise InputError(
            "covariance has a negative direction", where=where, remedy="Use the file written by the procedure"
        )
    bounds = _array(entries, "range", where, 1)
    if bounds.size != 2 or not bounds[0] < bounds[1]:
        raise InputError("range must be [low, high]", where=where)
    return ChannelCalibration(
        channel=name,
        input=wanted,
        unit=entries["unit"],
        coefficients=coefficients,
        covariance=covariance,
        low=float(bounds[0]),
        high=float(bounds[1]),
        rival=_array(entries, "rival", where, 1) if "rival" in entries else None,
        systematic=_number(entries, "systematic", where, 0.0, least=0.0),
        relative_systematic=_number(entries, "relative_systematic", where, 0.0, least=0.0),
        dof=math.inf if entries.get("dof", math.inf) == math.inf else _number(entries, "dof", where, least=1e-9),
        date=str(entries.get("date", "")),
        who=str(entries.get("who", "")),
        how=str(entries.get("how", "")),
        board=str(entries.get("board", board)),
        residuals=tuple(_array(entries, "residuals", where, 1).tolist()) if "residuals" in entries else (),
        points=_points(entries, where),
        reason=str(entries.get("reason", "")),
        remarks=_remarks(entries, where),
        pulses_per_revolution=_pulses(entries, where),
        king=None if king is None else {key: _number(king, key, f"{where} king") for key in king},
    )


def _array(entries: Mapping[str, Any], key: str, where: str, dimensions: int) -> Any:
    try:
        array = np.asarray(entries[key], dtype=np.float64)
    except KeyError:
        raise InputError(f"{key} is missing", where=where) from None
    except (TypeError, ValueError, OverflowError):
        raise InputError(f"{key} must be numbers", where=where) from None
    if array.ndim != dimensions or not np.all(np.isfinite(array)):
        raise InputError(f"{key} must be {'a list' if dimensions == 1 else 'rows'} of finite numbers", where=where)
    return array


def _number(
    entries: Mapping[str, Any], key: str, where: str, default: float | None = None, *, least: float = -math.inf
) -> float:
    """The finite number under ``key``. InputError for anything else and for a number below ``least``."""
    value = entries.get(key, default)
    number = _finite(value)
    if number is None or number < least:
        at_least = f" of at least {least:g}" if least > -math.inf else ""
        raise InputError(f"{key} must be a number{at_least}, not {_short(repr(value))}", where=where)
    return number


def _finite(value: Any) -> float | None:
    """The value as a number; None for anything else, and for a whole number that is too large."""
    try:
        return (
            float(value)
            if isinstance(value, int | float) and math.isfinite(value) and not isinstance(value, bool)
            else None
        )
    except OverflowError:
        return None


def _points(entries: Mapping[str, Any], where: str) -> tuple[tuple[float, float, float, float], ...]:
    if not entries.get("points"):
        return ()
    table = _array(entries, "points", where, 2)
    if table.shape[1] != 4:
        raise InputError(
            f"a point has {table.shape[1]} numbers",
            where=where,
            remedy="Give four: input, its uncertainty, reference, its uncertainty",
        )
    return tuple((a, b, c, d) for a, b, c, d in table.tolist())


def _remarks(entries: Mapping[str, Any], where: str) -> tuple[str, ...]:
    remarks = entries.get("remarks", [])
    if not isinstance(remarks, list):
        raise InputError(f"remarks is {_short(repr(remarks))}", where=where, remedy='Write a list: remarks = ["…"]')
    return tuple(map(str, remarks))


def _short(text: str, most: int = 60) -> str:
    return text if len(text) <= most else f"{text[:most]}…"


def _pulses(entries: Mapping[str, Any], where: str) -> int:
    value = entries.get("pulses_per_revolution", 0)
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= MOST_PULSES:
        raise InputError(
            f"pulses_per_revolution is {_short(repr(value))}",
            where=where,
            remedy=f"Give a whole number, 1 to {MOST_PULSES}",
        )
    return value


def _text(path: Path) -> str:
    try:
        return read_text(path)
    except (OSError, ValueError) as trouble:
        raise InputError(f"the calibration cannot be read ({trouble})", where=str(path)) from trouble
