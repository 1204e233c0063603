"""The report of one run: air, foam and build."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from html import escape
from typing import Any

from frothline.curve.blower import BlowerFit
from frothline.errors import FrothlineError
from frothline.foam.sample import FoamSample
from frothline.foam.target_windows import Range, TargetWindow, windows_for, with_wanted
from frothline.formatting import interval_text, value_text
from frothline.generator.drawing import draw
from frothline.generator.drawing_words import describe
from frothline.label_case import Name
from frothline.readings.applied_calibration import AUTO
from frothline.readings.false_alarms import MARKED_FALSE, SEVERITIES, false_alarms
from frothline.readings.marks import marks
from frothline.readings.series import read_series
from frothline.recording.reader import load
from frothline.recording.summary import metadata_path, read_metadata
from frothline.report.html_page import Report, figure_rows, large, page, picture, section, table, words
from frothline.report.photos import photo_section
from frothline.report.pressure_flow_chart import plane, trace
from frothline.report.provenance import RecordingProvenance, budgets, caution_section, provenance
from frothline.report.svg_chart import Chart
from frothline.trials.figures import BY_NAME, shown_figures, unit_of
from frothline.trials.notebook import Notebook
from frothline.trials.plan_file import wanted_density
from frothline.trials.sample_corrections import corrected_samples
from frothline.trials.trial import Trial
from frothline.units import METRIC, Unit, name_of_system

_LARGE = ("density", "output", "drainage")
_STATES = {
    "inside": "inside",
    "below": "below it",
    "above": "above it",
    "open": "borderline",
}


def run_report(
    notebook: Notebook,
    name: str,
    *,
    calibration: Any = AUTO,
    spool: Any = None,
    system: Mapping[str, Unit] = METRIC,
) -> Report:
    """Report of the run ``name`` of a notebook. Raises InputError for an unknown run, RecordingError if it is
    unreadable.
    """
    trial = notebook.trial(name)
    source = RecordingProvenance.of(trial.path)
    recorded = load(trial.path)
    series = read_series(recorded, calibration, spool)
    fit, no_curve = _curve(notebook, trial)
    spans = [] if trial.used is None else [(trial.used.start, trial.used.end, "figures from here")]
    every = marks(recorded)
    marked = false_alarms(every)
    false = {one.place for one in marked}
    said = [
        replace(mark, text=f"{mark.text} ({MARKED_FALSE})") if place in false else mark
        for place, mark in enumerate(every)
        if mark.kind in ("step", "button", "mark", "sample", *SEVERITIES)
    ]
    at = {
        name: e.value
        for name, e in (("line_pressure", trial.line_pressure), ("standard_flow", trial.standard_flow))
        if e is not None
    }
    budget_html, budget_data = budgets(trial.path, at, calibration, spool, system=system)
    chosen = [BY_NAME[one] for one in _LARGE]
    highest = fit.shut_off.value if fit is not None else (trial.line_pressure.upper if trial.line_pressure else 0.0)
    here = (
        [(trial.title, trial.line_pressure, trial.standard_flow)]
        if trial.line_pressure is not None and trial.standard_flow is not None
        else []
    )
    sections = [
        large(
            [
                (one.label, value_text(trial.figure(one.name), unit_of(one, system)), _under(trial, one.name, system))
                for one in chosen
            ]
        ),
        section(
            "Figures",
            figure_rows(
                (one.label, trial.figure(one.name), unit_of(one, system), trial.why.get(one.name, ""))
                for one in shown_figures([trial])
            ),
            words([*trial.words, *trial.problems]),
            "" if trial.used is None else f"<p>Pressure and air were taken {escape(_used(trial))}.</p>",
        ),
        _build(trial, name_of_system(system)),
        photo_section("Photos", trial),
        section(
            "The run",
            *(
                picture(trace(series[key], system[quantity], label=label, spans=spans, marks=said))
                for key, label, quantity in (
                    ("line_pressure", "line pressure", "pressure"),
                    ("free_air_flow", "air rate", "flow"),
                    ("scale_mass", "reservoir", "mass"),
                )
                if key in series
            ),
            table(
                ["at", "notes and events", ""],
                [["" if math.isnan(m.time) else f"{m.time:.1f} s", m.kind, _said(m.kind, m.text)] for m in said],
                right=(0,),
            ),
        ),
        section(
            "On the source's curve",
            picture(
                plane(fit, (), here, system=system, title="The run on the source's curve"),
                f"The curve of {trial.air_source} from its sweeps, and the operating point of this run."
                if fit is not None
                else no_curve,
            )
            if here
            else "",
        ),
        _samples(trial, system, wanted_density(notebook.plan)),
        section(
            "Stretches excluded from the steady test, with reasons",
            table(["from", "to", "why"], [[f"{a:.1f} s", f"{b:.1f} s", c] for a, b, c in trial.refused], right=(0, 1)),
        ),
        budget_html,
        caution_section(highest, trial.build),
        provenance([source]),
    ]
    data = trial.as_dict() | {
        "sample_figures": [_sample_data(one) for one in trial.samples],
        "refused": [{"start": a, "end": b, "reason": c} for a, b, c in trial.refused],
        "false_alarms": [{"code": one.code, "number": one.number, "time": every[one.place].time} for one in marked],
        "budgets": budget_data,
        "recordings": [vars(source)],
    }
    parts = (trial.build_name or "build not known", trial.air_source or "source not known", source.when)
    return page(
        f"Run: {trial.title}",
        ", ".join(filter(None, parts)),
        sections,
        data,
        simulated=trial.simulated,
        system=system,
        names=(trial.title, trial.build_name, trial.air_source, source.name),
    )


def _said(kind: str, text: str) -> str:
    """The text of a note; what a person typed is unchanged in every system of units."""
    return Name(text) if kind == "mark" else text


def _used(trial: Trial) -> str:
    assert trial.used is not None
    return f"from {trial.used.start:.1f} to {trial.used.end:.1f} s: {trial.used.why}"


def _under(trial: Trial, name: str, system: Mapping[str, Unit]) -> str:
    return interval_text(trial.figure(name), unit_of(BY_NAME[name], system)) or trial.why.get(name, "not known")


def _curve(notebook: Notebook, trial: Trial) -> tuple[BlowerFit | None, str]:
    try:
        return notebook.curve(trial.air_source), ""
    except FrothlineError as error:
        return None, f"The curve of its air source is not known: {error.what}."


def _build(trial: Trial, system: str) -> str:
    if trial.build is None:
        return section("The build", "<p>The build is not known.</p>")
    sheet = ""
    if trial.build_file is not None:
        try:
            sheet = trial.build_file.read_text("utf-8")
        except (OSError, UnicodeDecodeError):
            sheet = ""
    more = f"<details><summary>build sheet</summary><pre>{escape(sheet)}</pre></details>" if sheet else ""
    drawn = picture(draw(trial.build, system=system), describe(trial.build, system), "drawing")
    return section(f"The build: {trial.build.name}", drawn, more)


def _samples(trial: Trial, system: Mapping[str, Unit], wanted: Range | None) -> str:
    rows = []
    density, rate, time = system["density"], system["foam_rate"], system["time"]
    for number, one in enumerate(trial.samples, 1):
        rows.append(
            [
                str(number),
                *(
                    f"{value_text(e, unit)}" + (f" ({interval_text(e, unit)})" if interval_text(e, unit) else "")
                    for e, unit in ((one.density, density), (one.output, rate), (one.drainage, time))
                ),
            ]
        )
    states: dict[TargetWindow, list[str]] = {}
    for one in trial.samples:
        for verdict in with_wanted(one.verdicts, one.density, wanted):
            states.setdefault(verdict.window, []).append(_STATES[verdict.state])
    judged = []
    for window in (one for one in windows_for(wanted) if one in states):
        ends = f"{window.low:g} to {window.high:g}" if math.isfinite(window.high) else f"{window.low:g} or more"
        said = ", or ".join(dict.fromkeys(states[window]))
        judged.append([window.words, f"{ends} {window.unit}".removesuffix(" 1"), said, window.provenance])
    return section(
        "Samples",
        table(["", "density", "output", "25 % drainage time"], rows, right=(0,)),
        picture(_drainage_chart(trial)),
        "<h3>Comparison with limits</h3>" if judged else "",
        table(["window", "", "the samples", "source"], judged),
    )


def _drainage_chart(trial: Trial) -> str:
    """Chart of the drained share of the solution against time, for samples with drainage readings."""
    curves = []
    for one in corrected_samples(read_metadata(metadata_path(trial.path))[0]):
        if one.noted is None or not one.counts:
            continue  # already among the problems, or withdrawn
        weighing = one.noted.weighing
        if weighing.drained:
            curves.append([(t, 100 * v / weighing.solution) for t, v in weighing.drained])
    if not curves:
        return ""
    longest = max(t for curve in curves for t, _ in curve)
    most = max(30.0, *(share for curve in curves for _, share in curve))
    chart = Chart(
        (0.0, longest * 1.02),
        (0.0, most * 1.08),
        x_label="time since the container was full, s",
        y_label="drained, % of the solution",
        title="Drainage of the samples",
        size=(660.0, 210.0),
    )
    chart.across(25.0, "25 %")
    for curve in curves:
        chart.line([0.0, *(t for t, _ in curve)], [0.0, *(s for _, s in curve)])
        chart.points([t for t, _ in curve], [s for _, s in curve])
    return chart.svg()


def _sample_data(sample: FoamSample) -> dict[str, Any]:
    names = ("density", "expansion", "gas_fraction", "output", "solution_rate", "capture", "drainage", "drained_share")
    return {name: None if (e := getattr(sample, name)) is None else e.as_dict() for name in names} | {
        "verdicts": [{"words": v.window.words, "low": v.window.low, "state": v.state} for v in sample.verdicts]
    }
