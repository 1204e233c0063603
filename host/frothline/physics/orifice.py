"""Differential-pressure meters in the spool: orifice plate and Venturi tube, the standard's edition in the name.

Geometry outside a standard raises OutsideValidity, because no measurement can correct it. A Reynolds number or a
pressure ratio outside is returned with ``inside`` False and a wider uncertainty: a sweep starts at no flow, and its low
end must not stop the recording.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from frothline.errors import OutsideValidity
from frothline.physics.air import HEAT_CAPACITY_RATIO, Real

Taps = Literal["corner", "D and D/2", "flange"]
VenturiKind = Literal["machined", "as cast", "rough welded"]

INCH = 0.0254  # m; the standard gives its tap distances and small-pipe term in inches
SMALL_PIPE = 2.8 * INCH  # below this bore the standard adds an edge term

_VENTURI_C: dict[str, tuple[float, float]] = {  # discharge coefficient, relative standard uncertainty
    "machined": (0.995, 0.005),
    "as cast": (0.984, 0.0035),
    "rough welded": (0.985, 0.0075),
}

# Straight pipe upstream, in bores, for no additional uncertainty (A) and for 0.5 % more (B); ISO 5167-2:2003, table 3.
# The last row of each is the straight pipe needed downstream.
STRAIGHT_BETAS = (0.20, 0.40, 0.50, 0.60, 0.67, 0.75)
STRAIGHT_LENGTHS: dict[str, tuple[tuple[float, ...], tuple[float | None, ...]]] = {
    "single 90° bend": ((6, 16, 22, 42, 44, 44), (3, 3, 9, 13, 20, 20)),
    "two 90° bends in one plane": ((10, 10, 22, 42, 44, 44), (None, None, 10, 18, 20, 22)),
    "two 90° bends out of plane": ((34, 50, 75, 65, 60, 75), (17, 25, 34, 25, 18, 18)),
    "tee or mitre": ((3, 9, 19, 29, 36, 44), (None, 3, 9, 18, 18, 18)),
    "reducer": ((5, 5, 8, 9, 12, 13), (None, None, 5, 5, 6, 8)),
    "expander": ((6, 12, 20, 26, 28, 36), (None, 8, 9, 11, 14, 18)),
    "open full-bore valve": ((12, 12, 12, 14, 18, 24), (6, 6, 6, 7, 9, 12)),
    "abrupt reduction": ((30, 30, 30, 30, 30, 30), (15, 15, 15, 15, 15, 15)),
    "downstream": ((4, 6, 6, 7, 7, 8), (2, 3, 3, 3.5, 3.5, 4)),
}


@dataclass(frozen=True)
class MeterFlow:
    """Flow of a meter.

    mass_flow : kg/s
    discharge : discharge coefficient
    expansibility : expansibility factor
    reynolds : Reynolds number of the pipe
    relative_uncertainty : standard, of the coefficients together
    inside : True within the standard's limits
    """

    mass_flow: Real
    discharge: Real
    expansibility: Real
    reynolds: Real
    relative_uncertainty: Real
    inside: bool | NDArray[np.bool_]


def _check_plate(pipe_bore: float, plate_bore: float) -> float:
    beta = plate_bore / pipe_bore
    if not 0.1 - 1e-9 <= beta <= 0.75 + 1e-9:  # tolerance for the ratio of two rounded bores
        raise OutsideValidity(
            f"the plate's bore is {beta:.3f} of the pipe's; the standard covers 0.1 to 0.75",
            remedy="Drill another plate, or calibrate this one against the bag",
        )
    if plate_bore < 12.5e-3 or not 50e-3 <= pipe_bore <= 1.0:
        raise OutsideValidity(
            f"a {plate_bore * 1e3:.1f} mm plate in a {pipe_bore * 1e3:.1f} mm pipe; the standard requires at least "
            "12.5 mm in 50 to 1000 mm",
            remedy="Use a larger pipe, or calibrate this plate against the bag",
        )
    return beta


def discharge_coefficient_iso_5167_2_2003(
    pipe_bore: float, plate_bore: float, reynolds: Real, taps: Taps = "D and D/2"
) -> Real:
    """Discharge coefficient of a square-edged orifice plate, by Reader-Harris and Gallagher.

    C = 0.5961 + 0.0261 β² - 0.216 β⁸ + 0.000521 (10⁶β/Re)^0.7 + (0.0188 + 0.0063 A) β^3.5 (10⁶/Re)^0.3
      + (0.043 + 0.080 e^(-10 L1) - 0.123 e^(-7 L1)) (1 - 0.11 A) β⁴/(1 - β⁴) - 0.031 (M - 0.8 M^1.1) β^1.3
      + 0.011 (0.75 - β)(2.8 - D/0.0254) for D < 71.12 mm;   A = (19000 β/Re)^0.8, M = 2 L2/(1 - β)

    Parameters
    ----------
    pipe_bore : m
    plate_bore : m
    reynolds : 1, of the pipe
    taps : word, where the two pressures are taken

    Returns
    -------
    1

    Validity: 0.1 <= β <= 0.75, d >= 12.5 mm, 50 mm <= D <= 1 m, else OutsideValidity. The limits of Reynolds number
        are flagged by `orifice_flow_iso_5167_2_2003`; this function extrapolates below them.
    Uncertainty: relative standard 0.25 % (half of 0.5 %) for 0.2 <= β <= 0.6, more outside and for D < 71.12 mm.
    Source: [iso-5167-2-2003] eq. 4
    """
    beta = _check_plate(pipe_bore, plate_bore)
    upstream = {"corner": 0.0, "D and D/2": 1.0, "flange": INCH / pipe_bore}[taps]
    downstream = {"corner": 0.0, "D and D/2": 0.47, "flange": INCH / pipe_bore}[taps]
    with np.errstate(divide="ignore", invalid="ignore"):
        Re = np.asarray(reynolds, dtype=float)
        A = (19000.0 * beta / Re) ** 0.8
        M = 2.0 * downstream / (1.0 - beta)
        value = (
            0.5961
            + 0.0261 * beta**2
            - 0.216 * beta**8
            + 0.000521 * (1e6 * beta / Re) ** 0.7
            + (0.0188 + 0.0063 * A) * beta**3.5 * (1e6 / Re) ** 0.3
            + (0.043 + 0.080 * np.exp(-10.0 * upstream) - 0.123 * np.exp(-7.0 * upstream))
            * (1.0 - 0.11 * A)
            * beta**4
            / (1.0 - beta**4)
            - 0.031 * (M - 0.8 * M**1.1) * beta**1.3
        )
        if pipe_bore < SMALL_PIPE:
            value = value + 0.011 * (0.75 - beta) * (2.8 - pipe_bore / INCH)
    return value if value.ndim else float(value)


def discharge_uncertainty_iso_5167_2_2003(pipe_bore: float, plate_bore: float) -> float:
    """Relative standard uncertainty of the discharge coefficient (half of the standard's figure at 95 %).

    (0.7 - β) % for β < 0.2; 0.5 % to 0.6; (1.667 β - 0.5) % to 0.75; + 0.9 (0.75 - β)(2.8 - D/0.0254) % below 71.12 mm

    Parameters
    ----------
    pipe_bore : m
    plate_bore : m

    Returns
    -------
    1, relative

    Validity: as the coefficient, else OutsideValidity.
    Source: [iso-5167-2-2003] 5.3.3.1
    """
    beta = _check_plate(pipe_bore, plate_bore)
    percent = 0.7 - beta if beta < 0.2 else 0.5 if beta <= 0.6 else 1.667 * beta - 0.5
    if pipe_bore < SMALL_PIPE:
        percent += 0.9 * (0.75 - beta) * (2.8 - pipe_bore / INCH)
    return percent / 200.0


def expansibility_iso_5167_2_2003(beta: float, pressure_ratio: Real, kappa: float = HEAT_CAPACITY_RATIO) -> Real:
    """Expansibility factor of an orifice plate.

    ε = 1 - (0.351 + 0.256 β⁴ + 0.93 β⁸) [1 - (p2/p1)^(1/κ)]

    Parameters
    ----------
    beta : 1, bore ratio
    pressure_ratio : 1, absolute pressure downstream over upstream
    kappa : 1, isentropic exponent

    Returns
    -------
    1

    Validity: p2/p1 >= 0.75; NaN outside.
    Uncertainty: relative standard 1.75 (1 - p2/p1)/κ %.
    Source: [iso-5167-2-2003] eq. 5
    """
    r = np.asarray(pressure_ratio, dtype=float)
    with np.errstate(invalid="ignore"):
        value = 1.0 - (0.351 + 0.256 * beta**4 + 0.93 * beta**8) * (1.0 - r ** (1.0 / kappa))
        value = np.where((r >= 0.75) & (r <= 1.0), value, np.nan)
    return value if value.ndim else float(value)


def expansibility_iso_5167_4_2003(beta: float, pressure_ratio: Real, kappa: float = HEAT_CAPACITY_RATIO) -> Real:
    """Expansibility factor of a Venturi tube, for isentropic flow.

    ε² = κ τ^(2/κ)/(κ - 1) · (1 - β⁴)/(1 - β⁴ τ^(2/κ)) · (1 - τ^((κ-1)/κ))/(1 - τ)

    Parameters
    ----------
    beta : 1, bore ratio
    pressure_ratio : 1, τ, absolute pressure in the throat over upstream
    kappa : 1, isentropic exponent

    Returns
    -------
    1

    Validity: τ >= 0.75; NaN outside; 1 at τ = 1 as the limit.
    Uncertainty: relative standard (2 + 50 β⁸)(1 - τ) %.
    Source: [iso-5167-4-2003] eq. 2
    """
    r = np.asarray(pressure_ratio, dtype=float)
    with np.errstate(all="ignore"):
        tau = np.where(r < 1.0 - 1e-9, r, 1.0 - 1e-9)
        square = (
            kappa
            * tau ** (2.0 / kappa)
            / (kappa - 1.0)
            * (1.0 - beta**4)
            / (1.0 - beta**4 * tau ** (2.0 / kappa))
            * (1.0 - tau ** ((kappa - 1.0) / kappa))
            / (1.0 - tau)
        )
        value = np.where((r >= 0.75) & (r <= 1.0), np.sqrt(square), np.nan)
    return value if value.ndim else float(value)


def orifice_flow_iso_5167_2_2003(
    pipe_bore: float,
    plate_bore: float,
    upstream_pressure: Real,
    differential_pressure: Real,
    density: Real,
    viscosity: Real,
    taps: Taps = "D and D/2",
    kappa: float = HEAT_CAPACITY_RATIO,
) -> MeterFlow:
    """Mass flow through an orifice plate, iterated on the Reynolds number.

    ṁ = C/√(1 - β⁴) · ε · π/4 d² · √(2 Δp ρ1)

    Parameters
    ----------
    pipe_bore : m
    plate_bore : m
    upstream_pressure : Pa, absolute
    differential_pressure : Pa, upstream less downstream; zero and less give no flow
    density : kg/m³, at the upstream tap
    viscosity : Pa s
    taps : word, where the two pressures are taken
    kappa : 1, isentropic exponent

    Returns
    -------
    MeterFlow; ``inside`` is False where Re < 5000 (corner and D taps: < 16000 β² for β > 0.56; flange: < 170000 β² D),
    where p2/p1 < 0.75, and where Δp is not above zero

    Validity: geometry as the coefficient, else OutsideValidity; the rest flagged, with 2 % added to the uncertainty.
    Uncertainty: of C and ε as the standard states them, halved to one standard uncertainty.
    Source: [iso-5167-2-2003] eq. 1
    """
    beta = _check_plate(pipe_bore, plate_bore)
    p1 = np.asarray(upstream_pressure, dtype=float)
    dp = np.maximum(np.asarray(differential_pressure, dtype=float), 0.0)
    rho, mu = np.asarray(density, dtype=float), np.asarray(viscosity, dtype=float)
    ratio = (p1 - dp) / p1
    epsilon = np.asarray(expansibility_iso_5167_2_2003(beta, ratio, kappa))
    without_C = epsilon * np.pi / 4 * plate_bore**2 * np.sqrt(2.0 * dp * rho) / np.sqrt(1.0 - beta**4)
    to_reynolds = 4.0 / (np.pi * pipe_bore * mu)
    C = np.full(np.shape(without_C), 0.61)
    for _ in range(8):  # converges by a factor of 50 or more per iteration inside the standard's limits
        Re = np.maximum(C * without_C * to_reynolds, 100.0)  # limits the correlation at no flow
        C = np.asarray(discharge_coefficient_iso_5167_2_2003(pipe_bore, plate_bore, Re, taps))
    flow = C * without_C
    reynolds = flow * to_reynolds
    least = 5000.0
    if taps == "flange":
        least = max(least, 170000.0 * beta**2 * pipe_bore)
    elif beta > 0.56:
        least = 16000.0 * beta**2
    inside = (reynolds >= least) & (ratio >= 0.75) & (dp > 0.0)
    u_C = discharge_uncertainty_iso_5167_2_2003(pipe_bore, plate_bore)
    u = np.sqrt(u_C**2 + (0.0175 * (1.0 - ratio) / kappa) ** 2 + np.where(inside, 0.0, 0.02) ** 2)
    return _meter_flow(flow, C, epsilon, reynolds, u, inside)


def venturi_flow_iso_5167_4_2003(
    pipe_bore: float,
    throat_bore: float,
    upstream_pressure: Real,
    differential_pressure: Real,
    density: Real,
    viscosity: Real,
    kind: VenturiKind = "machined",
    kappa: float = HEAT_CAPACITY_RATIO,
) -> MeterFlow:
    """Mass flow through a classical Venturi tube with a constant discharge coefficient.

    ṁ = C/√(1 - β⁴) · ε · π/4 d² · √(2 Δp ρ1), C = 0.995 machined, 0.984 as cast, 0.985 rough welded sheet

    Parameters
    ----------
    pipe_bore : m
    throat_bore : m
    upstream_pressure : Pa, absolute
    differential_pressure : Pa, upstream less throat; zero and less give no flow
    density : kg/m³, upstream
    viscosity : Pa s
    kind : word, manufacture of the convergent part
    kappa : 1, isentropic exponent

    Returns
    -------
    MeterFlow; ``inside`` is False where Re < 2e5, as nearly always in a builder's line, and where τ < 0.75

    Validity: 0.4 <= β <= 0.75 and 50 mm <= D <= 1.2 m, else OutsideValidity; Re flagged, with 2 % added.
    Bias: C falls below the constant at low Reynolds number, by some per cent at 4e4: calibrate.
    Uncertainty: half of 1 % (machined), 0.7 % (as cast), 1.5 % (welded).
    Source: [iso-5167-4-2003] 5.5.2 to 5.7
    """
    beta = throat_bore / pipe_bore
    if not 0.4 <= beta <= 0.75 or not 50e-3 <= pipe_bore <= 1.2:
        raise OutsideValidity(
            f"a {throat_bore * 1e3:.1f} mm throat in a {pipe_bore * 1e3:.1f} mm pipe; the standard covers 0.4 to 0.75 "
            "of 50 to 1200 mm",
            remedy="Change the throat, or calibrate this one against the bag",
        )
    p1 = np.asarray(upstream_pressure, dtype=float)
    dp = np.maximum(np.asarray(differential_pressure, dtype=float), 0.0)
    ratio = (p1 - dp) / p1
    epsilon = np.asarray(expansibility_iso_5167_4_2003(beta, ratio, kappa))
    C, u_C = _VENTURI_C[kind]
    flow = C * epsilon * np.pi / 4 * throat_bore**2 * np.sqrt(2.0 * dp * np.asarray(density) / (1.0 - beta**4))
    reynolds = flow * 4.0 / (np.pi * pipe_bore * np.asarray(viscosity))
    inside = (reynolds >= 2e5) & (ratio >= 0.75) & (dp > 0.0)
    u = np.sqrt(u_C**2 + ((0.02 + 0.5 * beta**8) * (1.0 - ratio)) ** 2 + np.where(inside, 0.0, 0.02) ** 2)
    return _meter_flow(flow, np.full(np.shape(flow), C), epsilon, reynolds, u, inside)


def _meter_flow(
    flow: Any, discharge: Any, expansibility: Any, reynolds: Any, relative_uncertainty: Any, inside: Any
) -> MeterFlow:
    """A MeterFlow of numbers for scalar input, of arrays for arrays."""
    if np.ndim(flow) == 0:
        return MeterFlow(
            float(flow),
            float(discharge),
            float(expansibility),
            float(reynolds),
            float(relative_uncertainty),
            bool(inside),
        )
    return MeterFlow(flow, discharge, expansibility, reynolds, relative_uncertainty, inside)


@dataclass(frozen=True)
class StraightLength:
    """Straight pipe in bores: for no added uncertainty, and for 0.5 % more (None where the standard lists none)."""

    full: float
    half_per_cent_more: float | None


def straight_length_iso_5167_2_2003(beta: float, fitting: str) -> StraightLength:
    """Straight pipe required upstream of an orifice plate after a fitting, or downstream of it for "downstream".

    Table 3 of the standard, at the next larger tabulated bore ratio: never less than required.

    Parameters
    ----------
    beta : 1, bore ratio
    fitting : word, a key of STRAIGHT_LENGTHS

    Returns
    -------
    StraightLength, in pipe bores

    Validity: β <= 0.75 and a listed fitting, else OutsideValidity.
    Source: [iso-5167-2-2003] table 3
    """
    if fitting not in STRAIGHT_LENGTHS:
        raise OutsideValidity(
            f"the standard lists no straight length after “{fitting}”",
            remedy=f"Choose one of: {', '.join(STRAIGHT_LENGTHS)}",
        )
    for column, listed in enumerate(STRAIGHT_BETAS):
        if beta <= listed:
            full, reduced = STRAIGHT_LENGTHS[fitting]
            return StraightLength(full[column], reduced[column])
    raise OutsideValidity(f"bore ratio {beta:.3f} is above 0.75", remedy="Drill a smaller plate")
