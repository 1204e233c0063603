"""How quickly and how wrongly the steady-state test decides, measured on signals whose truth is known.

    python tests/performance/steadiness.py --runs 200 --seed 1

run from the top of the repository; the signals (``steady_truth``) share no code with the test. The page is written to ``tests/performance/results/steady.md``.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import numpy as np
import steady_truth
from numpy.typing import NDArray

from frothline.curve.steadiness_test import SteadySettings
from frothline.curve.steady import OnlineSteady, Refusal
from frothline.curve.steady_points import SteadyPoint

Array = NDArray[np.float64]
KEPT = Path(__file__).parent / "results"
CHUNK = 0.1  # s, as a page would feed it
RAMPS = (0.0005, 0.002, 0.005, 0.01, 0.03, 0.1)  # relative change of flow a second
STEPS = (0.01, 0.03, 0.1, 0.3)
DRIFTS = (0.0, 0.005, 0.01, 0.03, 0.06)  # over a warm-up of 60 s time constant, seen for 60 s


@dataclass(frozen=True)
class Watch:
    """One signal as the live test saw it: times (s) of its decisions, whether it said steady, and what it collected."""

    time: Array
    steady: NDArray[np.bool_]
    points: tuple[SteadyPoint, ...]
    refused: tuple[Refusal, ...]

    def first_steady(self, after: float = 0.0) -> float:
        """Time of the first "steady" after ``after``, s; NaN if none came."""
        found = self.time[self.steady & (self.time > after)]
        return float(found[0]) if len(found) else float("nan")

    def left_steady(self, after: float) -> float:
        """Time of the first decision after ``after`` that is not steady, s; NaN if none came."""
        found = self.time[~self.steady & (self.time > after)]
        return float(found[0]) if len(found) else float("nan")

    @property
    def covered(self) -> float:
        """Share of the time that lies within accepted points."""
        return sum(point.duration for point in self.points) / float(self.time[-1] - self.time[0])


def watch(signal: tuple[Array, Array, Array], settings: SteadySettings | None = None) -> Watch:
    """Feeds time, pressure and flow (n,) in small chunks, as live."""
    time, pressure, flow = signal
    finder = OnlineSteady(settings)
    times, steady = [], []
    cuts = np.searchsorted(time, np.arange(time[0] + CHUNK, time[-1], CHUNK))
    for part in np.split(np.arange(len(time)), cuts):
        if len(part):
            state = finder.feed(time[part], pressure[part], flow[part])
            times.append(float(time[part[-1]]))
            steady.append(state.state in ("steady", "drifting"))
    finder.finish()
    return Watch(np.array(times), np.array(steady), tuple(finder.points), tuple(finder.refused))


def still_row(truth: ModuleType, seed: int, runs: int, noise: str) -> str:
    """A line that stands still: how long until it is called so, and how much of the time it is not."""
    seen = [watch(truth.signal(_rng(seed, k), truth.still(60.0), noise)) for k in range(runs)]
    delay = np.array([item.first_steady() for item in seen])
    false = np.mean([1 - item.steady[item.time > item.first_steady()].mean() for item in seen])
    refused = np.mean([len(item.refused) for item in seen])
    return (
        f"| {noise} | {np.nanmedian(delay):.1f} s | {np.nanpercentile(delay, 95):.1f} s | {false:.1%} | "
        f"{refused:.2f} | {np.mean([item.covered for item in seen]):.0%} |"
    )


def ramp_row(truth: ModuleType, seed: int, runs: int, noise: str, rate: float) -> str:
    """A line that moves all the time: whatever is accepted is accepted falsely."""
    seen = [watch(truth.signal(_rng(seed, k), truth.ramp(rate, 30.0), noise)) for k in range(runs)]
    called = np.mean([item.steady.mean() for item in seen])
    points = np.mean([len(item.points) for item in seen])
    change = [rate * point.duration for item in seen for point in item.points]
    within = f"{np.mean(change):.2%}" if change else "–"
    return f"| {noise} | {rate:.2%}/s | {called:.1%} | {points:.2f} | {within} |"


def step_row(truth: ModuleType, seed: int, runs: int, noise: str, size: float) -> str:
    """A movement after a long hold: how soon it is seen, how soon the new place is steady, what straddles it."""
    at, moved = 12.0, 13.0  # s: the movement begins; hand and line have come to rest
    seen = [watch(truth.signal(_rng(seed, k), truth.step(size, at, 30.0), noise)) for k in range(runs)]
    held = [item for item in seen if bool(item.steady[np.searchsorted(item.time, at) - 1])]
    delay = np.array([item.left_steady(at) - at for item in held])
    again = np.array([item.first_steady(item.left_steady(at)) - moved for item in held])
    missed = np.mean(~(delay < 5.0))
    straddle = np.mean([any(p.start < at - 0.5 and p.end > moved + 0.5 for p in item.points) for item in seen])
    return (
        f"| {noise} | {size:.0%} | {np.nanmedian(delay):.2f} s | {missed:.1%} | {np.nanmedian(again):.1f} s | "
        f"{straddle:.1%} |"
    )


def drift_row(truth: ModuleType, seed: int, runs: int, noise: str, size: float) -> str:
    """A source warming up while the hand holds: said, cut into pieces that show it, or averaged away."""
    seen = [watch(truth.signal(_rng(seed, k), truth.warming(size, 60.0, 60.0), noise)) for k in range(runs)]
    said = np.mean([any("slowly" in item.reason for item in w.refused) for w in seen])
    noted = np.mean([any("drifted" in note for p in w.points for note in p.notes) for w in seen])
    silent = np.mean([any(p.duration > 30.0 and not p.notes for p in w.points) for w in seen])
    longest = np.mean([max((p.duration for p in w.points), default=0.0) for w in seen])
    return f"| {noise} | {size:.1%} | {said:.0%} | {noted:.0%} | {silent:.0%} | {longest:.0f} s |"


def page(truth: ModuleType, seed: int, runs: int) -> str:
    """The whole page, Markdown."""
    noises = tuple(truth.NOISES)
    settings = SteadySettings()
    lines = [
        "# The steady-state test, measured",
        "",
        f"Made by `python tests/performance/steadiness.py --runs {runs} --seed {seed}`; {runs} signals for each row,",
        "from `tests/performance/steady_truth.py`, fed in chunks of 0.1 s. Settings: the defaults, blocks of",
        f"{settings.block} s, windows of {settings.window} blocks. Noise of one sample, share of the reading: "
        + ", ".join(
            f"{name} {white:.1%} white and {slow:.1%} with 0.2 s correlation time"
            for name, (white, slow) in truth.NOISES.items()
        )
        + ".",
        "",
        "## Standing still for 60 s",
        "",
        "| noise | steady after, median | 95 % of them within | later called moving | refused | time within points |",
        "|---|---|---|---|---|---|",
        *(still_row(truth, seed, runs, noise) for noise in noises),
        "",
        "## Moving all the time, 30 s",
        "",
        "Called steady and points are false here; the last column is how far the flow moved within an accepted point.",
        "",
        "| noise | speed | called steady | points accepted in 30 s | movement within a point |",
        "|---|---|---|---|---|",
        *(ramp_row(truth, seed, runs, noise, rate) for noise in noises for rate in RAMPS),
        "",
        "## One movement of the hand (0.3 s) after 12 s of standing still",
        "",
        "| noise | change of flow | seen after, median | not within 5 s | steady again after | point straddles it |",
        "|---|---|---|---|---|---|",
        *(step_row(truth, seed, runs, noise, size) for noise in noises for size in STEPS),
        "",
        "## Warming up: flow approaches its end with a time constant of 60 s, held for 60 s",
        "",
        "A stretch is refused as drifting, or kept with the drift in its note and its uncertainty, or kept for more",
        "than 30 s without a word (which is right in the first row alone).",
        "",
        "| noise | whole warm-up | refused as drifting | drift noted | silent | longest point |",
        "|---|---|---|---|---|---|",
        *(drift_row(truth, seed, runs, noise, size) for noise in noises for size in DRIFTS),
    ]
    return "\n".join(lines) + "\n"


def _rng(seed: int, number: int) -> np.random.Generator:
    return np.random.default_rng([seed, number])


def main(arguments: Sequence[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(prog="python tests/performance/steadiness.py", description=(__doc__ or "")[:100])
    parser.add_argument("--runs", type=int, default=200, help="signals for each row (default 200)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=KEPT, help="folder for the page")
    chosen = parser.parse_args(arguments)
    chosen.out.mkdir(parents=True, exist_ok=True)
    (chosen.out / "steady.md").write_text(page(steady_truth, chosen.seed, chosen.runs), encoding="utf-8")
    print(chosen.out / "steady.md")
    return 0


if __name__ == "__main__":
    sys.exit(main())
