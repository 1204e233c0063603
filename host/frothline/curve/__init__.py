"""From samples to steady points, to an air source's curve, a generator's resistance, and where the two meet."""

from frothline.curve.blower import BlowerCurve, BlowerFit
from frothline.curve.points import CommonError, SteadyPoint
from frothline.curve.steady import OnlineSteady, Refusal, SteadyReport, SteadySettings, SteadyState, find_steady

__all__ = [
    "BlowerCurve",
    "BlowerFit",
    "CommonError",
    "OnlineSteady",
    "Refusal",
    "SteadyPoint",
    "SteadyReport",
    "SteadySettings",
    "SteadyState",
    "find_steady",
]
