"""A linear pressure sensor of a board's settings, in words."""

from __future__ import annotations

from typing import Any

from frothline.sensors.description import line_of

NOT_SET = "its range is not set"


def words_of(row: Any) -> str:
    """Range, voltages and accuracy of a ``linear_sensor`` message; ``NOT_SET`` without one or without a line.

    Voltages are those of a 5 V supply.
    """
    sensor = None if row is None else line_of(row)
    if sensor is None:
        return NOT_SET
    volts = f"{int(row['low_millivolt']) / 1e3:g} to {int(row['high_millivolt']) / 1e3:g} V"
    accuracy = int(row["accuracy_per_myriad"]) / 100
    return f"{sensor.low / 1e3:g} to {sensor.high / 1e3:g} kPa, {volts}, ±{accuracy:g} % of the span"
