"""Checks of calibration points and of the fitted line, used by page and command line.

A point is compared with the earlier points, a line with its points and with the data sheet. Each function returns the
text of a refusal, or an empty string.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Protocol

import numpy as np

from frothline.numerics.arrays import Floats
from frothline.sensors.calibration_fit import Fit
from frothline.sensors.description import RigDescription
from frothline.sensors.load_cell import counts_per_kilogram
from frothline.sensors.spool import Spool

Line = Callable[[Floats], Floats]
# Channels whose reading must rise with the reference. A load cell may be wired in either direction.
RISING = frozenset({"pressure", "differential", "rotor", "thermal", "temperature", "supply", "plate"})
READING_UNITS = {  # shown after a reading; "ratio" and "1/ratio" have no unit
    "rotor": " Hz",
    "thermal": " V",
    "temperature": " 1/K",
    "scale": " counts",
    "plate": " kg/s",
}
SIGMAS = 5.0  # two readings or references differ if they are this many standard uncertainties apart
LEAST_SLOPE = 0.05  # of the data sheet's slope: a smaller one counts as no change; judgement
MOST_SLOPE = 20.0  # times the data sheet's; the slopes of the supported sensors differ by up to 11 times
WORST_RESIDUAL = 0.1  # of the range of the references; judgement
ZERO_BANDS = 1.5  # accuracy bands of the data sheet, limit of a reading at rest; judgement
BANDGAP, BANDGAP_LOW, BANDGAP_HIGH = 1.1, 1.0, 1.2  # V, ATmega328P data sheet, analog comparator (from memory)


class CalibrationReading(Protocol):
    """A point: reading ``x`` and reference ``y`` with standard uncertainties."""

    @property
    def x(self) -> float: ...
    @property
    def u_x(self) -> float: ...
    @property
    def y(self) -> float: ...
    @property
    def u_y(self) -> float: ...


def nominal_lines(description: RigDescription, spool: Spool) -> dict[str, Line]:
    """Lines of the data sheets and the spool file by channel: reading (n,) to SI value (n,)."""
    lines: dict[str, Line] = {}
    for channel in ("pressure", "differential"):
        sensor = description.pressure_sensor(channel)
        if sensor is not None:
            lines[channel] = lambda x, s=sensor: (x - s.c) / s.k  # type: ignore[misc]
    lines["scale"] = lambda x: x / counts_per_kilogram(spool.scale)
    lines["supply"] = lambda x: BANDGAP * x
    lines["temperature"] = lambda x: x
    rotor = spool.rotor
    if rotor.pulses_per_cubic_metre > 0:
        lines["rotor"] = lambda x: x / rotor.pulses_per_cubic_metre + rotor.start_speed * spool.pipe.area
    return lines


def zero_limit(description: RigDescription, channel: str) -> float:
    """Largest plausible reading at rest by the data sheet, in the channel's SI unit; inf without a figure."""
    sensor = description.pressure_sensor(channel)
    return math.inf if sensor is None else ZERO_BANDS * sensor.band


def refuse_point(
    channel: str, unit: str, earlier: Sequence[CalibrationReading], new: CalibrationReading, expected: Line | None
) -> str:
    """Reason why ``new`` contradicts an earlier point; ``expected`` is the data sheet's line."""
    for number, old in enumerate(earlier, 1):
        set_apart = new.y - old.y
        if abs(set_apart) <= SIGMAS * math.hypot(new.u_y, old.u_y):
            continue
        read_apart = new.x - old.x
        seen = (
            f"from point {number} the reference went from {old.y:.4g} to {new.y:.4g} {unit}, and the reading "
            f"{{}} ({old.x:.5g} to {new.x:.5g}{READING_UNITS.get(channel, '')})"
        )
        fix = f"Check the hose, the plug and the figure typed; then take the point again, or drop point {number}."
        least = SIGMAS * math.hypot(new.u_x, old.u_x)
        moved = abs(_rise(expected, old.x, new.x)) > LEAST_SLOPE * abs(set_apart) if expected is not None else True
        if abs(read_apart) <= least or not moved:
            return f"Point not taken: {seen.format('did not change')}. {fix}"
        if channel in RISING and read_apart * set_apart < 0:
            went = ("fell", "rose") if read_apart < 0 else ("rose", "fell")
            return f"Point not taken: {seen.format(went[0])} where the reference {went[1]}. {fix}"
    return ""


def refuse_line(channel: str, unit: str, points: Sequence[CalibrationReading], fit: Fit, expected: Line | None) -> str:
    """Reason why the fitted line must not be used."""
    x, y = np.array([p.x for p in points]), np.array([p.y for p in points])
    u_y = np.array([p.u_y for p in points])
    if len(points) < 2:
        return ""
    span = float(np.ptp(y))
    if span <= SIGMAS * float(np.max(u_y)):
        return f"the references are all nearly equal ({y.min():.4g} to {y.max():.4g} {unit}); set points far apart"
    order = np.argsort(y)
    slope = (x[order[-1]] - x[order[0]]) / span
    u_x = np.array([p.u_x for p in points])
    if slope == 0 or (channel in RISING and slope < 0):
        return f"the reading {'does not change' if slope == 0 else 'falls'} as the reference rises"
    limits = np.maximum(WORST_RESIDUAL * span, SIGMAS * np.hypot(u_y, u_x / abs(slope)))
    worst = int(np.argmax(np.abs(fit.residuals) / limits))
    if fit.dof > 0 and abs(fit.residuals[worst]) > limits[worst]:
        return (
            f"point {worst + 1} is {abs(fit.residuals[worst]):.3g} {unit} off the line through all points, which span "
            f"{span:.3g} {unit}"
        )
    if expected is None:
        return ""
    factor = span / abs(_rise(expected, float(x[order[0]]), float(x[order[-1]])))
    if factor > MOST_SLOPE or factor < 1 / MOST_SLOPE:
        return f"the line is {factor:.3g} times as steep as the data sheet's"
    return ""


def refuse_zero(value: float, limit: float, unit: str, expected: Line | None) -> str:
    """Reason why a reading is not a zero; ``limit`` as from ``zero_limit``."""
    if expected is None:
        return ""
    found = float(expected(np.asarray(value)))
    if abs(found) <= limit:
        return ""
    return (
        f"Zero not taken: the reading is {found / 1e3:.1f} kPa by the data sheet, and a sensor at rest reads within "
        f"{limit / 1e3:.1f} {'kPa' if unit == 'Pa' else unit}. Stop the source, open the line to the room, and "
        "check the plug; then take it again."
    )


def refuse_supply(reading: float, volts: float) -> str:
    """Reason why a multimeter reading is not consistent with the board's reading of its own reference."""
    bandgap = volts / reading if reading > 0 else math.inf
    if 0.95 * BANDGAP_LOW <= bandgap <= 1.05 * BANDGAP_HIGH:
        return ""
    return (
        f"Point not taken: {volts:.2f} V would make the chip's own reference {bandgap:.2f} V, and it is "
        f"{BANDGAP_LOW} to {BANDGAP_HIGH} V by its data sheet. Measure between 5 V and ground of the board, and type "
        "volts."
    )


def _rise(line: Line, low: float, high: float) -> float:
    found = line(np.array([low, high]))
    return float(found[1] - found[0])
