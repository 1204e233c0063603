"""Provenance sections of a report: recordings with their hashes, uncertainty budgets, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from html import escape
from pathlib import Path
from typing import Any

from frothline.errors import FrothlineError
from frothline.formatting import full_text, local_time
from frothline.generator.build import Build
from frothline.generator.cautions import cautions
from frothline.generator.sheet import parse_sheet, starting_sheet
from frothline.readings.applied_calibration import AUTO, calibration_for
from frothline.recording.reader import load
from frothline.recording.summary import summarise
from frothline.report.html_page import section, table, words
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sweep.point_table import is_point_table
from frothline.sweep.source_file import holds_points
from frothline.units import METRIC, Unit

_WITHOUT_A_BUILD = (
    "compressor",
    "pressure",
    "opening",
    "mains",
    "noise",
    "motor",
    "heat",
)  # of the cautions; the others need a body


@dataclass(frozen=True)
class RecordingProvenance:
    """One recording behind a report; ``sha256`` is of its bytes, all segments in order."""

    name: str
    started: str | None
    seconds: float | None
    port: str
    software: str
    firmware: str
    label: str
    identity: str
    sha256: str
    simulated: bool

    @property
    def when(self) -> str:
        """Local time with its zone; empty if unknown. ``started`` is UTC."""
        return "" if self.started is None else local_time(datetime.fromisoformat(self.started))

    @classmethod
    def of(cls, path: str | Path) -> RecordingProvenance:
        """Read the provenance of a recording, or of a table of points entered by hand. Raises RecordingError or
        InputError if it cannot be read.
        """
        if holds_points(path):
            digest = sha256(Path(path).read_bytes()).hexdigest()
            return cls(
                Path(path).name,
                None,
                None,
                "",
                "entered by hand" if is_point_table(path) else "file of a measured source",
                "",
                "",
                "",
                digest,
                simulated=False,
            )
        recorded = load(Path(path))
        entry = summarise([Path(one) for one in recorded.paths])
        return cls(
            name=entry.name,
            started=None if entry.began is None else entry.began.isoformat(timespec="seconds"),
            seconds=entry.seconds,
            port=entry.source,
            software=entry.software,
            firmware=entry.firmware,
            label=entry.label,
            identity=recorded.identity or entry.identity,
            sha256=recorded.digest(),
            simulated=bool(entry.metadata.get("simulated")) or entry.source.startswith(("modelled://", "emulated://")),
        )


def provenance(sources: Sequence[RecordingProvenance]) -> str:
    """The section with all recordings."""
    rows = [
        [
            one.name,
            one.when or "not known",
            "not known" if one.seconds is None else f"{one.seconds:.0f} s",
            one.software or "not known",
            one.firmware or "not known",
            f'<span class="hash">{escape(one.sha256)}</span>',
        ]
        for one in sources
    ]
    head = ["recording", "began", "length", "recorded by", "firmware", "SHA-256 of its bytes"]
    return section("Where this comes from", table(head, rows, raw=(5,)))


def budgets(
    path: str | Path,
    at: dict[str, float],
    calibration: Any = AUTO,
    spool: Any = None,
    *,
    system: Mapping[str, Unit] = METRIC,
) -> tuple[str, list[Any]]:
    """Uncertainty budgets of the channels in ``at`` (SI values by name), as HTML and as data.

    A budget that cannot be calculated is left out; its figure is unknown too.
    """
    if holds_points(path):
        return "", []
    try:
        description = RigDescription.from_tables(load(Path(path)).decoded.tables)
        converter = Converter(description, calibration=calibration_for(calibration, path), spool=spool)
    except FrothlineError:
        return "", []
    parts, data = [], []
    stands = {name: at[name] for name in ("line_pressure", "line_temperature") if name in at}
    for name, label, quantity in _CHANNELS:
        if name not in at:
            continue
        unit = system[quantity]
        try:
            budget = converter.budget(name, at[name], **stands)
        except FrothlineError:
            continue
        estimate = budget.estimate()
        data.append({"name": name, "value": budget.value, "unit": budget.unit, "rows": budget.rows()})
        rows = [
            [
                row["source"],
                "same error all session" if row["kind"] == "systematic" else "independent for each sample",
                f"{row['standard_uncertainty'] * unit.factor:.3g} {unit.symbol}",
                f"{100 * row['share']:.0f} %",
                row["origin"],
            ]
            for row in budget.rows()
            if row["share"] >= 0.005
        ]
        head = f"{label}, one sample: {full_text(estimate, unit)}"
        parts.append(
            f'<div class="keep"><h3>{escape(head)}</h3>'
            + table(["from", "kind", "standard uncertainty", "share", "source"], rows, right=(2, 3))
            + "</div>"
        )
    return section("Sensor uncertainty", *parts), data


_CHANNELS: tuple[tuple[str, str, str], ...] = (
    ("line_pressure", "Line pressure", "pressure"),
    ("standard_flow", "Flow as air of 1.2 kg/m³", "flow"),
)


def caution_section(pressure: float, build: Build | None = None, more: Iterable[str] = ()) -> str:
    """Safety cautions from ``generator.cautions`` at this pressure (Pa); local codes take precedence."""
    subject = build
    if subject is None:
        subject = parse_sheet(starting_sheet(), "starting.toml").build
    assert subject is not None
    found = [one for one in cautions(subject, pressure) if build is not None or one.key in _WITHOUT_A_BUILD]
    said = [*more, *(one.words for one in found)]
    return section("Cautions", words([*said, "Local codes and the advice of licensed people come first."], "caution"))
