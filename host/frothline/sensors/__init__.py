"""Counts to SI, each figure with its standard uncertainty: converters, calibrations, budgets, and what looks wrong."""

from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.converters import Converter
from frothline.sensors.description import Channel, RigDescription
from frothline.sensors.series import UNITS, Series, Status
from frothline.sensors.spool import Spool

__all__ = [
    "UNITS",
    "Calibration",
    "Channel",
    "ChannelCalibration",
    "Converter",
    "RigDescription",
    "Series",
    "Spool",
    "Status",
]
