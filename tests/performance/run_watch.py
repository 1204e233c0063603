"""How well the run watch does on simulated runs: false alarms, detection against false alarms, delays, foam figures.

    python tests/performance/run_watch.py [hours] [runs] [processes] [more hours]

simulates ``hours`` of runs in order for every design and line, ``more hours`` for the usual design alone, and ``runs`` runs a fault, and writes tests/performance/results/run_watch.md.
Every run has a random number of its own: another source, another specimen of one of five builds, other sensor errors.
What the watch is given (curve, wet line) was measured by simulated sweeps of the same line, as a builder would.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import replace
from math import isfinite, nan
from multiprocessing import Pool
from pathlib import Path

import numpy as np
from scipy import signal, stats
from simulated_runs import SimulatedRun, measured_build, measured_source, scaled_build

from frothline.foam.sample import Weighing
from frothline.physics.foam import GAS_DENSITY
from frothline.readings.resample import TICK, Resampler
from frothline.run.run import Run
from frothline.run.watch.flow_estimates import FlowEstimates
from frothline.run.watch.monitor import RunMonitor
from frothline.run.watch.settings import WatchSettings
from frothline.simulation.generator import BUILDS

RESULTS = Path(__file__).parent / "results" / "run_watch.md"
DESIGNS = (0.1, 1.0, 40.0, 400.0)  # h between false alarms, by design
QUIET_RUN = 1200.0  # s
START = 60.0  # s into the run that a fault begins
# Lines: as simulated, and with more of what real ones have: deviation of the flow (within 0.3 s), of the pressure (5 s)
LINES = {"as simulated": (0.0, 0.0), "restless": (0.02, 0.003), "wild": (0.05, 0.005)}
LEAKS = (0.03, 0.05, 0.075, 0.10)
FAULTS = {  # fault: (s that are watched after it, codes that tell it right)
    "packing_blown": (10, {"packing_blown"}),
    "joint_off_before": (10, {"joint_off_before"}),
    "joint_off_after": (10, {"joint_off_after"}),
    "leak_before": (40, {"leak_before"}),
    "leak_after": (40, {"leak_after"}),
    "clogging": (60, {"clogging"}),
    "liquid_back": (40, {"liquid_back"}),
    "filter_drift": (180, {"source_weak"}),
    "motor_hot": (120, {"hot", "too_hot"}),
    "supply_sag": (20, {"source_weak"}),
    "reservoir_dry": (20, {"dry", "thinning"}),
    "motor off": (10, {"source_off"}),
}
PARTS = {
    "everything": {},
    "no source curve": {"source": False},
    "no build": {"build": False},
    "no scale": {"scale": False},
    "neither curve, build nor scale": {"source": False, "build": False, "scale": False},
    "no anemometer": {"flow": False},
    "no pressure sensor": {"pressure": False},
}


def build_of(seed):
    return list(BUILDS)[seed % len(BUILDS)]


def views_of(seed, *, source=True, build=True):
    blower = measured_source(seed) if source else None
    if not build:
        return FlowEstimates.of(blower, None)
    name = build_of(seed)
    return FlowEstimates.of(blower, measured_build(seed, name), scaled_build(seed, name))


def ticks_of(scenario, seed, seconds, events=()):
    run = SimulatedRun(scenario, seed, seconds, events, f"&build={build_of(seed)}")
    ticker, ticks = Resampler(), []
    for found in run.batches():
        ticks += ticker.feed(found)
    return ticks, run


def watched(ticks, views, settings=None):
    watch = RunMonitor(views, settings)
    watch.feed(ticks)
    return watch


def designed(hours):
    return WatchSettings(false_alarm_every=hours * 3600.0)


# --- the pieces of work, each by itself so that several processes can share them -----------------------------------


def restless(ticks, seed, flow, pressure):
    """The ticks with autoregressive movement of flow and pressure put on top."""
    if not flow:
        return ticks
    rng = np.random.default_rng(seed)

    def movement(deviation, seconds):
        keep = np.exp(-TICK / seconds)
        steps = deviation * np.sqrt(1 - keep**2) * rng.standard_normal(len(ticks))
        return np.exp(signal.lfilter([1.0], [1.0, -keep], steps))

    moved = zip(ticks, movement(pressure, 5.0), movement(flow, 0.3), strict=True)
    return [replace(tick, pressure=tick.pressure * p, flow=tick.flow * q) for tick, p, q in moved]


def quiet(seed):
    """Alarms of one run in which nothing is wrong, by line and design."""
    ticks, _ = ticks_of("run-fed", seed, QUIET_RUN)
    found = {}
    for line, moves in LINES.items():
        moved = restless(ticks, seed, *moves)
        for hours in DESIGNS:
            log = watched(moved, views_of(seed), designed(hours)).log
            found[line, hours] = [alarm.code for alarm in log]
    return found


def quiet_as_usual(seed):
    """Codes of the alarms of one more run in which nothing is wrong, as simulated and by the usual design."""
    ticks, _ = ticks_of("run-fed", seed, QUIET_RUN)
    return [alarm.code for alarm in watched(ticks, views_of(seed)).log]


def leak(work):
    """(side, size), and by line and design the delay of the first alarm, NaN if there was none within 20 s."""
    seed, side, size = work
    ticks, _ = ticks_of("run-fed", seed, START + 20.0, ((START, "fault", f"{side}:{size}"),))
    found = {}
    for line, moves in LINES.items():
        moved = restless(ticks, seed, *moves)
        for hours in DESIGNS:
            alarms = [alarm for alarm in watched(moved, views_of(seed), designed(hours)).log if alarm.time > START]
            found[line, hours] = alarms[0].time - START if alarms else nan
    return side, size, found


def fault(work):
    """Name, and by parts: (delay of the first alarm, its code, delay of the right one)."""
    seed, name = work
    seconds, right = FAULTS[name]
    event = (START, "motor", False) if name == "motor off" else (START, "fault", name)
    ticks, _ = ticks_of("run-fed", seed, START + seconds, (event,))
    found = {}
    for words, parts in PARTS.items():
        missing = {key: nan for key in ("flow", "pressure") if not parts.get(key, True)}
        if "flow" in missing:
            missing["free_air"] = nan
        if not parts.get("scale", True):
            missing["mass"] = nan
        seen = [replace(tick, **missing) for tick in ticks] if missing else ticks
        views = views_of(seed, source=parts.get("source", True), build=parts.get("build", True))
        log = [alarm for alarm in watched(seen, views).log if alarm.time > START]
        told = [alarm for alarm in log if alarm.code in right]
        found[words] = (
            log[0].time - START if log else nan,
            log[0].code if log else "",
            told[0].time - START if told else nan,
        )
    return name, found


def emptied(work):
    """A reservoir that runs dry: share of the foam made after it no longer stood over the intake, until the alarm."""
    seed, scale = work
    ticks, run = ticks_of("run", seed, 260.0)
    if not scale:
        ticks = [replace(tick, mass=nan) for tick in ticks]
    log = watched(ticks, views_of(seed)).log
    t, total, left = (np.array(run.truth[name]) for name in ("time", "foam_total", "solution_left"))
    begins = t[np.argmax(left < 3.0)]  # from here on the simulated draw falls
    dry = t[run.phases.index("dry")]
    early = [alarm.code for alarm in log if alarm.time < begins - 1.0]
    warned = next((alarm.time for alarm in log if alarm.code in {"thinning", "dry"} and alarm.time > begins - 1), nan)
    said_dry = next((alarm.time for alarm in log if alarm.code == "dry"), nan)
    after = total[-1] - np.interp(begins, t, total)
    share = (np.interp(warned, t, total) - np.interp(begins, t, total)) / after
    return scale, warned - begins, share, warned - dry, said_dry - dry, early


def foam(seed):
    """Relative errors of foam rate and total before and after one sample, and whether the intervals held the truth."""
    rng = np.random.default_rng(seed)
    simulated = SimulatedRun("run", seed, 95.0, (), f"&build={build_of(seed)}")
    views = views_of(seed)
    rows = {}
    for scale in (True, False):
        run = Run(blower=views.blower, resistance=views.line, load=45.0)
        taken = False
        for found in simulated.batches():
            run.feed(found if scale else {k: v for k, v in found.items() if k != "scale_mass"})
            now = {name: values[-1] for name, values in simulated.truth.items()}
            if now["time"] in (50.0, 80.0):
                rows[scale, now["time"]] = _compare(run.state.output, now)
            if not taken and now["time"] >= 60.0:
                taken = True
                volume, took = 0.020, 0.020 / now["foam_rate"]
                run.add_sample(
                    Weighing(
                        volume * (1 + 0.01 * rng.normal()),
                        0.8,
                        0.8 + volume * (now["foam_density"] - GAS_DENSITY) + 0.0006 * rng.normal(),
                        max(took + 0.3 * rng.normal(), 0.5),
                    )
                )
    return rows


def _compare(output, true):
    def row(estimate, value):
        if estimate is None or not isfinite(value):
            return (nan, nan, nan)
        return (
            estimate.value / value - 1.0,
            (estimate.upper - estimate.lower) / value,
            estimate.lower <= value <= estimate.upper,
        )

    left = max(true["solution_left"], 1e-9)
    return {
        "foam rate": row(output.foam_rate, true["foam_rate"]),
        "foam so far": row(output.foam_total, true["foam_total"]),
        "density": row(output.density, true["foam_density"] - GAS_DENSITY),  # as a bucket weighs it
        "foam to go": row(output.foam_left, left / true["solution_flow"] * true["foam_rate"]),
        "solution left": row(output.solution_left, left / 1002.0),
        "time to go": row(output.time_left, left / true["solution_flow"]),
    }


# --- tables ---------------------------------------------------------------------------------------------------------


def rate(count, hours):
    """Alarms in 10 h with the two-sided 95 % limits of a Poisson count."""
    low = stats.chi2.ppf(0.025, 2 * count) / 2 if count else 0.0
    high = stats.chi2.ppf(0.975, 2 * count + 2) / 2
    return f"{10 * count / hours:.2f} ({10 * low / hours:.2f} to {10 * high / hours:.2f})"


def report(hours, runs, processes, more):
    started = time.perf_counter()
    seeds = range(1001, 1001 + max(1, round(hours * 3600 / QUIET_RUN)))
    further = range(4001, 4001 + round(more * 3600 / QUIET_RUN))
    many = range(2001, 2001 + runs)
    with Pool(processes) as pool:
        silence = pool.map(quiet, seeds, chunksize=1)
        longer = pool.map(quiet_as_usual, further, chunksize=1)
        leaks = pool.map(
            leak, [(s, side, size) for s in many for side in ("leak_before", "leak_after") for size in LEAKS], 8
        )
        faults = pool.map(fault, [(s, name) for s in many for name in FAULTS], len(FAULTS))
        dry = pool.map(emptied, [(s, scale) for s in many for scale in (True, False)], 2)
        figures = pool.map(foam, many, 1)
    hours = len(silence) * QUIET_RUN / 3600
    lines = [
        "# The run watch on simulated runs",
        "",
        "Made by `python tests/performance/run_watch.py`: what the watch did on these runs, no promise for a real line, which",
        (
            f"is noisier. {len(silence)} runs of {QUIET_RUN / 60:.0f} min in order (random numbers {seeds[0]} to {seeds[-1]}), "
            f"{runs} runs a fault ({many[0]} to {many[-1]}),"
        ),
        "five builds in turn. The curve and the wet line that the watch has were measured by simulated sweeps.",
        f"It took {(time.perf_counter() - started) / 60:.0f} min with {processes} processes.",
        "",
        "## False alarms, and leaks found within 20 s",
        "",
        f"In {hours:.1f} h of runs in which nothing is wrong; alarms of every severity are counted. Cells: share found, median",
        "delay. On the line as simulated, which is quiet, the least changes that the charts take for one decide, not the design;",
        "the restless line adds 2 % of movement to the flow and 0.3 % to the pressure, the wild one 5 % and 0.5 %.",
        "",
        "| line | designed for one in | alarms | in 10 h (95 %) | "
        + " | ".join(f"{side[5:]} {size:.1%}" for side in ("leak_before", "leak_after") for size in LEAKS)
        + " |",
        "|" + "---|" * (4 + 2 * len(LEAKS)),
    ]
    for line in LINES:
        for design in DESIGNS:
            count = sum(len(one[line, design]) for one in silence)
            cells = []
            for side in ("leak_before", "leak_after"):
                for size in LEAKS:
                    delays = [found[line, design] for s, z, found in leaks if s == side and z == size]
                    cells.append(f"{np.mean(np.isfinite(delays)):.0%}, {_median(delays)}")
            lines.append(f"| {line} | {design:g} h | {count} | {rate(count, hours)} | " + " | ".join(cells) + " |")
    every = [code for one in silence for code in one["as simulated", 40.0]] + [code for one in longer for code in one]
    total = hours + len(longer) * QUIET_RUN / 3600
    lines += [
        "",
        f"With {len(longer)} more runs of the line as simulated (random numbers from {further.start}), the usual design has",
        f"{total:.0f} h: {len(every)} alarms, {rate(len(every), total)} in 10 h (95 %).",
        "",
    ]
    for line in LINES:
        said = Counter(code for one in silence for code in one[line, 40.0])
        lines.append(f"Said without reason at the usual design (40 h), {line}: {dict(said) or 'nothing'}.  ")
    lines.append("")
    lines += _delays(faults, runs) + _dry(dry) + _foam(figures)
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text("\n".join(lines) + "\n", "utf-8")
    return "\n".join(lines)


def _median(delays):
    known = [delay for delay in delays if isfinite(delay)]
    return f"{np.median(known):.1f} s" if known else "-"


def _delays(faults, runs):
    lines = [
        "## Delays",
        "",
        "From the fault to the first alarm of any kind, and to the one that names it. Leaks are 10 % of the flow.",
        "",
        "| fault | watched s | found | first alarm: median, 90 %, largest s | named right | named: median, largest s | first called |",
        "|---|---|---|---|---|---|---|",
    ]
    for name, (seconds, _) in FAULTS.items():
        rows = [found["everything"] for fault_name, found in faults if fault_name == name]
        first = np.array([row[0] for row in rows])
        named = np.array([row[2] for row in rows])
        called = ", ".join(f"{code or 'nothing'} {n}" for code, n in Counter(row[1] for row in rows).most_common())
        lines.append(
            f"| {name} | {seconds} | {np.mean(np.isfinite(first)):.0%} | {_three(first)} | "
            f"{np.mean(np.isfinite(named)):.0%} | {_two(named)} | {called} |"
        )
    lines += [
        "",
        "With missing parts: share found, share named right, median delay of the first alarm.",
        "",
        "| fault | " + " | ".join(PARTS) + " |",
        "|" + "---|" * (1 + len(PARTS)),
    ]
    for name in FAULTS:
        cells = []
        for words in PARTS:
            rows = [found[words] for fault_name, found in faults if fault_name == name]
            first, named = [row[0] for row in rows], [row[2] for row in rows]
            cells.append(f"{np.mean(np.isfinite(first)):.0%}, {np.mean(np.isfinite(named)):.0%}, {_median(first)}")
        lines.append(f"| {name} | " + " | ".join(cells) + " |")
    return [*lines, ""]


def _three(values):
    known = values[np.isfinite(values)]
    return f"{np.median(known):.2f}, {np.quantile(known, 0.9):.2f}, {known.max():.2f}" if len(known) else "-"


def _two(values):
    known = values[np.isfinite(values)]
    return f"{np.median(known):.2f}, {known.max():.2f}" if len(known) else "-"


def _dry(rows):
    lines = [
        "## A reservoir that runs dry",
        "",
        "From the moment the solution no longer stands over the intake. Share: foam made from then to the alarm, over all",
        "foam still made from then on. Dry is when 2 % of that last solution are left.",
        "",
        (
            "| | runs | warned after s: median, largest | share of that foam: median, largest | warning before dry s: median | "
            "“dry” after dry s: median | said too early |"
        ),
        "|---|---|---|---|---|---|---|",
    ]
    for scale in (True, False):
        mine = [row[1:] for row in rows if row[0] is scale]
        after, share, before, said = (np.array([row[k] for row in mine]) for k in range(4))
        early = sum(len(row[4]) for row in mine)
        lines.append(
            f"| {'with' if scale else 'without'} scale | {len(mine)} | {_two(after)} | "
            f"{np.nanmedian(share):.1%}, {np.nanmax(share):.1%} | {-np.nanmedian(before):.1f} | {np.nanmedian(said):+.1f} | {early} |"
        )
    return [*lines, ""]


def _foam(figures):
    lines = [
        "## Foam figures",
        "",
        "At 50 s, before any sample, and at 80 s, after one sample at 60 s of 20 L, weighed to 1 g and timed to 0.3 s by hand.",
        "Root mean square of the relative error, median width of the 95 % interval, share of intervals that hold the truth.",
        "",
        "| figure | before, no scale | after, no scale | before, scale | after, scale |",
        "|---|---|---|---|---|",
    ]
    for name in ("foam rate", "foam so far", "density", "foam to go", "solution left", "time to go"):
        cells = []
        for scale in (False, True):
            for at in (50.0, 80.0):
                rows = np.array([one[scale, at][name] for one in figures], dtype=float)
                rows = rows[np.isfinite(rows[:, 0])]
                cells.append(
                    f"{np.sqrt(np.mean(rows[:, 0] ** 2)):.1%}, {np.median(rows[:, 1]):.0%}, {rows[:, 2].mean():.0%}"
                )
        lines.append(f"| {name} | " + " | ".join(cells) + " |")
    return lines


if __name__ == "__main__":
    given = [float(text) for text in sys.argv[1:]]
    hours, runs, processes, more = (*given, *(12.0, 15.0, 2.0, 28.0)[len(given) :])
    print(report(hours, int(runs), int(processes), more))
