"""How well the foam rate is known before and after one weighed sample, over simulated runs with the truth beside them.

``run_of(seed)`` makes foam on a modelled rig, whole path: pins, board, frames, decoder, converter, ``run.run``. The
generator is one of ``hidden_builds`` (air caught 0.35-0.85, expansion 9-22 at 12 g/s), on the rig's own air source; its
anemometer is off as its data sheet allows. No scale helps: the reservoir is kept full. After 25 s a bucket of 10-20 L
is filled from it, with the errors of a person and kitchen gear: its volume known to 1 %, two weighings to 0.6 g each, a
stop watch to 0.3 s (all normal).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from unittest.mock import patch

import numpy as np
from hidden_builds import draw
from simulated_runs import SimulatedRun

from frothline.estimate import Estimate
from frothline.foam.sample import Weighing
from frothline.physics.foam import GAS_DENSITY
from frothline.run.run import Run
from frothline.simulation import generator as simulated

SAMPLE_AT = 25.0  # s
AFTERWARDS = 2.0  # s, until the figure is looked at again


@dataclass(frozen=True)
class FoamSaid:
    """One run: the truth (m3/s) and what was said of it, before the sample and after."""

    truth: tuple[float, float]
    said: tuple[Estimate, Estimate]
    capture: float
    expansion: float


def run_of(seed: int, number: int) -> FoamSaid | None:
    """One run; None where this source cannot make foam with this generator, which is no case."""
    rng = np.random.default_rng([seed, number])
    case, _ = draw(rng)
    drawn = case.truth
    # the specimen's scatter is the rig's own; what the drawing alone knows is put into its sizes
    build = replace(drawn.generator(wet=True).build, name="drawn", reservoir=45.0)
    volume = rng.uniform(0.010, 0.020)
    with patch.dict(simulated.BUILDS, {"drawn": build}):
        simulation = SimulatedRun("run-fed", seed=1000 * seed + number, seconds=60.0, options="&build=drawn")
        run = Run(build=case.sheet)
        before = start = end = None
        truth = simulation.truth
        for batch in simulation.batches():
            run.feed(batch)
            now, rate = truth["time"][-1], truth["foam_rate"][-1]
            if start is None and now >= SAMPLE_AT:
                if simulation.phases[-1] != "foaming" or rate < 5e-4:
                    return None
                before, start, before_truth = run.state.output.foam_rate, now, rate
                end = start + volume / rate
            if end is not None and now >= end + AFTERWARDS:
                return FoamSaid(
                    (before_truth, rate),
                    (before, run.state.output.foam_rate),
                    truth["capture"][-1],
                    simulation_expansion(truth),
                )
            if end is not None and now >= end and not run.state.samples:
                filling = [r for t, r in zip(truth["time"], truth["foam_rate"], strict=True) if start < t <= now]
                run.add_sample(weighed(volume, float(np.mean(filling)), truth["foam_density"][-1], rng), end)
    return None


def simulation_expansion(truth):
    return truth["foam_rate"][-1] / (truth["solution_flow"][-1] / simulated.SOLUTION_DENSITY)


def weighed(volume, rate, density, rng):
    """What a person reads of a bucket of foam; the scale stands in air, which the foam displaces."""
    empty = 0.8
    return Weighing(
        container_volume=volume * (1 + 0.01 * rng.standard_normal()),
        empty=empty + 0.6e-3 * rng.standard_normal(),
        full=empty + (density - GAS_DENSITY) * volume + 0.6e-3 * rng.standard_normal(),
        fill_time=volume / rate + 0.3 * rng.standard_normal(),
    )


def runs(number: int, seed: int) -> tuple[list[FoamSaid], int]:
    """``number`` runs that made foam, and how many draws did not."""
    found: list[FoamSaid] = []
    tried = 0
    while len(found) < number:
        one = run_of(seed, tried)
        tried += 1
        if one is not None:
            found.append(one)
    return found, tried - len(found)
