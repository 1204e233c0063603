"""Pressure drop of a line: friction, corrugated hose, fittings, changes of bore; and mean speed over centreline speed.

Every loss coefficient is on the dynamic pressure ½ ρ V² of the speed named in its docstring.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import exp, log, log10, nan

import numpy as np

from frothline.errors import OutsideValidity
from frothline.physics.air import Real

LAMINAR, TURBULENT = 2300.0, 4000.0  # Reynolds numbers at the ends of the transition from laminar to turbulent flow


@dataclass(frozen=True)
class Fitting:
    """A loss coefficient on the line's own speed, its standard uncertainty, and its source."""

    loss: float
    uncertainty: float
    source: str


# One entry per word that a build sheet may use. Coefficients of small moulded fittings differ by a third between
# makers, which the uncertainties include.
FITTINGS: dict[str, Fitting] = {
    "elbow": Fitting(0.9, 0.3, "common practice for a tight moulded elbow, no source"),
    "bend": Fitting(0.30, 0.10, "ASHRAE smooth elbow, r/D 1.5, 75 mm [ashrae-fittings]"),
    "mitre": Fitting(1.2, 0.2, "mitre bend of 90°, as `fluids` gives it after [rennels]"),
    "45": Fitting(0.35, 0.15, "common practice for a moulded 45° elbow, no source"),
    "tee-through": Fitting(0.3, 0.15, "common practice, no source"),
    "tee-branch": Fitting(1.2, 0.4, "common practice, no source"),
    "ball valve": Fitting(0.1, 0.05, "common practice, full bore and open, no source"),
    "gate valve": Fitting(0.2, 0.1, "common practice, open, no source"),
    "check valve": Fitting(2.5, 1.0, "common practice, swing type, no source"),
    "coupling": Fitting(0.05, 0.05, "common practice, no source"),
    "entrance": Fitting(0.5, 0.1, "sharp entrance [idelchik]"),
}


def area(bore: float) -> float:
    """Cross-section of a round bore: A = π/4 D².

    Parameters
    ----------
    bore : m

    Returns
    -------
    m²

    Validity: any.
    Source: [volume-additivity]
    """
    return float(np.pi / 4 * bore**2)


def reynolds(flow_of_mass: Real, bore: float, viscosity: Real) -> Real:
    """Reynolds number of a round pipe from its mass flow: Re = 4 ṁ/(π D μ).

    Parameters
    ----------
    flow_of_mass : kg/s
    bore : m
    viscosity : Pa s

    Returns
    -------
    1

    Validity: any.
    Source: [white]
    """
    return 4.0 * np.abs(flow_of_mass) / (np.pi * bore * viscosity)


def friction_factor(reynolds_number: Real, relative_roughness: float = 0.0) -> Real:
    """Darcy friction factor of a straight pipe at every Reynolds number.

    laminar: f = 64/Re;  turbulent: Serghides' explicit form of Colebrook's equation;  between 2300 and 4000: a cubic
    in ln Re with the value and slope of both sides

    Parameters
    ----------
    reynolds_number : 1
    relative_roughness : 1, roughness over bore

    Returns
    -------
    1

    Validity: relative roughness 0 to 0.05, else OutsideValidity; Re above 0, NaN else.
    Bias: within 0.01 % of Colebrook's equation above Re 4000; the bridge is a convention, real flow there is unsteady.
    Uncertainty: relative standard 5 % (turbulent, of real pipes), 20 % in the bridge.
    Source: [serghides], [colebrook]
    """
    if not 0.0 <= relative_roughness <= 0.05:
        raise OutsideValidity(
            f"relative roughness {relative_roughness:g}", remedy="Use the corrugated-hose form above 0.05"
        )
    if isinstance(reynolds_number, float):
        return _friction_of_one(reynolds_number, relative_roughness)
    Re = np.asarray(reynolds_number, dtype=float)
    with np.errstate(all="ignore"):
        high = _serghides(np.maximum(Re, TURBULENT), relative_roughness, np.log10)
        s = np.clip((np.log(Re) - log(LAMINAR)) / log(TURBULENT / LAMINAR), 0.0, 1.0)
        bridge = sum(
            part * power for part, power in zip(_bridge(relative_roughness), (1.0, s, s**2, s**3), strict=True)
        )
        value = np.where(Re < LAMINAR, 64.0 / Re, np.where(Re > TURBULENT, high, bridge))
        value = np.where(Re > 0.0, value, np.nan)
    return value if value.ndim else float(value)


def _friction_of_one(Re: float, roughness: float) -> float:
    """Friction factor at one Reynolds number: an array of length one takes twenty times as long."""
    if not Re > 0.0:
        return nan
    if Re < LAMINAR:
        return 64.0 / Re
    if Re > TURBULENT:
        return float(_serghides(Re, roughness, log10))
    s = log(Re / LAMINAR) / log(TURBULENT / LAMINAR)
    c0, c1, c2, c3 = _bridge(roughness)
    return c0 + s * (c1 + s * (c2 + s * c3))


@lru_cache(maxsize=64)
def _bridge(roughness: float) -> tuple[float, float, float, float]:
    """Coefficients of the cubic in s = ln(Re/2300)/ln(4000/2300) with value and slope of both sides (Hermite)."""
    span, step = log(TURBULENT / LAMINAR), 1e-3
    f0, f1 = 64.0 / LAMINAR, float(_serghides(TURBULENT, roughness, log10))
    m0 = -f0 * span
    m1 = (float(_serghides(TURBULENT * exp(step), roughness, log10)) - f1) / step * span
    return f0, m0, -3 * f0 - 2 * m0 + 3 * f1 - m1, 2 * f0 + m0 - 2 * f1 + m1


def _serghides(Re: Real, roughness: float, lg: Callable[[Real], Real]) -> Real:
    k = roughness / 3.7
    A = -2.0 * lg(k + 12.0 / Re)
    B = -2.0 * lg(k + 2.51 * A / Re)
    C = -2.0 * lg(k + 2.51 * B / Re)
    return (A - (B - A) ** 2 / (C - 2.0 * B + A)) ** -2


def corrugated_hose_friction(bore: float, pitch: float) -> float:
    """Darcy friction factor of a corrugated hose: each ripple is a small sudden expansion.

    K per ripple = [1 - (D/(D + 0.438 s))²]², f = K D/s

    Parameters
    ----------
    bore : m, inner diameter at the inward crests
    pitch : m, s, distance from ripple to ripple

    Returns
    -------
    1

    Validity: turbulent flow, pitch up to half the bore, else OutsideValidity.
    Bias: too high for shallow spiral hose: makers' figures are half of it.
    Uncertainty: relative standard 25 %.
    Source: [hawthorne]
    """
    if not 0.0 < pitch <= 0.5 * bore:
        raise OutsideValidity(
            f"a ripple pitch of {pitch * 1e3:.1f} mm in a {bore * 1e3:.1f} mm hose",
            remedy="Pitches up to half the bore are covered",
        )
    ripple = (1.0 - (bore / (bore + 0.438 * pitch)) ** 2) ** 2
    return ripple * bore / pitch


def sudden_expansion(small_bore: float, large_bore: float) -> float:
    """Loss coefficient of a sudden expansion, on the speed in the small bore: K = (1 - A1/A2)² (Borda and Carnot).

    Parameters
    ----------
    small_bore : m
    large_bore : m

    Returns
    -------
    1

    Validity: small <= large, else OutsideValidity; turbulent flow. 1 into open air.
    Source: [white] ch. 6
    """
    beta = _bore_ratio(small_bore, large_bore)
    return (1.0 - beta**2) ** 2


def sudden_contraction(large_bore: float, small_bore: float) -> float:
    """Loss coefficient of a sharp contraction, on the speed in the small bore.

    K = 0.0696 (1 - β⁵) λ² + (λ - 1)², λ = 1 + 0.622 (1 - 0.215 β² - 0.785 β⁵)

    Parameters
    ----------
    large_bore : m
    small_bore : m

    Returns
    -------
    1

    Validity: small <= large, else OutsideValidity; turbulent flow.
    Uncertainty: relative standard 10 %.
    Source: [rennels] ch. 10
    """
    beta = _bore_ratio(small_bore, large_bore)
    jet = 1.0 + 0.622 * (1.0 - 0.215 * beta**2 - 0.785 * beta**5)
    return 0.0696 * (1.0 - beta**5) * jet**2 + (jet - 1.0) ** 2


def conical_contraction(large_bore: float, small_bore: float, length: float, friction: float = 0.02) -> float:
    """Loss coefficient of a tapered reducer, on the speed in the small bore.

    K = f (1 - β⁴)/(8 sin ½α) + 0.0696 sin ½α (1 - β⁵) λ² + (λ - 1)²
    λ = 1 + 0.622 (α/180°)^0.8 (1 - 0.215 β² - 0.785 β⁵), α the full angle of the cone

    Parameters
    ----------
    large_bore : m
    small_bore : m
    length : m, of the taper
    friction : 1, Darcy friction factor

    Returns
    -------
    1

    Validity: small <= large and length > 0, else OutsideValidity; turbulent flow.
    Uncertainty: relative standard 20 %.
    Source: [rennels] ch. 10
    """
    beta = _bore_ratio(small_bore, large_bore)
    if length <= 0.0:
        raise OutsideValidity("a taper needs a length", remedy="Use the sharp contraction for a flat step")
    if beta == 1.0:
        return 0.0
    half = float(np.arctan((large_bore - small_bore) / (2.0 * length)))
    jet = 1.0 + 0.622 * (2.0 * half / np.pi) ** 0.8 * (1.0 - 0.215 * beta**2 - 0.785 * beta**5)
    wall = friction * (1.0 - beta**4) / (8.0 * np.sin(half))
    return float(wall + 0.0696 * np.sin(half) * (1.0 - beta**5) * jet**2 + (jet - 1.0) ** 2)


def _bore_ratio(small: float, large: float) -> float:
    if not 0.0 < small <= large:
        raise OutsideValidity(
            f"the small bore is {small * 1e3:.1f} mm and the large one {large * 1e3:.1f} mm",
            remedy="Give them in the other order",
        )
    return small / large


def loss_pressure(coefficient: Real, density: Real, speed: Real) -> Real:
    """Pressure lost for a loss coefficient: Δp = K ½ ρ V |V|.

    Parameters
    ----------
    coefficient : 1, K
    density : kg/m³
    speed : m/s, as defined for the coefficient

    Returns
    -------
    Pa, with the sign of the speed

    Validity: Mach number below 0.3.
    Source: [white] ch. 6
    """
    return coefficient * 0.5 * density * speed * np.abs(speed)


def profile_factor(reynolds_number: Real, relative_roughness: float = 0.0) -> Real:
    """Mean speed over centreline speed in a long straight pipe.

    turbulent: V/V_max = 1/(1 + 1.33 √f);  laminar: 1/2;  between Re 2300 and 4000 joined linearly in ln Re

    Parameters
    ----------
    reynolds_number : 1
    relative_roughness : 1, roughness over bore

    Returns
    -------
    1

    Validity: fully developed flow, 20 and more straight bores; Re above 0, NaN else.
    Bias: the power law V/V_max = 2n²/((n+1)(2n+1)), n = 1/√f, reads 3 to 4 % lower near Re 4000 and 2.5 % at 1e5.
    Uncertainty: relative standard 1.5 % above Re 1e4.
    Source: [white] ch. 6
    """
    Re = np.asarray(reynolds_number, dtype=float)
    with np.errstate(all="ignore"):
        f = np.asarray(friction_factor(np.maximum(Re, TURBULENT), relative_roughness))
        turbulent = 1.0 / (1.0 + 1.33 * np.sqrt(f))
        s = np.clip(np.log(Re / LAMINAR) / np.log(TURBULENT / LAMINAR), 0.0, 1.0)
        value = np.where(Re > 0.0, 0.5 + s * (turbulent - 0.5), np.nan)
    return value if value.ndim else float(value)
