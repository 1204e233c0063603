"""From samples to steady points, to an air source's curve, a generator's resistance, and where the two meet."""

from frothline.curve.blower import BlowerCurve, BlowerFit
from frothline.curve.operating_point import Carried, NoCrossing, OperatingPoint, operating_point, which_can_carry
from frothline.curve.points import CommonError, SteadyPoint
from frothline.curve.resistance import ResistanceFit, ResistanceLine, fit_resistance
from frothline.curve.steady import OnlineSteady, Refusal, SteadyReport, SteadySettings, SteadyState, find_steady

__all__ = [
    "BlowerCurve",
    "BlowerFit",
    "Carried",
    "CommonError",
    "NoCrossing",
    "OnlineSteady",
    "OperatingPoint",
    "Refusal",
    "ResistanceFit",
    "ResistanceLine",
    "SteadyPoint",
    "SteadyReport",
    "SteadySettings",
    "SteadyState",
    "find_steady",
    "fit_resistance",
    "operating_point",
    "which_can_carry",
]
