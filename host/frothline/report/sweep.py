"""The report of an air source: its curve from one or more recorded sweeps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite
from pathlib import Path
from typing import Any

from frothline.curve.blower import BlowerFit
from frothline.formatting import interval_text, value_text
from frothline.readings.applied_calibration import AUTO
from frothline.recording.summary import metadata_path, read_metadata
from frothline.report.html_page import Report, figure_rows, large, page, picture, section, table, words
from frothline.report.pressure_flow_chart import plane
from frothline.report.provenance import RecordingProvenance, budgets, caution_section, provenance
from frothline.sweep.recorded_source import load_sweeps
from frothline.sweep.source_file import holds_points
from frothline.units import METRIC, Unit

_AS_FOUND = (
    "As measured: in the air of that day, in which the generator also works. Compare figures of another day or "
    "site in standard air. Flows are mass flows (standard air, 1.2 kg/m³)."
)
_FIGURES = (
    ("shut_off", "shut-off pressure", "pressure"),
    ("free_delivery", "free delivery", "flow"),
    ("air_power", "peak air power", "power"),
    ("air_power_flow", "at a flow of", "flow"),
)


def sweep_report(
    recordings: Sequence[str | Path],
    *,
    calibration: Any = AUTO,
    spool: Any = None,
    system: Mapping[str, Unit] = METRIC,
    holes: Sequence[float] = (),
) -> Report:
    """Report of sweeps of one air source. Raises RecordingError, SensorError, FitError as ``curve`` does.

    ``holes`` : m, of drilled plates, as in ``load_sweeps``
    """
    paths = [Path(one) for one in recordings]
    found = load_sweeps(paths, calibration, spool, holes)
    fit = found.fit()
    sources = [RecordingProvenance.of(path) for path in paths]
    metadata = [read_metadata(metadata_path(path))[0] for path in paths if not holds_points(path)]
    name = next((str(m["air_source"]) for m in metadata if m.get("air_source")), "")
    p, q = system["pressure"], system["flow"]
    at = _middle(fit)
    budget_html, budget_data = budgets(paths[0], at, calibration, spool, system=system)
    refused = [*found.refused, *fit.refused]
    sections = [
        large(
            [
                (
                    f"{label}, as measured",
                    value_text(getattr(fit, key), system[quantity]),
                    interval_text(getattr(fit, key), system[quantity]),
                )
                for key, label, quantity in _FIGURES[:3]
            ]
        ),
        picture(
            plane(fit, found.points, system=system, title=f"Performance of {name or 'the source'}"),
            "Solid: measured. Dashed: extrapolated. The shaded band is the 95 % interval of the curve, including "
            "errors common to all points; bars are the random part of each point. All as measured, in the air of "
            "that day.",
        ),
        section(
            "Figures as measured",
            f'<p class="faint">{_AS_FOUND}</p>',
            figure_rows((label, getattr(fit, key), system[quantity], "") for key, label, quantity in _FIGURES),
            words([f"shape: {fit.why}", *fit.notes, *fit.advice]),
        ),
        section("Figures in standard air, 1.2 kg/m³", _in_standard_air(fit, system)),
        section(
            "Points and their stretches",
            table(
                ["recording", "from", "to", f"pressure, {p.symbol}", "±", f"flow, {q.symbol}", "±", "samples"],
                [
                    [
                        sources[one.source].name,
                        _seconds(one.start),
                        _seconds(one.end),
                        f"{p.from_si(one.pressure):.4g}",
                        f"{one.u_pressure * p.factor:.2g}",
                        f"{q.from_si(one.flow):.4g}",
                        f"{one.u_flow * q.factor:.2g}",
                        str(one.n),
                    ]
                    for one in found.points
                ],
                right=(1, 2, 3, 4, 5, 6, 7),
            ),
            '<p class="faint">± is one standard uncertainty, including errors common to all points.</p>',
        ),
        section(
            "Excluded stretches and reasons",
            table(
                ["from", "to", "why"],
                [[_seconds(one.start), _seconds(one.end), one.reason] for one in refused],
                right=(0, 1),
            ),
        ),
        budget_html,
        caution_section(max(fit.pressure_range[1], fit.shut_off.value)),
        provenance(sources),
    ]
    data: dict[str, Any] = {
        "air_source": name,
        **{key: getattr(fit, key).as_dict() for key, _, _ in _FIGURES},
        "standard": _standard_data(fit),
        "form": fit.form,
        "why": fit.why,
        "notes": list(fit.notes),
        "advice": list(fit.advice),
        "points": [
            {
                "recording": sources[one.source].name,
                "start": one.start if isfinite(one.start) else None,
                "end": one.end if isfinite(one.end) else None,
                "pressure": one.pressure,
                "u_pressure": one.u_pressure,
                "flow": one.flow,
                "u_flow": one.u_flow,
                "n": one.n,
            }
            for one in found.points
        ],
        "refused": [
            {
                "start": one.start if isfinite(one.start) else None,
                "end": one.end if isfinite(one.end) else None,
                "reason": one.reason,
            }
            for one in refused
        ],
        "budgets": budget_data,
        "recordings": [vars(one) for one in sources],
    }
    titles = [str(m["title"]) for m in metadata if m.get("title")]
    return page(
        f"Air source: {name or titles[0] if titles or name else sources[0].name}",
        f"{len(found.points)} steady points from {len(paths)} recorded sweep{'s' if len(paths) > 1 else ''}, "
        f"{sources[0].when or 'time not known'}",
        sections,
        data,
        simulated=any(one.simulated for one in sources),
        system=system,
        names=[name, *titles, *(one.name for one in sources)],
    )


def _seconds(time: float) -> str:
    """A time of a recording; a dash for a point that was entered by hand."""
    return f"{time:.1f} s" if isfinite(time) else "–"


def _in_standard_air(fit: BlowerFit, system: Mapping[str, Unit]) -> str:
    """Figures in standard air, comparable between days, or the reason why there are none."""
    standard = fit.standard
    if standard is None or standard.why_not:
        return words([f"not known: {standard.why_not if standard else 'nothing was corrected'}"])
    found_in = f"corrected from an intake air density of {standard.found_in:.3f} kg/m³"
    rows = figure_rows((label, getattr(standard, key), system[quantity], "") for key, label, quantity in _FIGURES)
    return rows + words([found_in, *standard.words])


def _standard_data(fit: BlowerFit) -> dict[str, Any] | None:
    standard = fit.standard
    if standard is None or standard.why_not:
        return {"why_not": standard.why_not} if standard else None
    figures = {key: getattr(standard, key).as_dict() for key, _, _ in _FIGURES}
    return {**figures, "found_in": standard.found_in, "words": list(standard.words)}


def _middle(fit: BlowerFit) -> dict[str, float]:
    """A point in the middle of the curve, for the uncertainty budgets."""
    flow = sum(fit.range) / 2
    return {"line_pressure": float(fit.pressure(flow)[0]), "standard_flow": flow}
