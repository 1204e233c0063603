"""Plausibility checks of a calibration: factor far from the data sheet, wrong unit, wrong sign."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from frothline.numerics.arrays import Floats
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_check import nominal_lines
from frothline.sensors.description import RigDescription
from frothline.sensors.finding import Finding
from frothline.sensors.spool import Spool
from frothline.units import CONVENTIONAL_INCH_OF_WATER, CUBIC_FOOT_PER_MINUTE, POUND, STANDARD_GRAVITY

_UNITS: Mapping[str, tuple[tuple[str, float], ...]] = {
    # one SI unit in the unit that was probably meant
    "Pa": (
        ("kPa", 1e-3),
        ("hPa or mbar", 1e-2),
        ("mmH2O", 1 / STANDARD_GRAVITY),
        ("inH2O", 1 / CONVENTIONAL_INCH_OF_WATER),
        ("psi", 1 / 6894.757),
        ("mmHg", 1 / 133.322),
    ),
    "kg": (("g", 1e3), ("lb", 1 / POUND), ("N", STANDARD_GRAVITY)),
    "m3/s": (
        ("L/s", 1e3),
        ("m3/h", 3600.0),
        ("L/min", 6e4),
        ("cfm", 1 / CUBIC_FOOT_PER_MINUTE),
    ),
    "V": (("mV", 1e3),),
}


_OTHER_SIGN, _FAR = 0.0, 0.25


def look_at_calibration(calibration: Calibration, description: RigDescription, spool: Spool) -> list[Finding]:
    """Findings on a calibration that does not match this board and its sensors."""
    found = [
        Finding(
            "calibration-other-board",
            "warning",
            channel,
            f"the calibration of {channel} was made on board "
            f"{calibration.channels[channel].board or calibration.board!r}, and this is {description.label!r}",
            "It is not used; data-sheet figures are used. Calibrate this board, or correct its label if it is the "
            "same board",
        )
        for channel in calibration.for_others(description.label)
    ]
    for channel, nominal in nominal_lines(description, spool).items():
        line = calibration.get(channel)
        if line is not None and (item := _against_nominal(line, nominal)) is not None:
            found.append(item)
    return found


def _against_nominal(line: ChannelCalibration, nominal: Callable[[Floats], Floats]) -> Finding | None:
    ends = np.array([line.low, line.high])
    if line.low == line.high:
        return None
    ours, theirs = np.diff(line.evaluate(ends).value)[0], np.diff(nominal(ends))[0]
    if theirs == 0:
        return None
    unit = line.unit
    factor = float(ours / theirs)
    if factor < _OTHER_SIGN:
        return Finding(
            "calibration-sign",
            "warning",
            line.channel,
            f"the calibration of {line.channel} falls where its sensor rises",
            "Two points were typed in the wrong order, or the sensor's hoses were swapped. Calibrate it again",
        )
    if abs(factor - 1) <= _FAR:
        return None
    for name, size in _UNITS.get(unit, ()):
        if abs(factor / size - 1) < 0.15:
            return Finding(
                "calibration-unit",
                "warning",
                line.channel,
                f"the calibration of {line.channel} gives {factor:.3g} times the data sheet's value: its figures "
                f"look like {name} instead of {unit}",
                f"Divide coefficients and references by {size:.6g} (the covariance by its square), or calibrate again",
            )
    return Finding(
        "calibration-far",
        "warning",
        line.channel,
        f"the calibration of {line.channel} gives {factor:.3g} times the data sheet's value",
        "Check that it belongs to this sensor and that the board's settings name the fitted part",
    )
