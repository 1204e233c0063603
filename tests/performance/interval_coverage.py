"""Whether the intervals are honest: how often they hold the truth, over many sweeps whose truth is known.

    python tests/performance/interval_coverage.py --sweeps 2000 --seed 1

run from the top of the repository. Each simulated sweep goes the whole way: samples, steady points, fit, and the
operating point with a known resistance. The sweeps come from a generator of truth that shares no code with the
estimation (``sweep_truth``). The report and its figures are written to ``tests/performance/results``.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import coverage_report
import numpy as np
import sweep_truth
from scores import RESULTS, Outcome, score

from frothline.curve.blower import BlowerCurve
from frothline.curve.operating_point import OperatingPoint, operating_point
from frothline.curve.resistance import ResistanceLine
from frothline.curve.steady import find_steady
from frothline.errors import FitError
from frothline.estimate import Estimate

KEPT = Path(__file__).parent / "results"


def judge(sweep: Any) -> list[Outcome]:
    """One sweep the whole way. Raises FitError where the points cannot carry a curve."""
    report = find_steady(sweep.time, sweep.pressure, sweep.flow, common=sweep.common)
    fit = BlowerCurve().fit(report.points)
    said: dict[str, Estimate] = {
        "shut_off": fit.shut_off,
        "free_delivery": fit.free_delivery,
        "air_power": fit.air_power,
        "air_power_flow": fit.air_power_flow,
    }
    meeting = operating_point(fit, ResistanceLine(*sweep.load))
    if isinstance(meeting, OperatingPoint):
        said |= {"operating_flow": meeting.flow, "operating_pressure": meeting.pressure}
    best = fit.candidates[0].form if fit.candidates else fit.form
    return [
        Outcome(name, sweep.kind, bool(sweep.common), best, sweep.truth[name], item.value, item.lower, item.upper)
        for name, item in said.items()
    ]


def one(seed: int, number: int, kind: str | None) -> list[Outcome] | str:
    """Sweep ``number`` of a series; a refusal comes back as its words."""
    try:
        return judge(sweep_truth.draw(np.random.default_rng([seed, number]), kind))
    except FitError as error:
        return str(error)


def run(
    sweeps: int,
    seed: int,
    *,
    kind: str | None = None,
    processes: int = 1,
    progress: Callable[[int], None] | None = None,
) -> tuple[list[Outcome], list[str]]:
    """Outcomes of ``sweeps`` sweeps and the words of those that were refused."""
    outcomes: list[Outcome] = []
    refused: list[str] = []

    def take(results: Iterable[list[Outcome] | str]) -> None:
        for number, result in enumerate(results):
            if isinstance(result, str):
                refused.append(result)
            else:
                outcomes.extend(result)
            if progress is not None:
                progress(number + 1)

    arguments = ([seed] * sweeps, range(sweeps), [kind] * sweeps)
    if processes > 1:
        with ProcessPoolExecutor(processes) as pool:
            take(pool.map(one, *arguments, chunksize=20))
    else:
        take(map(one, *arguments))
    return outcomes, refused


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; exit code 0 if all coverages lie within 93 to 97 % and all biases below a tenth of the interval."""
    parser = argparse.ArgumentParser(
        prog="python tests/performance/interval_coverage.py", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--sweeps", type=int, default=2000, help="number of simulated sweeps (default 2000)")
    parser.add_argument("--seed", type=int, default=1, help="of the random numbers (default 1)")
    parser.add_argument("--out", type=Path, default=KEPT, help="folder for the report")
    parser.add_argument("--processes", type=int, default=1)
    chosen = parser.parse_args(arguments)
    started = time.monotonic()

    def told(done: int) -> None:
        if done % 50 == 0 or done == chosen.sweeps:
            print(f"\r{done} of {chosen.sweeps} sweeps, {time.monotonic() - started:.0f} s", end="", file=sys.stderr)

    outcomes, refused = run(chosen.sweeps, chosen.seed, processes=chosen.processes, progress=told)
    awkward, _ = run(max(chosen.sweeps // 10, 1), chosen.seed, kind="power", processes=chosen.processes)
    print(file=sys.stderr)
    page = coverage_report.write(chosen.out, chosen.seed, chosen.sweeps, outcomes, refused, awkward)
    print(page)
    scores = [score([item for item in outcomes if item.result == name]) for name in RESULTS]
    return 0 if all(0.93 <= item.coverage <= 0.97 and abs(item.bias) < 0.1 for item in scores) else 1


if __name__ == "__main__":
    sys.exit(main())
