"""Whether the intervals are honest: how often they hold the truth, over many sweeps whose truth is known.

    python -m frothline.curve.coverage --sweeps 2000 --seed 1

run from the top of the repository. Each simulated sweep goes the whole way: samples, steady points, fit, and the
operating point with a known resistance. The sweeps come from a generator of truth that shares no code with the
estimation; it lives with the tests (``tests/performance``) and is loaded from there by path. The report and its figures
are written to ``tests/performance/results``.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from scipy import stats

from frothline.curve.blower import BlowerCurve
from frothline.curve.operating_point import OperatingPoint, operating_point
from frothline.curve.resistance import ResistanceLine
from frothline.curve.steady import find_steady
from frothline.errors import FitError
from frothline.estimate import Estimate

RESULTS = {
    "shut_off": "shut-off pressure",
    "free_delivery": "free delivery",
    "air_power": "largest air power",
    "air_power_flow": "flow at largest air power",
    "operating_flow": "operating point, flow",
    "operating_pressure": "operating point, pressure",
}
TRUTH = Path("tests/performance")


@dataclass(frozen=True)
class Outcome:
    """One result of one sweep: the truth (SI) and what was said of it."""

    result: str
    kind: str  # of source
    common: bool  # whether the sensors had errors common to all points
    form: str
    truth: float
    value: float
    lower: float
    upper: float

    @property
    def holds(self) -> bool:
        return self.lower <= self.truth <= self.upper


@dataclass(frozen=True)
class Score:
    """What many outcomes come to.

    coverage : share of intervals that hold the truth, with its own 95 % interval (Clopper and Pearson, Biometrika 26
        (1934) 404-413)
    bias : mean error over mean width of the interval
    half_width : median of half the interval over the truth
    """

    count: int
    coverage: float
    coverage_range: tuple[float, float]
    bias: float
    half_width: float


def load(path: Path) -> ModuleType:
    """The generator of truth, from its file."""
    sys.path.insert(0, str(path.parent))
    spec = importlib.util.spec_from_file_location(path.stem, path)
    if spec is None or spec.loader is None:
        raise FileNotFoundError(path)
    module = sys.modules.get(path.stem) or importlib.util.module_from_spec(spec)
    if path.stem not in sys.modules:
        sys.modules[path.stem] = module
        spec.loader.exec_module(module)
    return module


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


def one(truth: str, seed: int, number: int, kind: str | None) -> list[Outcome] | str:
    """Sweep ``number`` of a series; a refusal comes back as its words."""
    generator = load(Path(truth) / "sweep_truth.py")
    try:
        return judge(generator.draw(np.random.default_rng([seed, number]), kind))
    except FitError as error:
        return str(error)


def run(
    sweeps: int,
    seed: int,
    *,
    kind: str | None = None,
    truth: Path = TRUTH,
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

    arguments = ([str(truth)] * sweeps, [seed] * sweeps, range(sweeps), [kind] * sweeps)
    if processes > 1:
        with ProcessPoolExecutor(processes) as pool:
            take(pool.map(one, *arguments, chunksize=20))
    else:
        take(map(one, *arguments))
    return outcomes, refused


def score(outcomes: Sequence[Outcome]) -> Score:
    """Coverage, bias and width of outcomes of one result. Raises ValueError if there are none."""
    if not outcomes:
        raise ValueError("no outcomes")
    n, good = len(outcomes), sum(item.holds for item in outcomes)
    width = np.array([(item.upper - item.lower) / item.truth for item in outcomes])
    error = np.array([(item.value - item.truth) / item.truth for item in outcomes])
    bounded = np.isfinite(width) & np.isfinite(error)
    low = float(stats.beta.ppf(0.025, good, n - good + 1)) if good else 0.0
    high = float(stats.beta.ppf(0.975, good + 1, n - good)) if good < n else 1.0
    return Score(
        count=n,
        coverage=good / n,
        coverage_range=(low, high),
        bias=float(np.mean(error[bounded]) / np.mean(width[bounded])),
        half_width=float(np.median(width)) / 2,
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; exit code 0 if all coverages lie within 93 to 97 % and all biases below a tenth of the interval."""
    from frothline.curve import coverage_report  # noqa: PLC0415  the report imports this module

    parser = argparse.ArgumentParser(
        prog="python -m frothline.curve.coverage", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--sweeps", type=int, default=2000, help="number of simulated sweeps (default 2000)")
    parser.add_argument("--seed", type=int, default=1, help="of the random numbers (default 1)")
    parser.add_argument("--truth", type=Path, default=TRUTH, help="folder with the generators of truth")
    parser.add_argument("--out", type=Path, default=None, help="folder for the report (default: <truth>/results)")
    parser.add_argument("--processes", type=int, default=1)
    chosen = parser.parse_args(arguments)
    started = time.monotonic()

    def told(done: int) -> None:
        if done % 50 == 0 or done == chosen.sweeps:
            print(f"\r{done} of {chosen.sweeps} sweeps, {time.monotonic() - started:.0f} s", end="", file=sys.stderr)

    outcomes, refused = run(chosen.sweeps, chosen.seed, truth=chosen.truth, processes=chosen.processes, progress=told)
    awkward, _ = run(
        max(chosen.sweeps // 10, 1), chosen.seed, kind="power", truth=chosen.truth, processes=chosen.processes
    )
    print(file=sys.stderr)
    out = chosen.out or chosen.truth / "results"
    page = coverage_report.write(out, chosen.seed, chosen.sweeps, outcomes, refused, awkward)
    print(page)
    scores = [score([item for item in outcomes if item.result == name]) for name in RESULTS]
    return 0 if all(0.93 <= item.coverage <= 0.97 and abs(item.bias) < 0.1 for item in scores) else 1


if __name__ == "__main__":
    sys.exit(main())
