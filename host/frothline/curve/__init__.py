"""From samples to steady points, to an air source's curve, a generator's resistance, and where the two meet."""

from frothline.curve.blower import BlowerCurve, BlowerFit
from frothline.curve.carried import Carried, which_can_carry
from frothline.curve.conditions import Conditions, InStandardAir, corrected, corrected_each, correction, fan_law
from frothline.curve.operating_point import NoCrossing, OperatingPoint, operating_point
from frothline.curve.points import CommonError, SteadyPoint
from frothline.curve.pooling import Pooling, pool
from frothline.curve.power_law import PowerLaw, fit_power_law
from frothline.curve.resistance import ResistanceLine
from frothline.curve.resistance_fit import ResistanceFit, fit_resistance
from frothline.curve.sources import KINDS, Kind, overlay
from frothline.curve.steady import OnlineSteady, Refusal, SteadyReport, SteadyState, find_steady
from frothline.curve.stillness import SteadySettings

__all__ = [
    "KINDS",
    "BlowerCurve",
    "BlowerFit",
    "Carried",
    "CommonError",
    "Conditions",
    "InStandardAir",
    "Kind",
    "NoCrossing",
    "OnlineSteady",
    "OperatingPoint",
    "Pooling",
    "PowerLaw",
    "Refusal",
    "ResistanceFit",
    "ResistanceLine",
    "SteadyPoint",
    "SteadyReport",
    "SteadySettings",
    "SteadyState",
    "corrected",
    "corrected_each",
    "correction",
    "fan_law",
    "find_steady",
    "fit_power_law",
    "fit_resistance",
    "operating_point",
    "overlay",
    "pool",
    "which_can_carry",
]
