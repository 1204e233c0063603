"""The resistance of a generator: pressure against flow, p = c + a q + b q^2.

The two-term form is the Darcy-Forchheimer law of a packing together with the square law of holes, bends and outlets;
building-airtightness texts (D. Etheridge) use it for leaks. ``c`` is the pressure needed before any air passes: liquid
over the holes, or the capillary entry pressure of wet packing. Flows are standard flows (mass flow over 1.2 kg/m3)
unless stated otherwise.

Dividing by q gives p/q = a + b q, a straight line, which shows whether the form is adequate.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from frothline.curve.uncertain_curve import ALL_POWERS, Uncertain
from frothline.estimate import Estimate
from frothline.numerics.arrays import Floats


@dataclass(frozen=True)
class ResistanceLine:
    """p = c + a q + b q^2.

    a : Pa s/m3
    b : Pa s2/m6
    c : Pa
    covariance : (3, 3) total covariance of (c, a, b); None for an exact line
    measured : the curve with its uncertainty in parts; None if the line was not measured
    """

    a: float
    b: float
    c: float = 0.0
    covariance: Floats | None = None
    name: str = "resistance"
    notes: tuple[str, ...] = ()
    measured: Uncertain | None = field(default=None, repr=False)

    @property
    def curve(self) -> Uncertain:
        """The line with its uncertainty in parts."""
        if self.measured is not None:
            return self.measured
        coefficients = np.array([self.c, self.a, self.b, 0.0, 0.0])
        if self.covariance is None:
            return Uncertain(coefficients)
        full = np.zeros((len(ALL_POWERS),) * 2)
        full[:3, :3] = self.covariance
        return Uncertain(coefficients, ((full, 1e9),))

    def pressure(self, flow: ArrayLike) -> tuple[Floats, Floats]:
        """Pressure drop (Pa) at ``flow`` (m3/s), and its standard uncertainty."""
        return self.curve.value(flow), self.curve.u(flow)

    def band(self, flow: ArrayLike, level: float = 0.95) -> tuple[Floats, Floats]:
        """Lower and upper pressure (Pa) at each single ``flow``."""
        return self.curve.band(flow, level)

    def flow(self, pressure: ArrayLike) -> Floats:
        """Flow (m3/s) at ``pressure`` (Pa); 0 below the entry pressure."""
        left = np.maximum(np.asarray(pressure, dtype=np.float64) - self.c, 0.0)
        # this form has no cancellation for small b: q = 2 p / (a + sqrt(a^2 + 4 b p))
        root = self.a + np.sqrt(self.a**2 + 4 * self.b * left)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(left > 0, 2 * left / root, 0.0)

    def estimates(self, level: float = 0.95) -> dict[str, Estimate]:
        """c, a and b with their intervals, limited to 0 and above; a term that is exactly 0 is left out."""
        curve = self.curve
        rows = np.eye(len(ALL_POWERS))
        units = (("c", self.c, "Pa"), ("a", self.a, "Pa s/m³"), ("b", self.b, "Pa s²/m⁶"))
        found = {name: curve.linear(rows[j], value, level, unit) for j, (name, value, unit) in enumerate(units)}
        return {
            name: replace(one, lower=max(one.lower, 0.0))
            for name, one in found.items()
            if one.value != 0.0 or one.standard_uncertainty > 0.0
        }


def line_of(curve: Uncertain, name: str, notes: tuple[str, ...]) -> ResistanceLine:
    """The resistance line of a measured ``curve``, with its uncertainty in parts."""
    c, a, b = (float(value) for value in curve.coefficients[:3])
    known = curve.covariance[:3, :3]
    return ResistanceLine(a, b, c, known if np.any(known) else None, name, notes, curve)
