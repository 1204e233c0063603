"""How well the next generator of one builder is predicted from its sheet, once earlier ones were measured.

A builder's packings have a wet factor in common, 2 to 6 (evenly in its logarithm), and each build has its own beside it.
``own`` is the standard deviation of that own part, of the logarithm; None gives builds that have nothing in common,
which is against what the prior supposes. All else is drawn for each build alone, as in ``hidden_builds``.

``others`` gives builds of other builders, whose common factors are drawn likewise; with ``far`` all of theirs are 4.5 to
6 and the builder's own is 2 to 2.5, so that what they agree on is wrong for the own workshop.
"""

from __future__ import annotations

from math import exp, log

import numpy as np
from hidden_builds import Case, draw

from frothline.curve.blower import BlowerCurve
from frothline.curve.operating_point import NoCrossing
from frothline.generator.experience import OWN, MeasuredBuild, MeasuredBuilds
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.prediction import predict
from frothline.generator.pressure_model import from_sheet

EARLIER = (0, 1, 2, 3, 5, 8)  # measured builds before the one that is predicted
OTHERS = (0, 1, 3, 6)  # other builders, each with BUILDS_OF_ANOTHER measured builds
BUILDS_OF_ANOTHER = 2
WORLDS = (
    (0.15, False, "own part 0.15, builders drawn alike"),
    (None, False, "nothing in common"),
    (0.15, True, "other builders who agree, and a workshop unlike theirs"),
)
SPREADS = ((0.15, "own part 0.15"), (0.46, "own part 0.46"), (None, "nothing in common"))


def conditions_of(case: Case) -> OperatingConditions:
    return OperatingConditions(case.session.ambient, case.session.line_temperature)


def measured(case: Case, by: str = OWN) -> MeasuredBuild:
    return MeasuredBuild(case.sheet, conditions_of(case), case.wet, case.dry, by)


def builder(
    seed: int, number: int, own: float | None, builds: int, between: tuple[float, float] = (2.0, 6.0)
) -> list[Case]:
    """The builds of one builder, in their order; its common factor is drawn ``between`` two."""
    rng = np.random.default_rng([seed, number, 77])
    common = rng.uniform(log(between[0]), log(between[1]))

    def factor() -> float:
        return float(exp(rng.uniform(log(2.0), log(6.0)) if own is None else common + own * rng.standard_normal()))

    return [draw(np.random.default_rng([seed, number, k]), wet_factor=factor())[0] for k in range(builds)]


def predicted(cases: list[Case], earlier: int):
    """``(operating point, truth)`` of the last build by its sheet and the ``earlier`` builds just before it."""
    last = cases[-1]
    return _predicted(last, [measured(case) for case in cases[len(cases) - 1 - earlier : -1]])


def first_and_others(seed: int, number: int, own: float | None, others: int, far: bool) -> tuple[Case, list]:
    """The first build of a builder, and the measured builds of each of ``others`` other builders."""
    first = builder(seed, number, own, 1, (2.0, 2.5) if far else (2.0, 6.0))[0]
    theirs = [
        builder(seed, 1000 + number * others + k, own, BUILDS_OF_ANOTHER, (4.5, 6.0) if far else (2.0, 6.0))
        for k in range(others)
    ]
    return first, [[measured(case, f"builder {k}") for case in some] for k, some in enumerate(theirs)]


def _predicted(last: Case, known: list[MeasuredBuild]):
    experience = MeasuredBuilds(tuple(known))
    point = predict(from_sheet(last.sheet, conditions_of(last), experience), BlowerCurve().fit(last.of_source)).point
    return (None if isinstance(point, NoCrossing) else point), last.meets


def predicted_by_others(first: Case, theirs: list, count: int):
    """``(operating point, truth)`` of a builder's first build by its sheet and the builds of ``count`` other builders."""
    return _predicted(first, [one for some in theirs[:count] for one in some])
