"""A figure with its uncertainty: what every result of the package is made of.

Ground floor: imports nothing of the package but its errors.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from frothline.errors import InvalidEstimate

NOT_CALIBRATED = "not calibrated"  # among the assumptions of a figure whose sensor was never calibrated
Z95 = 1.959963984540054  # half of a 95 % interval over its standard uncertainty, normal


@dataclass(frozen=True)
class Estimate:
    """A value that is known to some degree.

    ``value`` and ``standard_uncertainty`` are in the SI unit named by ``unit``; ``lower`` and ``upper`` bound the
    interval of the stated ``level`` (JCGM 100, 6.2), which need not be symmetric. ``extrapolated`` says that the value
    lies outside what was measured. ``assumptions`` are sentences a reader must know to judge it.

    A known value lies inside its interval, whose ends are numbers or infinite; InvalidEstimate otherwise. An unknown
    value is NaN; it may have a known end, and its reason is in ``assumptions``.
    """

    value: float
    standard_uncertainty: float
    lower: float
    upper: float
    unit: str
    level: float = 0.95
    extrapolated: bool = False
    assumptions: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        if math.isnan(self.value) or self.lower <= self.value <= self.upper:
            return
        raise InvalidEstimate(
            f"{self.value:.6g} {self.unit} is not inside its interval, {self.lower:.6g} to {self.upper:.6g}".replace(
                "nan", "unknown"
            ),
            remedy="This is a mistake in the calculation; please report it with the recording or build sheet",
        )

    @classmethod
    def normal(cls, value: float, standard_uncertainty: float, unit: str, **more: Any) -> Estimate:
        """A 95 % interval of a normal quantity: 1.959964 standard uncertainties either side; open if that is NaN."""
        half = math.inf if math.isnan(standard_uncertainty) else Z95 * standard_uncertainty
        return cls(value, standard_uncertainty, value - half, value + half, unit, **more)

    @classmethod
    def positive(cls, value: float, u_log: float, unit: str, **more: Any) -> Estimate:
        """A 95 % interval of a quantity above zero, normal in its logarithm with standard uncertainty ``u_log``."""
        half = Z95 * u_log
        return cls(value, value * u_log, value * math.exp(-half), value * math.exp(half), unit, **more)

    @property
    def known(self) -> bool:
        return math.isfinite(self.value)

    @property
    def uncalibrated(self) -> bool:
        """Whether it rests on a sensor that was never calibrated."""
        return NOT_CALIBRATED in self.assumptions

    def marked_uncalibrated(self) -> Estimate:
        """The same with the word for people that its sensor was never calibrated."""
        return self if self.uncalibrated else replace(self, assumptions=(*self.assumptions, NOT_CALIBRATED))

    def as_dict(self) -> dict[str, Any]:
        """For ``--json``; NaN and infinities become None, as JSON has no word for them."""
        return {
            key: None if isinstance(item, float) and not math.isfinite(item) else item
            for key, item in asdict(self).items()
        }
