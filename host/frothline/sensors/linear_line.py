"""The line of a linear pressure sensor, as the board stores it, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Self

from frothline.sensors.description import line_of
from frothline.units import Unit

NOT_SET = "its range is not set"


@dataclass(frozen=True)
class LinearLine:
    """Pressures in Pa at two voltages of a 5 V supply; ``accuracy``: stated limit of all errors, share of the span."""

    low: float
    high: float
    low_volts: float
    high_volts: float
    accuracy: float

    @classmethod
    def of(cls, row: Any) -> Self | None:
        """From a ``linear_sensor`` message; None without one, or if its range was never set."""
        if row is None or line_of(row) is None:
            return None
        return cls(
            low=float(row["low_pascal"]),
            high=float(row["high_pascal"]),
            low_volts=float(row["low_millivolt"]) / 1e3,
            high_volts=float(row["high_millivolt"]) / 1e3,
            accuracy=float(row["accuracy_per_myriad"]) / 1e4,
        )

    def text(self, unit: Unit) -> str:
        """Range in ``unit``, voltages and accuracy."""
        low, high = (f"{unit.from_si(end):.4g}" for end in (self.low, self.high))
        volts = f"{self.low_volts:g} to {self.high_volts:g} V"
        return f"{low} to {high} {unit.symbol}, {volts}, ±{100 * self.accuracy:g} % of the span"


def words_of(line: LinearLine | None, unit: Unit) -> str:
    """The line in words; ``NOT_SET`` without one."""
    return NOT_SET if line is None else line.text(unit)
