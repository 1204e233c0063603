"""From samples to steady points, to an air source's curve, a generator's resistance, and where the two meet."""

from frothline.curve.blower import BlowerCurve, BlowerFit
from frothline.curve.can_drive import DriveCheck, which_can_drive
from frothline.curve.fan_laws import Conditions, InStandardAir, corrected, corrected_each, correction, fan_law
from frothline.curve.operating_point import NoCrossing, OperatingPoint, operating_point
from frothline.curve.pooling import Pooling, pool
from frothline.curve.power_law import PowerLaw, fit_power_law
from frothline.curve.resistance import ResistanceLine
from frothline.curve.resistance_fit import ResistanceFit, fit_resistance
from frothline.curve.source_kinds import KINDS, SourceKind, overlay
from frothline.curve.steadiness_test import SteadySettings
from frothline.curve.steady import OnlineSteady, Refusal, SteadyReport, SteadyState, find_steady
from frothline.curve.steady_points import CommonError, SteadyPoint

__all__ = [
    "KINDS",
    "BlowerCurve",
    "BlowerFit",
    "CommonError",
    "Conditions",
    "DriveCheck",
    "InStandardAir",
    "NoCrossing",
    "OnlineSteady",
    "OperatingPoint",
    "Pooling",
    "PowerLaw",
    "Refusal",
    "ResistanceFit",
    "ResistanceLine",
    "SourceKind",
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
    "which_can_drive",
]
