"""Conversion of load cell counts to mass. Without a calibration only counts are available."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.numerics.arrays import Statuses
from frothline.numerics.uncertainty import Contribution, rectangular, share
from frothline.sensors.calibration import ChannelCalibration
from frothline.sensors.datasheets import HX711, LoadCellConverter
from frothline.sensors.reading import Reading
from frothline.sensors.series import Status, mark
from frothline.sensors.spool import ScaleSettings
from frothline.wire import ENUMS

FLAG = ENUMS["device_flag"]
ZERO_LIMIT = 0.02  # of capacity: reading of an unloaded cell that was never zeroed; common practice, no source


def counts_per_kilogram(settings: ScaleSettings, converter: LoadCellConverter = HX711) -> float:
    """Counts per kilogram from the data of cell and converter: sensitivity/full scale x 2^23 / capacity."""
    return settings.sensitivity / converter.full_scale * (converter.top + 1) / settings.capacity


def _status(counts: NDArray[Any], flags: NDArray[Any], converter: LoadCellConverter) -> Statuses:
    status: Statuses = np.where((flags & FLAG["present"]) != 0, 0, Status.MISSING).astype(np.uint8)
    ends = ((flags & FLAG["saturated"]) != 0) | (counts >= converter.top) | (counts <= -converter.top - 1)
    mark(status, ends & (status == 0), Status.SATURATED)
    return status


def _noise(converter: LoadCellConverter) -> float:
    """Counts, standard deviation."""
    return converter.noise / converter.supply / converter.full_scale * (converter.top + 1)


def raw_counts(counts: NDArray[Any], flags: NDArray[Any], converter: LoadCellConverter = HX711) -> Reading:
    """Counts (n,) as sent; NaN where the converter did not answer or was saturated."""
    status = _status(counts, flags, converter)
    unknown = (status & (Status.MISSING | Status.SATURATED)) != 0
    value = np.where(unknown, np.nan, counts.astype(np.float64))
    return Reading(value, status, (share("noise", "random", _noise(converter), origin=converter.source),))


def mass(
    counts: NDArray[Any],
    flags: NDArray[Any],
    settings: ScaleSettings,
    calibration: ChannelCalibration | None = None,
    zero: float | None = None,
    converter: LoadCellConverter = HX711,
) -> Reading:
    """Kg (n,) from counts and device flags; ``zero`` is the count of the empty pan (tare).

    NaN, MISSING and UNCALIBRATED without a calibration, unless the settings themselves are calibrated.
    """
    status = _status(counts, flags, converter)
    count = counts.astype(np.float64)
    if calibration is None and not settings.calibrated:
        mark(status, status == 0, Status.UNCALIBRATED)
        mark(status, np.ones(status.shape, np.bool_), Status.MISSING)
        return Reading(np.full(status.shape, np.nan), status, ())
    per_kg = counts_per_kilogram(settings, converter)
    shares: tuple[Contribution, ...] = (share("noise", "random", _noise(converter) / per_kg, origin=converter.source),)
    if calibration is not None:
        shift = 0.0 if zero is None else float(calibration.evaluate(np.asarray(zero)).value)
        fitted = calibration.evaluate(count)
        value = fitted.value - shift
        mark(status, fitted.outside & (status == 0), Status.OUT_OF_RANGE)
        shares = (*shares, *calibration.shares(fitted))
    else:
        value = (count - (zero or 0.0)) / per_kg
        cell = share("cell and converter", "systematic", settings.u_relative * value, origin="spool file")
        shares = (*shares, cell)
        if zero is None:
            empty = rectangular(ZERO_LIMIT * settings.capacity)
            shares = (*shares, share("never zeroed", "systematic", empty, "rectangular", "common practice"))
    unknown = (status & (Status.MISSING | Status.SATURATED)) != 0
    with np.errstate(invalid="ignore"):
        mark(status, ~unknown & (value > settings.capacity * 1.05), Status.OUT_OF_RANGE)
    return Reading(np.where(unknown, np.nan, value), status, shares)
