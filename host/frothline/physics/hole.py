"""Discharge of air through holes in a wall or in a plate at the end of the line, up to and past choking."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, expm1, inf, log, log1p, pi, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from frothline.errors import OutsideValidity
from frothline.physics.air import DRY_GAS_CONSTANT, HEAT_CAPACITY_RATIO, Real

Floats = NDArray[np.float64]
Countersink = Literal["none", "inside", "outside"]

SHARP_PLATE_DISCHARGE = 0.60  # to the atmosphere, small relative to the pipe, at high Reynolds number
# losses of a hole in a wall, in dynamic pressures of the jet: edge, jet, wall friction per l/d
_SHARP_EDGE, _ROUNDED_EDGE, _JET, _WALL = 0.5, 0.15, 1.0, 0.03  # sources in the docstring of the function
SHARP_PLATE_UNCERTAINTY = 0.02  # relative, for a plate drilled and deburred in a workshop; a turned plate is better


def _critical_ratio(kappa: float) -> float:
    return float((2.0 / (kappa + 1.0)) ** (kappa / (kappa - 1.0)))


class HoleJet:
    """Mass flow of air through a hole from rest, isentropic to the jet, choked past the critical ratio.

    ṁ = C A p0 √(2 κ/((κ-1) R T0) (r^(2/κ) - r^((κ+1)/κ))), r = max(p2/p0, r*), r* = (2/(κ+1))^(κ/(κ-1)) = 0.528

    Parameters
    ----------
    diameter : m
    temperature : K, upstream
    discharge : 1, discharge coefficient
    gas_constant : J/(kg K)
    kappa : 1, isentropic exponent

    Validity: any pressures above zero; a coefficient that does not depend on the ratio, as for thick or
        rounded holes.
    Bias: a sharp thin hole passes 3 % more at 10 kPa and 5.5 % more at 20 kPa: see `sharp_plate_flow`.
    Uncertainty: that of the discharge coefficient.
    Source: [shapiro] ch. 4
    """

    def __init__(
        self,
        diameter: float,
        temperature: float,
        discharge: float = 0.61,
        gas_constant: float = DRY_GAS_CONSTANT,
        kappa: float = HEAT_CAPACITY_RATIO,
    ) -> None:
        self._area = discharge * pi / 4 * diameter**2
        self._push = 2.0 * kappa / ((kappa - 1.0) * gas_constant * temperature)
        self._critical = _critical_ratio(kappa)
        self._exponents = 2.0 / kappa, (kappa + 1.0) / kappa

    def mass_flow(self, upstream_pressure: float, downstream_pressure: float) -> float:
        """Mass flow, kg/s, between two absolute pressures, Pa; negative where the downstream pressure is higher
        (backflow through the same hole).
        """
        if upstream_pressure < downstream_pressure:
            return -self.mass_flow(downstream_pressure, upstream_pressure)
        ratio = max(downstream_pressure / upstream_pressure, self._critical)
        low, high = self._exponents
        head = max(ratio**low - ratio**high, 0.0)
        return float(self._area * (upstream_pressure * sqrt(self._push * head)))

    def common_pressure(self, flow_of_mass: float, holes: int, outside: float, covered: int, lifted: float) -> float:
        """Absolute pressure, Pa, that drives a mass flow, kg/s, through two groups of equal holes together.

        ``holes`` end at the pressure ``outside`` and ``covered`` at the higher one ``lifted``, absolute, Pa; the flow
        is at least that of the first group at ``lifted``. Newton's method in s = √(p0 - lifted), in which the flow is
        smooth, from the incompressible solution; bisection where a step leaves the bracket. To 1e-13 of p0.
        """
        low, high = self._exponents
        push, critical, area = self._push, self._critical, self._area

        def flow(after: float, drop: float, number: int) -> tuple[float, float]:
            """Flow and its derivative by the pressure before the holes, which is ``drop`` above that behind them."""
            before, fall = after + drop, log1p(drop / after)  # exact for a small drop
            ratio = exp(-fall)
            if ratio <= critical:  # choked
                rate = number * area * sqrt(push * (critical**low - critical**high))
                return rate * before, rate
            first = exp(-low * fall)
            root = sqrt(-push * first * expm1((low - high) * fall))
            slope = root + push * (high * exp(-high * fall) - low * first) / (2.0 * root) if root > 0.0 else 0.0
            return number * area * before * root, number * area * slope

        # incompressible, at the density of the higher pressure: n √(s² + d) + c s = f
        apart = lifted - outside
        wanted = flow_of_mass / (area * sqrt(push * (high - low) * lifted))
        n2, c2, n, c = float(holes) ** 2, float(covered) ** 2, float(holes), float(covered)
        if n2 != c2:
            inside = c2 * wanted**2 - (c2 - n2) * (wanted**2 - n2 * apart)
            s = (c * wanted - sqrt(max(inside, 0.0))) / (c2 - n2)
        else:
            s = (wanted**2 - n2 * apart) / (2.0 * n * wanted)
        least, most = 0.0, inf
        s = max(s, 1e-9 * sqrt(lifted))
        for _ in range(100):
            if not least < s < most:  # the flow is convex in s: a step to the right of the root stays there
                s = 0.5 * (least + most) if most < inf else 2.0 * least + 1.0
            (one, by_one), (two, by_two) = flow(outside, apart + s * s, holes), flow(lifted, s * s, covered)
            excess = one + two - flow_of_mass
            least, most = (least, s) if excess > 0.0 else (s, most)
            next_s = s - excess / (2.0 * s * (by_one + by_two))
            if abs(next_s * next_s - s * s) <= 1e-13 * lifted:
                break
            s = next_s
        return lifted + s * s


class HoleJets:
    """``HoleJet`` with many discharge coefficients (n,), each with its own pressures (n,)."""

    def __init__(
        self, diameter: float, temperature: float, discharge: Floats, gas_constant: float = DRY_GAS_CONSTANT
    ) -> None:
        kappa = HEAT_CAPACITY_RATIO
        self._area = discharge * pi / 4 * diameter**2
        self._push = 2.0 * kappa / ((kappa - 1.0) * gas_constant * temperature)
        self._most = -log(_critical_ratio(kappa))
        self._exponents = 2.0 / kappa, (kappa + 1.0) / kappa

    def mass_flow(self, upstream_pressure: Floats, downstream_pressure: Floats) -> Floats:
        """Mass flow, kg/s, between two absolute pressures, Pa; 0 where the downstream pressure is higher."""
        fall = np.log(np.maximum(upstream_pressure / downstream_pressure, 1.0))
        return self._flow(downstream_pressure, fall)[0]

    def common_pressure(self, flow_of_mass: float, holes: int, outside: Floats, covered: int, lifted: Floats) -> Floats:
        """``HoleJet.common_pressure``, to 1e-9; ``lifted`` where the first group passes the flow with less.

        Newton's method in the same s, from the same start; the flow is convex in it, so that each step ends at or above
        the root.
        """
        apart = lifted - outside
        low, high = self._exponents
        wanted = flow_of_mass / (self._area * np.sqrt(self._push * (high - low) * lifted))
        n, c = float(holes), float(covered)
        if n != c:
            inside = np.maximum(c * c * wanted**2 - (c * c - n * n) * (wanted**2 - n * n * apart), 0.0)
            s = (c * wanted - np.sqrt(inside)) / (c * c - n * n)
        else:
            s = (wanted**2 - n * n * apart) / (2.0 * n * wanted)
        s = np.maximum(s, 1e-7 * np.sqrt(lifted))
        for _ in range(60):
            one, by_one = self._flow(outside, np.log1p((apart + s * s) / outside))
            two, by_two = self._flow(lifted, np.log1p(s * s / lifted))
            step = (holes * one + covered * two - flow_of_mass) / (2.0 * s * (holes * by_one + covered * by_two))
            s = np.maximum(s - step, 0.1 * s)
            if np.all((np.abs(step) <= 1e-7 * s) | (s * s <= 1e-12 * lifted)):  # the next step is the square of it
                break
        found: Floats = lifted + s * s
        return found

    def _flow(self, after: Floats, fall: Floats) -> tuple[Floats, Floats]:
        """Flow of one hole, kg/s, and its derivative by the pressure before it, (n,), from the pressure behind it, Pa,
        and the logarithm of the ratio of the two.
        """
        low, high = self._exponents
        x = np.minimum(fall, self._most)  # choked past it
        first = np.exp(-low * x)
        root = np.sqrt(-self._push * first * np.expm1((low - high) * x))
        with np.errstate(divide="ignore", invalid="ignore"):
            bend = self._push * (high * np.exp(-high * x) - low * first) / (2.0 * root)
        slope = root + np.where((fall >= self._most) | (root == 0.0), 0.0, bend)
        return self._area * after * np.exp(fall) * root, self._area * slope


def pressure_before_hole(
    flow_of_mass: float,
    diameter: float,
    downstream_pressure: Real,
    temperature: float,
    discharge: Real = 0.61,
    gas_constant: float = DRY_GAS_CONSTANT,
    kappa: float = HEAT_CAPACITY_RATIO,
) -> Real:
    """Pressure for a mass flow of air through a hole: the inverse of `HoleJet`, in closed form.

    y = ½ + √(¼ + K), p0 = p2 y^(κ/(κ-1)), K = (ṁ/(C A p2))² (κ-1) R T/(2κ); past choking p0 = ṁ/(C A) √(R T/κ)
    ((κ+1)/2)^((κ+1)/(2(κ-1)))

    Parameters
    ----------
    flow_of_mass : kg/s, not negative
    diameter : m
    downstream_pressure : Pa, absolute
    temperature : K, upstream
    discharge : 1, discharge coefficient
    gas_constant : J/(kg K)
    kappa : 1, isentropic exponent

    Returns
    -------
    Pa, absolute

    Validity: a flow not below zero, else OutsideValidity; as `HoleJet`.
    Source: [shapiro] ch. 4
    """
    if flow_of_mass < 0.0:
        raise OutsideValidity("the flow is below zero", remedy="Swap the sides")
    flux = flow_of_mass / (discharge * pi / 4 * diameter**2)
    K = (flux / downstream_pressure) ** 2 * (kappa - 1.0) * gas_constant * temperature / (2.0 * kappa)
    before = downstream_pressure * (0.5 + (0.25 + K) ** 0.5) ** (kappa / (kappa - 1.0))
    steep = ((kappa + 1.0) / 2.0) ** ((kappa + 1.0) / (2.0 * (kappa - 1.0)))
    choked = flux * (sqrt(gas_constant * temperature / kappa) * steep)
    if isinstance(before, np.ndarray):
        return np.where(downstream_pressure / before >= _critical_ratio(kappa), before, choked)
    return float(before if downstream_pressure / before >= _critical_ratio(kappa) else choked)


def discharge_of_drilled_hole(diameter: float, wall: float, countersink: Countersink = "none") -> float:
    """Discharge coefficient of a drilled hole in a much larger wall.

    C = 1/√ζ, ζ = ζ_in + τ + 1 + 0.03 l/d;  τ = (2.4 - l/d) 10^(-φ), φ = 0.25 + 0.535 (l/d)⁸/(0.05 + (l/d)⁷), 0 past 2.4
    ζ_in = 0.5 for a square edge; 0.15 and τ = 0 for a countersink on the inlet side. A countersink on the outlet
    side shortens the hole by half of the wall.

    Parameters
    ----------
    diameter : m
    wall : m, thickness of the wall
    countersink : word, none, inside (inlet side) or outside (outlet side)

    Returns
    -------
    1; 0.59 for a thin wall, 0.76 for a wall of one diameter, 0.80 for two diameters and more

    Validity: wall up to five diameters, else OutsideValidity; holes small relative to the pipe; Re above 1e4; below, it
        falls by some per cent.
    Uncertainty: relative standard 6 % (square edge), 10 % (countersunk), mainly due to burrs.
    Source: [idelchik] diagram 4-15 at a vanishing area ratio; half the wall for the far countersink is common practice
    """
    if diameter <= 0.0 or wall < 0.0 or wall > 5.001 * diameter:
        raise OutsideValidity(
            f"a {diameter * 1e3:.2f} mm hole through {wall * 1e3:.2f} mm of wall",
            remedy="Holes from a fifth of the wall's thickness upward are covered",
        )
    length = wall / diameter * (0.5 if countersink == "outside" else 1.0)
    if countersink == "inside":
        return float((_ROUNDED_EDGE + _JET + _WALL * length) ** -0.5)
    phi = 0.25 + 0.535 * length**8 / (0.05 + length**7)
    tau = max(2.4 - length, 0.0) * 10.0**-phi
    return float((_SHARP_EDGE + tau + _JET + _WALL * length) ** -0.5)


def _expansibility(ratio: Real, kappa: float) -> Real:
    """Expansibility of an orifice plate at a small bore ratio, from p2/p1: [iso-5167-2-2003] eq. 5."""
    return 1.0 - 0.351 * (1.0 - ratio ** (1.0 / kappa))


@dataclass(frozen=True)
class PlateFlow:
    """Flow through a plate at the end of the line.

    mass_flow : kg/s
    relative_uncertainty : standard, from the coefficient alone
    inside : True where the pressure ratio is within the validity of the formula
    """

    mass_flow: Real
    relative_uncertainty: float
    inside: Real | bool | np.ndarray


def sharp_plate_flow(
    pipe_bore: float,
    plate_bore: float,
    gauge_pressure: Real,
    ambient_pressure: Real,
    density: Real,
    discharge: float = SHARP_PLATE_DISCHARGE,
    kappa: float = HEAT_CAPACITY_RATIO,
) -> PlateFlow:
    """Mass flow out of a sharp-edged plate at the end of the line, from the line's pressure alone.

    ṁ = C Λ ε π/4 d² √(2 Δp ρ1);  ε = 1 - 0.351 [1 - (p2/p1)^(1/κ)] (the orifice plate's, at a small bore ratio)
    Λ = √(ζ(0)/(ζ(β) - β⁴)) for the pipe's approach
    ζ = 0.0696 (1 - β⁵) λ² + λ², λ = 1 + 0.622 (1 - 0.215 β² - 0.785 β⁵)

    Parameters
    ----------
    pipe_bore : m, bore of the pipe just before the plate, at the pressure tap
    plate_bore : m
    gauge_pressure : Pa, in the line relative to ambient; zero and less give no flow
    ambient_pressure : Pa, absolute
    density : kg/m³, in the line
    discharge : 1, coefficient of the plate for a bore much smaller than the pipe's
    kappa : 1, isentropic exponent

    Returns
    -------
    PlateFlow; ``inside`` is False where p2/p1 < 0.75

    Validity: β <= 0.8, else OutsideValidity; edge sharp on the pressure side, plate thinner than a tenth of its bore.
    Uncertainty: relative standard 2 % for workshop plates (common practice, no source); calibrate one with the bag.
    Source: [rennels] ch. 13 (jet contraction), [iso-5167-2-2003] eq. 5 (expansibility)
    """
    beta = plate_bore / pipe_bore
    if not 0.0 < beta <= 0.8:
        raise OutsideValidity(
            f"a {plate_bore * 1e3:.1f} mm plate on a {pipe_bore * 1e3:.1f} mm pipe",
            remedy="A plate up to 0.8 of the pipe's bore is covered",
        )

    def loss(b: float) -> float:
        jet = 1.0 + 0.622 * (1.0 - 0.215 * b**2 - 0.785 * b**5)
        return (0.0696 * (1.0 - b**5) + 1.0) * jet * jet

    approach = (loss(0.0) / (loss(beta) - beta**4)) ** 0.5
    dp = np.maximum(np.asarray(gauge_pressure, dtype=float), 0.0)
    ratio = np.asarray(ambient_pressure) / (np.asarray(ambient_pressure) + dp)
    epsilon = _expansibility(ratio, kappa)
    value = discharge * approach * epsilon * np.pi / 4 * plate_bore**2 * np.sqrt(2.0 * dp * np.asarray(density))
    inside = ratio >= 0.75
    if value.ndim:
        return PlateFlow(value, SHARP_PLATE_UNCERTAINTY, inside)
    return PlateFlow(float(value), SHARP_PLATE_UNCERTAINTY, bool(inside))


def small_plate_factor(diameter: float, thickness: float, reynolds: float) -> tuple[float, float]:
    """Factor on the discharge of a sharp thin plate at high Reynolds number, for a small or thick plate.

    F = C_R C_t, at least 1;  C_R = (0.5961 + 0.000521 (10⁶/Re)^0.7)/(0.5961 + 0.000521 · 10^0.7) below Re = 1e5
    C_t = C(d, t)/C(d, 0) by `discharge_of_drilled_hole`

    Parameters
    ----------
    diameter : m, of the hole
    thickness : m, of the plate; 0 for a thin edge
    reynolds : 1, of the jet, with the hole's diameter

    Returns
    -------
    1, the factor; 1, its relative standard uncertainty

    Validity: Re >= 1000 and a plate up to five diameters thick, else OutsideValidity; a hole small relative to the
        pipe.
    Uncertainty: half of what the Reynolds number adds, and 6 % where the plate is thicker than 0.3 of the hole.
    Source: [iso-5167-2-2003] eq. 4 at a vanishing bore ratio, used below the standard's 12.5 mm; [idelchik] diagram
        4-15
    """
    if reynolds < 1000.0:
        raise OutsideValidity(
            f"a Reynolds number of {reynolds:.0f} in a {diameter * 1e3:.2f} mm hole",
            remedy="A Reynolds number from 1000 on is covered: use a larger hole or more pressure",
        )
    slow = (0.5961 + 0.000521 * (1e6 / min(reynolds, 1e5)) ** 0.7) / (0.5961 + 0.000521 * 10.0**0.7)
    thick = discharge_of_drilled_hole(diameter, thickness) / discharge_of_drilled_hole(diameter, 0.0)
    u_thick = 0.06 if thickness > 0.3 * diameter else 0.0
    return slow * max(thick, 1.0), float(np.hypot((slow - 1.0) / 2.0, u_thick))
