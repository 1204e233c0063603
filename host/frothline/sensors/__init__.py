"""Counts to SI, each figure with its standard uncertainty: converters, calibrations, budgets, and what looks wrong."""

from frothline.numerics.autocorrelation import StretchMean, mean_of_stretch
from frothline.numerics.uncertainty import coverage_factor, propagate
from frothline.sensors.budget import Budget
from frothline.sensors.budget_builder import BudgetConditions
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_file import load as load_calibration
from frothline.sensors.calibration_file import save as save_calibration
from frothline.sensors.calibration_plausibility import look_at_calibration
from frothline.sensors.converter import Converter
from frothline.sensors.description import Channel, RigDescription
from frothline.sensors.finding import Finding
from frothline.sensors.flow import straight_pipe
from frothline.sensors.plausibility import look_at_samples
from frothline.sensors.procedures.base import Procedure, Prompt, Question, Stage
from frothline.sensors.procedures.pressure_and_scale import PROCEDURES, guided
from frothline.sensors.series import UNITS, Series, Signal, Status
from frothline.sensors.spool import Spool
from frothline.sensors.sweep_plausibility import compare_flows, look_at_reach, look_at_sweep

__all__ = [
    "PROCEDURES",
    "UNITS",
    "Budget",
    "BudgetConditions",
    "Calibration",
    "Channel",
    "ChannelCalibration",
    "Converter",
    "Finding",
    "Procedure",
    "Prompt",
    "Question",
    "RigDescription",
    "Series",
    "Signal",
    "Spool",
    "Stage",
    "Status",
    "StretchMean",
    "compare_flows",
    "coverage_factor",
    "guided",
    "load_calibration",
    "look_at_calibration",
    "look_at_reach",
    "look_at_samples",
    "look_at_sweep",
    "mean_of_stretch",
    "propagate",
    "save_calibration",
    "straight_pipe",
]
