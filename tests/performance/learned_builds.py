"""How well the next generator of one builder is predicted from its sheet, once earlier ones were measured.

A builder's packings have a wet factor in common, 2 to 6 (evenly in its logarithm), and each build has its own beside it.
``own`` is the standard deviation of that own part, of the logarithm; None gives builds that have nothing in common,
which is against what the prior supposes. All else is drawn for each build alone, as in ``hidden_builds``.
"""

from __future__ import annotations

from math import exp, log

import numpy as np
from hidden_builds import Case, draw

from frothline.curve.blower import BlowerCurve
from frothline.curve.operating_point import NoCrossing
from frothline.generator.experience import MeasuredBuild, OwnGenerators
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.prediction import predict
from frothline.generator.pressure_model import from_sheet

EARLIER = (0, 1, 2, 3, 5, 8)  # measured builds before the one that is predicted
SPREADS = ((0.15, "own part 0.15"), (0.46, "own part 0.46"), (None, "nothing in common"))


def conditions_of(case: Case) -> OperatingConditions:
    return OperatingConditions(case.session.ambient, case.session.line_temperature)


def measured(case: Case) -> MeasuredBuild:
    return MeasuredBuild(case.sheet, conditions_of(case), case.wet, case.dry)


def builder(seed: int, number: int, own: float | None, builds: int) -> list[Case]:
    """The builds of one builder, in their order."""
    rng = np.random.default_rng([seed, number, 77])
    common = rng.uniform(log(2.0), log(6.0))

    def factor() -> float:
        return float(exp(rng.uniform(log(2.0), log(6.0)) if own is None else common + own * rng.standard_normal()))

    return [draw(np.random.default_rng([seed, number, k]), wet_factor=factor())[0] for k in range(builds)]


def predicted(cases: list[Case], earlier: int):
    """``(operating point, truth)`` of the last build by its sheet and the ``earlier`` builds just before it."""
    last = cases[-1]
    experience = OwnGenerators(tuple(measured(case) for case in cases[len(cases) - 1 - earlier : -1]))
    point = predict(from_sheet(last.sheet, conditions_of(last), experience), BlowerCurve().fit(last.of_source)).point
    return (None if isinstance(point, NoCrossing) else point), last.meets
