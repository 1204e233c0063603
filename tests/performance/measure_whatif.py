"""Processor time of a what-if, compared in one run with plain Monte Carlo draws of the whole model."""

import time
from pathlib import Path
from statistics import median

import numpy as np
from results_page import Part

from frothline.generator import pressure_model
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.prediction import meeting_flow, predict
from frothline.generator.pressure_model import PressureModel
from frothline.generator.sheet import read_sheet
from frothline.generator.what_if import what_if
from frothline.sweep.recorded_source import load_sweeps

SEASON = Path(__file__).parents[2] / "recordings" / "season"
BUILDS = ("first-tube", "long-packing", "strong-long-narrow")
CHANGES = {"outlet.bore": 0.9, "packing.length": 1.2, "tube.hole": 1.1}
REPEATS = 5
DRAWS, TIMED = 1000, 10  # draws of a plain Monte Carlo, and how many of them are timed
GOAL = 100.0  # ms


def processor_time(work):
    start = time.process_time()
    work()
    return time.process_time() - start


def plain_draw(models, rng, source):
    """The flow before and after a change in one draw: each error of the model drawn, the operating point solved."""
    z = rng.standard_normal(len(models[0].effects))
    for model in models:
        shift = {}
        for part, (_, step) in zip(z, model.effects, strict=True):
            for key, value in step.items():
                shift[key] = shift.get(key, 0.0) + part * value
        meeting_flow(model.moved(shift), source)


def walks(work):
    """How often the work walks through the pressure model."""
    count = 0
    real = PressureModel._walk

    def counted(self, flow):
        nonlocal count
        count += 1
        return real(self, flow)

    pressure_model.PressureModel._walk = counted
    try:
        work()
    finally:
        pressure_model.PressureModel._walk = real
    return count


def measure(seed):
    rng = np.random.default_rng(seed)
    source = load_sweeps([SEASON / "03-29-sweep-shop-motor.froth"]).fit()
    conditions = OperatingConditions.usual(wet=True)
    rows, ratios, slowest = [], [], 0.0
    for name in BUILDS:
        build = read_sheet(SEASON / "builds" / f"{name}.toml")
        model = PressureModel(build, conditions)
        before = predict(model, source)
        for path, factor in CHANGES.items():
            part, _, entry = path.partition(".")
            changed = build.with_entry(path, factor * getattr(getattr(build, part), entry))

            def next_one(model=model, changed=changed, before=before):
                what_if(model, changed, source, before=before)

            def first_one(build=build, changed=changed):
                what_if(PressureModel(build, conditions), changed, source)

            next_one()
            warm = median(processor_time(next_one) for _ in range(REPEATS)) * 1e3
            cold = median(processor_time(first_one) for _ in range(REPEATS)) * 1e3
            both = (PressureModel(build, conditions), PressureModel(changed, conditions))
            plain = processor_time(lambda both=both: [plain_draw(both, rng, source) for _ in range(TIMED)])
            plain *= DRAWS / TIMED * 1e3
            slowest = max(slowest, warm)
            ratios.append(plain / cold)
            rows.append(
                (
                    name,
                    f"{path} × {factor:g}",
                    f"{warm:.0f} ms",
                    f"{cold:.0f} ms",
                    str(walks(next_one)),
                    f"{plain / 1e3:.1f} s",
                    f"{plain / cold:.0f}",
                )
            )
    fell_short = f" The goal of {GOAL:.0f} ms is missed." if slowest > GOAL else ""
    return Part(
        "What-if",
        ("build", "change", "next change", "first change", "walks", f"plain draws, {DRAWS}", "ratio"),
        rows,
        before=(
            "Operating point before and after a change of the build sheet, with all intervals. A next change is one after "
            "another on the same sheet, as on the generator page; a first one includes the prediction as built. A walk "
            "is one pass through the pressure model at one flow. Plain draws solve the whole model for each draw; "
            f"{TIMED} of them are timed and scaled. The ratio is plain draws over a first change."
        ),
        after=(
            f"A what-if is {min(ratios):.0f} to {max(ratios):.0f} times as fast as plain draws; the slowest next change "
            f"takes {slowest:.0f} ms of processor time.{fell_short}"
        ),
        order=32,
    )
