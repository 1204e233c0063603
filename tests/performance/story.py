"""One session in figures, on a page that opens with nothing else: what was measured, what was predicted, what was true.

    python tests/performance/story.py [random number]

For each of the five simulated builds: the air source's curve from a sweep, the generator swept dry and wet, where the two
are predicted to meet and where the simulated line really works; then the first build's parts are changed on the sheet to
those of the others and the answers held against what those do; foam rate before and after one bucket; every fault with
the first alarm. Writes tests/performance/results/story.html. Takes some two minutes.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from run_watch import FAULTS, START, foam, ticks_of, views_of, watched
from simulated_runs import SimulatedRun, measured_source, sheet_of, steady_points

from frothline.errors import OutsideValidity
from frothline.formatting import interval_text, value_text
from frothline.generator.model_fit import fit_to_sweeps
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.prediction import predict
from frothline.generator.pressure_model import PressureModel
from frothline.generator.what_if import what_if
from frothline.physics.air import STANDARD_DENSITY
from frothline.report.html_page import page, picture, section, table, words
from frothline.report.svg_chart import Chart
from frothline.run.watch.alarm_kinds import KINDS
from frothline.simulation.generator import BUILDS
from frothline.units import Unit

RESULT = Path(__file__).parent / "results" / "story.html"
KPA, LPS = Unit("kPa", 1e-3), Unit("L/s", 1e3)
SEED = 2005
FIRST = "pipe-100"
# Parts of FIRST that make it the other build, as a builder would try them on the sheet
CHANGES = {
    "long-packing": {"packing.length": 0.5},
    "small-outlet": {"outlet.bore": 0.0265},
    "few-holes": {"tube.holes_per_row": 4, "tube.hole": 0.003, "tube.under_liquid": 16},
    "pipe-75": {
        "body.bore": 0.0779,
        "packing.length": 0.12,
        "tube.rows": 5,
        "tube.holes_per_row": 6,
        "tube.under_liquid": 30,
    },
}


def truth(name, seed):
    """(Pa, m3/s at 1.2 kg/m3) at which the simulated line works while it foams: the world's own figures, no sensor's."""
    run = SimulatedRun("run-fed", seed, 60.0, options=f"&build={name}")
    flows = []
    for _ in run.batches():
        pass
    flows = np.array(run.truth["generator_flow"][-40:]) / STANDARD_DENSITY
    return float(np.mean(run.truth["line_pressure"][-40:])), float(np.mean(flows))


def measured(name, seed):
    """Steady points dry and wet, model from the sheet, and model scaled to them."""
    dry, wet = (
        [p for p in steady_points(f"generator-{state}", seed, 90.0, f"&build={name}") if p.flow > 0.0]
        for state in ("dry", "wet")
    )
    sheet = PressureModel(sheet_of(name), OperatingConditions.usual())
    return dry, wet, sheet, fit_to_sweeps(sheet, dry, wet)


def plane(name, blower, dry, wet, sheet, scaling, point, true):
    """The picture of one build."""
    top_q = 1e3 * max(1.15 * true[1], *(p.flow for p in dry + wet))
    top_p = 1.08e-3 * blower.shut_off.value
    chart = Chart(
        (0.0, top_q),
        (0.0, top_p),
        x_label="flow, air of 1.2 kg/m³, L/s",
        y_label="pressure, kPa",
        title=f"{name}: plane",
    )
    q = np.linspace(1e-4, 1e-3 * top_q, 80)
    lower, upper = blower.band(q)
    chart.band(q * 1e3, lower / 1e3, upper / 1e3)
    chart.line(q * 1e3, blower.pressure(q)[0] / 1e3)
    for model, kind in ((scaling.dry, "thin"), (scaling.wet, "measured"), (sheet, "predicted")):
        p = np.array([_asks(model, flow) for flow in q])
        chart.line(q * 1e3, p / 1e3, kind)
    for points in (dry, wet):
        chart.points([p.flow * 1e3 for p in points], [p.pressure / 1e3 for p in points])
    chart.ellipse(
        (point.flow.value * 1e3, point.pressure.value / 1e3),
        np.diag([1e3, 1e-3]) @ point.covariance[::-1, ::-1] @ np.diag([1e3, 1e-3]),
    )
    chart.points([true[1] * 1e3], [true[0] / 1e3], kind="dot aside")
    chart.note(true[1] * 1e3, true[0] / 1e3 + 0.035 * top_p, "works here", "middle")
    said = f"{name}: {BUILDS[name].about}. Falling: the source. Rising: dry (thin), wet, and wet by the sheet alone (dashed)."
    return picture(chart.svg(), said)


def _asks(model, flow):
    try:
        return model.pressure(flow)
    except OutsideValidity:
        return np.nan


def row_of(words_first, found, true, unit):
    error = found.value / true - 1.0
    held = "yes" if found.lower <= true <= found.upper else "no"
    return [
        *words_first,
        value_text(found, unit),
        interval_text(found, unit),
        f"{unit.from_si(true):.3g} {unit.symbol}",
        f"{error:+.1%}",
        held,
    ]


def alarms(seed):
    """Fault, first alarm, delay, what was seen."""
    rows = []
    for name, (seconds, _) in FAULTS.items():
        event = (START, "motor", False) if name == "motor off" else (START, "fault", name)
        ticks, _ = ticks_of("run-fed", seed, START + seconds, (event,))
        log = [alarm for alarm in watched(ticks, views_of(seed)).log if alarm.time > START]
        first = log[0] if log else None
        rows.append(
            [name.replace("_", " "), "none", "", ""]
            if first is None
            else [name.replace("_", " "), KINDS[first.code].title, f"{first.time - START:.2f} s", first.seen]
        )
    return rows


def story(seed):
    blower = measured_source(seed)
    pictures, meets, changes, models, true = [], [], [], {}, {}
    for name in BUILDS:
        dry, wet, sheet, scaling = measured(name, seed)
        models[name], true[name] = scaling.wet, truth(name, seed)
        point = predict(scaling.wet, blower).point
        pictures.append(plane(name, blower, dry, wet, sheet, scaling, point, true[name]))
        before = predict(sheet, blower).point
        for said, one in (("from the sheet", before), ("once swept", point)):
            meets.append(row_of([name, said], one.flow, true[name][1], LPS))
            meets.append(row_of([name, said], one.pressure, true[name][0], KPA))
    for name, entries in CHANGES.items():
        build = models[FIRST].build
        for path, value in entries.items():
            build = build.with_entry(path, value)
        after = what_if(models[FIRST], build, blower).after.point
        changes.append(row_of([name], after.flow, true[name][1], LPS))
        changes.append(row_of([name], after.pressure, true[name][0], KPA))
    foams = []
    for scale, said in ((False, "no scale"), (True, "with a scale")):
        rows = foam(seed)
        for at, when in ((50.0, "before a sample"), (80.0, "after one")):
            error, width, held = rows[scale, at]["foam rate"]
            foams.append([said, when, f"{error:+.1%}", f"{width:.0%}", "yes" if held else "no"])
    heads = ["predicted", "95 %", "true", "error", "holds"]
    return page(
        "A session in figures",
        f"five simulated generators on one simulated air source, random number {seed}",
        [
            section("Source, generator dry and wet, and where they meet", *pictures),
            section("Predicted against true", table(["build", "", *heads], meets, right=(2, 3, 4, 5))),
            section(
                f"What if {FIRST} had the parts of the others",
                words(["The answers were given by the model of the first build alone, before the others were swept."]),
                table(["parts of", *heads], changes, right=(1, 2, 3, 4)),
            ),
            section("Foam rate", table(["", "", "error", "width of the interval", "holds"], foams, right=(2, 3))),
            section(
                "Every fault, and the first alarm", table(["fault", "alarm", "after", "seen"], alarms(seed), right=(2,))
            ),
        ],
        {"random_number": seed},
        simulated=True,
    )


if __name__ == "__main__":
    print(story(int(sys.argv[1]) if len(sys.argv) > 1 else SEED).write(RESULT))
