"""Power law of a resistance, p = k Q^n, with the uncertainty of both, the usual form for leakage and packings.

Building-airtightness tests state leakage as a power of the pressure (ISO 9972:2015, with flow = C dp^(1/n) in the
notation here; from memory). n is 1 for laminar flow through fine pores and 2 for holes and bends.

The fit takes errors in both variables into account in the same way as ``numerics.errors_in_both``: each point's
distance to the curve is measured in the metric of the point's own covariance, and the true abscissae are estimated with
the curve. The parameters are ln P and n of ln p = ln P + n ln(q / q0), with q0 the geometric mean of the measured
flows, because P and n are then nearly uncorrelated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import exp

import numpy as np
import scipy
from numpy.typing import ArrayLike

from frothline.curve import fit_advice as advise
from frothline.curve.steady_points import PointArrays, SteadyPoint, arrays_of
from frothline.errors import NotIdentifiable, TooFewPoints
from frothline.estimate import Estimate
from frothline.numerics.arrays import Floats
from frothline.numerics.errors_in_both import scale_of
from frothline.numerics.uncertainty import student_factor

FEWEST_POINTS = 4
LEAST_RATIO = 1.05  # highest over lowest flow; below this the exponent has no meaning
ITERATIONS, TOLERANCE = 200, 1e-10


@dataclass(frozen=True)
class PowerLaw:
    """p = P (q / q0)^n = k q^n; pressures in Pa, flows in m3/s at 1.2 kg/m3.

    reference_flow : q0, m3/s
    log_pressure : ln P, P in Pa
    exponent : n
    random : (2, 2) covariance of (ln P, n) from the scatter of the points, with ``degrees_of_freedom``
    effects : name of a common error -> change of (ln P, n), (2,), by one standard uncertainty of it
    chi_square : from the stated random variances
    range : (lowest, highest) measured flow, m3/s
    """

    reference_flow: float
    log_pressure: float
    exponent: float
    random: Floats
    effects: tuple[tuple[str, Floats], ...]
    chi_square: float
    degrees_of_freedom: int
    range: tuple[float, float]

    @cached_property
    def covariance(self) -> Floats:
        """(2, 2) total covariance of (ln P, n)."""
        return sum((np.outer(effect, effect) for _, effect in self.effects), self.random)

    @property
    def n(self) -> Estimate:
        """The exponent, dimensionless."""
        u, half = (float(item[0]) for item in self._spread(np.array([[0.0, 1.0]]), 0.95))
        return Estimate(self.exponent, u, self.exponent - half, self.exponent + half, "1")

    @property
    def k(self) -> Estimate:
        """The factor, Pa (s/m3)^n: the pressure at 1 m3/s. ``at`` gives the pressure at any other flow."""
        return replace(self.at(1.0), unit="Pa (s/m³)ⁿ", extrapolated=False)

    def value(self, flow: ArrayLike) -> Floats:
        """Pressure (Pa) at ``flow`` (m3/s); 0 at no flow."""
        q = np.maximum(np.asarray(flow, dtype=np.float64), 0.0)
        return np.asarray(exp(self.log_pressure) * (q / self.reference_flow) ** self.exponent)

    def at(self, flow: float, level: float = 0.95) -> Estimate:
        """Pressure (Pa) at ``flow`` (m3/s, above 0), with an interval that is always above 0."""
        value = float(self.value(flow))
        u, half = (float(item[0]) for item in self._spread(self._rows([flow]), level))
        outside = not self.range[0] * 0.98 <= flow <= self.range[1] * 1.02
        return Estimate(value, value * u, value * exp(-half), value * exp(half), "Pa", level, outside)

    def band(self, flow: ArrayLike, level: float = 0.95) -> tuple[Floats, Floats]:
        """Lower and upper pressure (Pa) at each single ``flow`` (m3/s, above 0)."""
        half = self._spread(self._rows(flow), level)[1].reshape(np.shape(flow))
        value = self.value(flow)
        return value * np.exp(-half), value * np.exp(half)

    def _rows(self, flow: ArrayLike) -> Floats:
        logs = np.log(np.atleast_1d(np.asarray(flow, dtype=np.float64)) / self.reference_flow)
        return np.stack([np.ones_like(logs), logs], axis=1)

    def _spread(self, rows: Floats, level: float) -> tuple[Floats, Floats]:
        """Standard uncertainty and half width of linear combinations (m, 2) of (ln P, n).

        Student's factor is applied to the random part and the normal one to the common errors, and both are added in
        squares: with two degrees of freedom, effective ones (JCGM 100:2008, G.4) give the interval of k a coverage of
        91 %.
        """
        by_chance = np.einsum("ij,jk,ik->i", rows, self.random, rows)
        total = np.einsum("ij,jk,ik->i", rows, self.covariance, rows)
        student = student_factor(max(self.degrees_of_freedom, 1), level)
        normal = scipy.special.ndtri(0.5 + level / 2)
        return np.sqrt(total), np.sqrt(student**2 * by_chance + normal**2 * np.maximum(total - by_chance, 0.0))


def fit_power_law(points: Sequence[SteadyPoint]) -> PowerLaw:
    """The power law of a generator or a leak from steady points measured through it.

    Points without flow are left out, because every power law passes through zero there.
    Raises TooFewPoints below four points with flow, NotIdentifiable where the flows are all equal or fewer than two
    pressures are above zero.
    """
    usable, _ = advise.sort_out(points, supply_runs_down=False)
    usable = [point for point in usable if point.flow > 0]
    if len(usable) < FEWEST_POINTS:
        raise TooFewPoints(
            f"a power law needs at least {FEWEST_POINTS} steady points with flow above zero, "
            f"and only {len(usable)} are usable",
            remedy=f"Add {FEWEST_POINTS - len(usable)} more at different flows",
        )
    return power_law_of(arrays_of(usable))


def power_law_of(points: PointArrays) -> PowerLaw:
    """Power law of arrays whose flows are all above zero. Raises NotIdentifiable."""
    if float(points.q.max()) < LEAST_RATIO * float(points.q.min()):
        raise NotIdentifiable(
            "all points are at nearly the same flow, so that an exponent cannot be found",
            remedy="Measure at flows that differ by a factor of two or more",
        )
    q0 = float(np.exp(np.mean(np.log(points.q))))
    above = points.p > 0
    if np.unique(points.q[above]).size < 2:
        raise NotIdentifiable(
            "fewer than two points have a pressure above zero, so that no power law can be found",
            remedy="Check the pressure sensor's zero and its hose",
        )
    # weight of each logarithm proportional to its pressure: a small pressure may be little more than its own error
    logs = np.log(points.q[above] / q0), np.log(points.p[above])
    theta = np.polyfit(*logs, 1, w=points.p[above])[::-1]
    xi = points.q.copy()
    stated = bool(np.any(points.var_p > 0) or np.any(points.var_q > 0))
    for _ in range(ITERATIONS):
        value, slope, weight = _state(points, xi, theta, q0, stated=stated)
        residual = points.p - value - slope * (points.q - xi)
        jacobian = value[:, None] * np.stack([np.ones_like(xi), np.log(xi / q0)], axis=1)
        root = np.sqrt(weight)
        step = np.linalg.lstsq(jacobian * root[:, None], residual * root, rcond=None)[0]
        step = step * min(1.0, 0.5 / max(float(np.max(np.abs(step))), 1e-300))
        left = residual - jacobian @ step
        moved = points.q + (weight * (slope * points.var_q - points.cov) * left if stated else 0.0)
        moved = np.maximum(moved, 0.2 * points.q)
        change = float(np.max(np.abs(moved / xi - 1)) + np.max(np.abs(step)))
        xi, theta = moved, theta + step
        if change < TOLERANCE:
            break
    value, slope, weight = _state(points, xi, theta, q0, stated=stated)
    root = np.sqrt(weight)
    design = root[:, None] * value[:, None] * np.stack([np.ones_like(xi), np.log(xi / q0)], axis=1)
    residual = root * (points.p - value - slope * (points.q - xi))
    chi_square, freedom = float(residual @ residual), len(xi) - 2
    effects = [
        (name, np.linalg.lstsq(design, root * (points.common_p[k] - slope * points.common_q[k]), rcond=None)[0])
        for k, name in enumerate(points.names)
    ]
    return PowerLaw(
        reference_flow=q0,
        log_pressure=float(theta[0]),
        exponent=float(theta[1]),
        random=np.linalg.inv(design.T @ design) * scale_of(chi_square, freedom),
        effects=tuple(effects),
        chi_square=chi_square,
        degrees_of_freedom=freedom,
        range=(float(points.q.min()), float(points.q.max())),
    )


def _state(points: PointArrays, xi: Floats, theta: Floats, q0: float, *, stated: bool) -> tuple[Floats, Floats, Floats]:
    """Pressure and slope of the law at the adjusted flows, and the weight of each point across the curve."""
    value = np.exp(theta[0]) * (xi / q0) ** theta[1]
    slope = theta[1] * value / xi
    if not stated:
        return value, slope, np.ones_like(xi)
    variance = points.var_p + slope**2 * points.var_q - 2 * slope * points.cov
    return value, slope, 1 / np.maximum(variance, 1e-12 * float(np.max(variance)))
