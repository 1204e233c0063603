"""Steady points of an air source or a generator: pressure and flow with their uncertainties.

Two kinds of error are separate, because a fit treats them differently. A *random* error differs from point to point and
is averaged out by many points. A *common* error (a pressure span that is 1 % off, a rotor's K factor) shifts all points
of a sweep together and no number of points reduces it. JCGM 100:2008, F.1.2.3, treats common errors as inputs that
several results share; ``CommonError`` is the shift of a point by one standard uncertainty of such an input.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import nan, sqrt

import numpy as np
from numpy.typing import NDArray

RESTLESS = 3.0


@dataclass(frozen=True)
class CommonError:
    """Shift of this point by one standard uncertainty of an input that all points of a sweep share.

    Components with the same ``name`` are the same error wherever they appear, so their signs matter.
    """

    name: str
    on_pressure: float = 0.0  # Pa
    on_flow: float = 0.0  # m3/s


@dataclass(frozen=True)
class SteadyPoint:
    """Mean pressure and flow over one steady stretch.

    flow : standard flow: mass flow over 1.2 kg/m3
    u_pressure, u_flow, covariance : totals; the covariance is of pressure with flow, Pa m3/s
    common : the parts that other points share; the rest is random
    source : number of the sweep or air source
    notes : remarks for the reader
    ambient_density, u_ambient_density : of the intake air, with its standard uncertainty; NaN if not measured
    """

    start: float  # s
    end: float  # s
    pressure: float  # Pa
    u_pressure: float  # Pa
    flow: float  # m3/s at 1.2 kg/m3
    u_flow: float  # m3/s
    covariance: float = 0.0  # Pa m3/s
    mass_flow: float = nan  # kg/s
    line_temperature: float = nan  # K
    ambient_density: float = nan  # kg/m3
    u_ambient_density: float = nan  # kg/m3
    n: int = 1
    n_effective: float = 1.0
    source: int = 0
    common: tuple[CommonError, ...] = ()
    notes: tuple[str, ...] = ()

    @classmethod
    def from_parts(
        cls,
        pressure: float,
        flow: float,
        random: tuple[float, float, float] = (0.0, 0.0, 0.0),
        common: Sequence[CommonError] = (),
        *,
        start: float = nan,
        end: float = nan,
        mass_flow: float = nan,
        line_temperature: float = nan,
        ambient_density: float = nan,
        u_ambient_density: float = nan,
        n: int = 1,
        n_effective: float = 1.0,
        source: int = 0,
        notes: tuple[str, ...] = (),
    ) -> SteadyPoint:
        """A point from its random part (u of pressure, u of flow, covariance) and its common errors."""
        u_p, u_q, covariance = random
        return cls(
            start=start,
            end=end,
            pressure=pressure,
            u_pressure=sqrt(u_p**2 + sum(part.on_pressure**2 for part in common)),
            flow=flow,
            u_flow=sqrt(u_q**2 + sum(part.on_flow**2 for part in common)),
            covariance=covariance + sum(part.on_pressure * part.on_flow for part in common),
            mass_flow=mass_flow,
            line_temperature=line_temperature,
            ambient_density=ambient_density,
            u_ambient_density=u_ambient_density,
            n=n,
            n_effective=n_effective,
            source=source,
            common=tuple(common),
            notes=notes,
        )

    @property
    def random(self) -> tuple[float, float, float]:
        """Random standard uncertainties of pressure (Pa) and flow (m3/s), and their covariance (Pa m3/s)."""
        u_p = sqrt(max(self.u_pressure**2 - sum(part.on_pressure**2 for part in self.common), 0.0))
        u_q = sqrt(max(self.u_flow**2 - sum(part.on_flow**2 for part in self.common), 0.0))
        return u_p, u_q, self.covariance - sum(part.on_pressure * part.on_flow for part in self.common)

    @property
    def duration(self) -> float:
        return self.end - self.start

    @property
    def air_power(self) -> float:
        """Pressure times standard flow, W."""
        return self.pressure * self.flow


@dataclass(frozen=True)
class PointArrays:
    """The points of a sweep as arrays, for the fits. All are (n,) unless stated otherwise."""

    q: NDArray[np.float64]  # m3/s
    p: NDArray[np.float64]  # Pa
    var_q: NDArray[np.float64]  # random variances
    var_p: NDArray[np.float64]
    cov: NDArray[np.float64]
    names: tuple[str, ...]  # of the common errors
    common_p: NDArray[np.float64]  # (k, n) effect of one standard uncertainty
    common_q: NDArray[np.float64]  # (k, n)


def smoothed(arrays: PointArrays, across: NDArray[np.float64], seconds: NDArray[np.float64]) -> PointArrays:
    """The same points with random variances that vary smoothly with flow.

    A stretch of a few seconds determines its own variance only within a factor of about two, and weights that are wrong
    by that make an estimate worse than its covariance. The variance across the curve, ``across`` (n,), times the length
    of the stretch, ``seconds`` (n,), is therefore replaced by its regression on flow (logarithm, second order:
    variance-function estimation, R. J. Carroll and D. Ruppert, Transformation and Weighting in Regression, 1988,
    chapter 3). A stretch whose standard deviation exceeds the regression by more than three times keeps half of its
    excess.
    """
    x = arrays.q / float(np.max(arrays.q))
    each = np.log(across * seconds)
    order = 2 if len(x) >= 8 else 1
    basis = np.stack([x**k for k in range(order + 1)], axis=1)
    smooth = basis @ np.linalg.lstsq(basis, each, rcond=None)[0]
    excess = np.maximum(each - smooth - np.log(RESTLESS**2), 0.0)
    factor = np.exp(smooth + excess / 2 - each)
    return replace(arrays, var_q=arrays.var_q * factor, var_p=arrays.var_p * factor, cov=arrays.cov * factor)


def arrays_of(points: Sequence[SteadyPoint]) -> PointArrays:
    """Points as arrays; a common error that a point does not list has no effect on it."""
    random = np.array([point.random for point in points], dtype=np.float64).reshape(len(points), 3)
    names = tuple(dict.fromkeys(part.name for point in points for part in point.common))
    common_p = np.zeros((len(names), len(points)))
    common_q = np.zeros((len(names), len(points)))
    for i, point in enumerate(points):
        for part in point.common:
            k = names.index(part.name)
            common_p[k, i] += part.on_pressure
            common_q[k, i] += part.on_flow
    return PointArrays(
        q=np.array([point.flow for point in points], dtype=np.float64),
        p=np.array([point.pressure for point in points], dtype=np.float64),
        var_q=random[:, 1] ** 2,
        var_p=random[:, 0] ** 2,
        cov=random[:, 2],
        names=names,
        common_p=common_p,
        common_q=common_q,
    )
