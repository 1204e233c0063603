"""The series of a recording, each at its own times; ``table`` joins them in one table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from frothline.readings import time_axis
from frothline.readings.applied_calibration import AUTO, calibration_for
from frothline.readings.time_axis import Piece
from frothline.recording.reader import load
from frothline.recording.recorded import Recorded, WithMessages
from frothline.sensors.calibration import Calibration
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.series import Series, end_to_end
from frothline.sensors.spool import Spool
from frothline.wire import AFTER_DESCRIPTION, ENUMS, Tables

_DESCRIBING = ("description", *AFTER_DESCRIPTION)


def _tables_of(recorded: WithMessages, piece: Piece) -> Tables:
    return recorded.decoded.tables.between(piece.begin, piece.end)


def _description_before(recorded: WithMessages, piece: Piece) -> RigDescription:
    """The board's description at the begin of a piece; else the first one later in it."""
    known = Tables()
    all_before, all_inside = recorded.decoded.tables.between(0, piece.begin), _tables_of(recorded, piece)
    for name in _DESCRIBING:
        before, inside = all_before[name], all_inside[name]
        rows = np.concatenate([before, inside]) if name != "description" or not before.size else before
        known[name] = rows[: max(1, len(before))] if name == "description" else rows
    if not known["description"].size and recorded.decoded.tables["description"].size:
        # A stream may be joined late; a later description of the same board is used then.
        known = Tables({name: recorded.decoded.tables[name] for name in _DESCRIBING})
        known["description"] = known["description"][:1]
    return RigDescription.from_tables(known)


def convert_pieces(
    recorded: WithMessages,
    parts: list[Piece],
    calibration: Calibration | None,
    spool: Spool | None,
    *,
    uncertainties: bool = True,
) -> dict[str, Series]:
    """Convert every series of a recording with known pieces; ``uncertainties`` as for ``Converter``."""
    collected: dict[str, list[Series]] = {}
    for piece in parts:
        converter = converter_of(recorded, parts, piece, calibration, spool, uncertainties=uncertainties)
        for name, series in converter.convert(_tables_of(recorded, piece)).items():
            collected.setdefault(name, []).append(replace(series, time=series.time + piece.start))
    return {name: end_to_end(found) for name, found in collected.items()}


def converter_of(
    recorded: WithMessages,
    parts: list[Piece],
    piece: Piece,
    calibration: Calibration | None,
    spool: Spool | None,
    *,
    uncertainties: bool = True,
) -> Converter:
    """A converter at the begin of a piece. Each piece has its own: a rotor's last edge and a held reading end at a
    break.
    """
    # A rotor that turns later in its boot was at rest before; a rotor that turned in an earlier boot is at rest now.
    line, rows = recorded.decoded.tables["line"], recorded.decoded.offsets.get("line", np.empty(0, dtype=np.int64))
    begin, end = np.searchsorted(rows, [parts[0].begin, piece.end])
    turned = bool(np.any(line["flags"][begin:end] & ENUMS["line_flag"]["rotor_seen"]))
    described = _description_before(recorded, piece)
    return Converter(described, calibration, spool, rotor_turned=turned, uncertainties=uncertainties)


def read_series(
    path: str | Path | Sequence[str | Path] | Recorded,
    calibration: Calibration | Path | str | None = AUTO,
    spool: Spool | None = None,
) -> dict[str, Series]:
    """Read every series of a recording at its own times (s on the recording's axis). Raises as ``table.read_table``.

    ``calibration`` : "auto", a calibration or its file, or None for the data sheets: see ``applied_calibration``.
    """
    recorded = path if isinstance(path, Recorded) else load(path)
    return convert_pieces(recorded, time_axis.pieces(recorded), calibration_for(calibration, recorded), spool)
