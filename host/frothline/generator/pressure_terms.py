"""Pressure drop terms of a build, from its geometry, one term per element.

A term is a function of the build, its conditions and the uncertain factors (``TermInput``), the mass flow of air (kg/s)
and the absolute pressure behind the element (Pa), which may be that of many draws of the factors, (n,). It returns
pressure drops (Pa) by key of LABELS. TERMS lists the terms upstream from the bucket; ``uncertainties_of`` has the
standard uncertainty of each uncertain coefficient. A new element needs a term here, a label and, if uncertain, a line
there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import exp, hypot, log, sqrt

import numpy as np

from frothline.estimate import Z95
from frothline.generator.build import Build
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.packing_model import packing_coefficients, packing_pore
from frothline.physics import foam, packing, pipe, water
from frothline.physics.air import STANDARD_DENSITY, Real
from frothline.physics.hole import Countersink, HoleJet, HoleJets, discharge_of_drilled_hole, pressure_before_hole

COUNTERSUNK: dict[str, Countersink] = {"no": "none", "inside": "inside", "outside": "outside"}  # the sheet's words


SLOPES = {"wetting slope": "wetting", "foam slope": "foam"}  # exponents of the speed, on the factor of another


TENSION = "surface tension of the solution"  # error common to the elements whose capillary pressure goes with it


CAPILLARY = ("entry", "pores")


# Relative, of a capillary pressure with a known tension: the surface of a bubble in a hole is younger than that of a
# drop that falls slowly, and holes differ; and the effective width of a pore. With that of a tension
# that was not measured (0.28) they make 0.3 and 0.7. Judgement.
_U_FRESH, _U_PORE = 0.1, 0.64


_U_SLOPE = 0.3  # between a multiplier that falls and one that grows with the third part of it; judgement


# Foam in wool yields and is sheared thin: pressure then goes with the speed to the power of about a half, and the
# multiplier on the dry law, which grows with the speed itself or faster, falls. A multiplier that does not change with
# the speed is one standard uncertainty away. Judgement.
WOOL_SLOPE, _U_WOOL_SLOPE = -0.5, 0.5


# Pa, yield stress of the foam in wool: 0.02 to 5, from nearly liquid foam to dry foam of fine bubbles. This gives some
# tens of pascals to some kilopascals for a packing. Judgement.
YIELD_STRESS = 0.3


_U_YIELD = log(5.0 / 0.02) / (2 * Z95)


# m/s of air at 1.2 kg/m³ in the part's bore, reference speed of a factor with an exponent: 5 L/s in a bore of 100 mm
# and one of 36 mm; the same for all builds
LEAST_SPEED = 0.1  # of these, below which a factor is constant


REFERENCE_SPEEDS = {"wetting": 0.64, "foam": 4.9}


# Foam slides through a hose as a plug on a thin layer of solution. The stress on the wall grows with the speed to the
# power of 2/3 where the skins of the bubbles give way, as of detergent (Soft Matter 11 (2015) 368-381, abstract), and
# of 1/2 where they are stiff (N. D. Denkov and others, Colloids and Surfaces A 263 (2005) 129-145, from memory). No
# source gives its size at a builder's speeds. It is some pascals upward, as yield stresses are. With stiff skins and
# bubbles of 1 mm, 0.03 N/m and 1 mPa s make a capillary stress of 60 Pa; times the root of the capillary number 0.17
# and a factor of nearly 4 (the same paper, from memory) this is 95 Pa at 5 m/s: 2 to 110 Pa, judgement. A sweep can
# hardly tell it from a wet packing, whose pressure grows with about the same power of the flow, so that a range that is
# too narrow lets the packing take what the hose takes.
LEAST_WALL_STRESS, LARGEST_WALL_STRESS = 2.0, 110.0  # Pa at WALL_SPEED, 95 %
WALL_STRESS = 15.0  # Pa, about the geometric middle


WALL_SPEED = 5.0  # m/s of foam


WALL_EXPONENT = 0.58


_U_WALL = log(LARGEST_WALL_STRESS / LEAST_WALL_STRESS) / (2 * Z95)


LABELS = {
    "fittings": "connection and fittings",
    "hose": "air hose",
    "holes": "holes of the diffusion tube",
    "head": "liquid over the holes",
    "entry": "capillary pressure, wetted holes",
    "packing": "packing",
    "pores": "capillary pressure, packing pores",
    "outlet": "outlet and foam hose",
}


def uncertainties_of(build: Build, conditions: OperatingConditions) -> dict[str, float]:
    """Parameter -> standard uncertainty of the logarithm of its factor, before anything was measured."""
    b = build
    losses = [pipe.FITTINGS[name] for name in b.connection.fittings]
    total = sum(item.loss for item in losses) + 0.5
    u_cd = 0.10 if b.tube.countersunk == "inside" else 0.06  # discharge_of_drilled_hole
    drilled = 4 * 0.02  # holes drilled in plastic come out some per cent wide, and pressure goes with d^-4
    found = {
        "fittings": sqrt(sum(item.uncertainty**2 for item in losses) + 0.1**2) / total,
        "hose": 0.25 if b.hose.kind == "corrugated" else 0.08,
        "holes": hypot(2 * u_cd, drilled),
        "outlet": 0.2 if b.outlet.shape == "cone" else 0.12,
    }
    if b.packing.kind != "none":
        found["packing"] = {"beads": 0.25, "screens": 0.15}.get(b.packing.kind, 0.4)
    if conditions.wet:
        found["foam slope"] = _U_SLOPE
        found["foam"] = 0.5  # share of liquid in the air, and of air that bypasses it
        if b.outlet.hose > 0.0:
            found["wall"] = _U_WALL
        if b.tube.under_liquid:
            found["head"] = min(0.005 / b.tube.depth, 0.5)  # a reading of the depth to 5 mm
            found["entry"] = hypot(_U_FRESH, conditions.u_tension)
        if b.packing.kind != "none":
            # physics.packing.wet_multiplier_larkins; its data are of grains, wool is far outside them
            found["wetting"] = log(2.0) if b.packing.kind == "beads" else log(2.5)
            found["wetting slope"] = _U_WOOL_SLOPE if b.packing.is_wool else _U_SLOPE
            found["pores"] = _U_YIELD if b.packing.is_wool else hypot(_U_PORE, conditions.u_tension)
    return found


def tension_errors(build: Build, conditions: OperatingConditions) -> dict[str, float]:
    """Parameter -> share of its uncertainty that is the surface tension's, common to all of them.

    A capillary pressure goes with the tension, so that the relative uncertainties are the same.
    """
    if not conditions.wet:
        return {}
    has = {"entry": build.tube.under_liquid > 0, "pores": build.packing.kind != "none" and not build.packing.is_wool}
    return {key: conditions.u_tension for key in CAPILLARY if has[key]}


def usual_slope(build: Build, key: str) -> float:
    """Exponent of the speed in a factor before anything was measured."""
    return WOOL_SLOPE if key == "wetting" and build.packing.is_wool else 0.0


@dataclass(frozen=True)
class FixedTerms:
    """What the terms of a build need that depends on neither the flow nor a factor, calculated once."""

    build: Build
    conditions: OperatingConditions

    @cached_property
    def gas(self) -> tuple[float, float]:
        """R T in the hose and behind the holes, J/kg: the bubbles take the temperature of the solution."""
        c = self.conditions
        behind = self.build.solution.temperature if c.wet else c.line_temperature
        return c.ambient.gas_constant * c.line_temperature, c.ambient.gas_constant * behind

    @cached_property
    def viscosities(self) -> tuple[float, float]:
        """Viscosities of the air in the hose and behind the holes, Pa s."""
        c = self.conditions
        behind = self.build.solution.temperature if c.wet else c.line_temperature
        hose, bubbles = (replace(c.ambient, temperature=T).viscosity for T in (c.line_temperature, behind))
        return hose, bubbles

    @cached_property
    def discharge(self) -> float:
        t = self.build.tube
        return discharge_of_drilled_hole(t.hole, t.wall, COUNTERSUNK[t.countersunk])

    @cached_property
    def holes(self) -> tuple[int, int]:
        """Number of holes, and of those under liquid."""
        t = self.build.tube
        return t.holes, t.under_liquid if self.conditions.wet else 0

    @cached_property
    def lift(self) -> tuple[float, float]:
        """Pressure of the liquid over the holes and capillary pressure of a wetted hole, Pa."""
        t = self.build.tube
        return (
            float(water.liquid_head(t.depth, foam.SOLUTION_DENSITY)),
            packing.capillary_entry(self.conditions.surface_tension, t.hole),
        )

    @cached_property
    def fittings(self) -> float:
        """Loss of the fittings and of the steps of the bore, over the square of each area, 1/m⁴."""
        b = self.build
        own = sum(pipe.FITTINGS[name].loss for name in b.connection.fittings)
        forced = own / pipe.area(b.connection.bore) ** 2
        bores = [b.connection.bore, *([b.hose.bore] if b.hose.length > 0.0 else []), b.tube.bore]
        for before, after in pairwise(bores):  # each step of the bore on the way to the tube
            if after < before:
                forced += pipe.sudden_contraction(before, after) / pipe.area(after) ** 2
            else:
                forced += pipe.sudden_expansion(before, after) / pipe.area(before) ** 2
        return forced

    @cached_property
    def packing(self) -> tuple[float, float]:
        """Coefficients of the packing's dry law."""
        return packing_coefficients(self.build.packing, self.build.body.bore)

    @cached_property
    def pores(self) -> float:
        """Pressure that opens the pores of the wet packing, Pa."""
        b = self.build
        pore = packing_pore(b.packing, b.body.bore)
        if b.packing.is_wool:
            return packing.foam_yield(YIELD_STRESS, b.packing.length, pore)
        return packing.capillary_entry(self.conditions.surface_tension, pore)

    @cached_property
    def solution_viscosity(self) -> float:
        return float(water.water_viscosity(self.build.solution.temperature))


@dataclass(frozen=True)
class TermInput:
    """A build, its conditions, and the natural logarithm of the factor on each parameter (SLOPES: the exponent), or
    those of many draws, (n,).
    """

    build: Build
    conditions: OperatingConditions
    factors: Mapping[str, Real]
    fixed: FixedTerms

    def factor(self, key: str) -> Real:
        logarithm = self.factors.get(key, 0.0)
        return np.exp(logarithm) if isinstance(logarithm, np.ndarray) else exp(logarithm)

    def sloped(self, key: str, m: float, bore: float) -> Real:
        """A factor that also depends on the speed in a bore."""
        exponent = usual_slope(self.build, key) + self.factors.get(f"{key} slope", 0.0)
        speed = m / (STANDARD_DENSITY * pipe.area(bore))
        return self.factor(key) * max(speed / REFERENCE_SPEEDS[key], LEAST_SPEED) ** exponent

    def solution_mass_flow(self, m: float) -> float:
        c = self.conditions
        if not c.wet:
            return 0.0
        if c.solution_flow is not None:
            return c.solution_flow * foam.SOLUTION_DENSITY
        return foam.SOLUTION_DENSITY * c.capture * m / c.ambient.density / (c.expansion - 1.0)


def _isothermal(p: Real, gas: float, forced: Real) -> Real:
    """Drop upstream of p where the drop is ``forced``/ρ at the mean density: Δp (p + Δp/2) = R T x forced."""
    return (p * p + 2.0 * gas * forced) ** 0.5 - p


def fittings(of: TermInput, m: float, p: Real) -> dict[str, Real]:
    taken = _isothermal(p, of.fixed.gas[0], of.factor("fittings") * of.fixed.fittings * m * m / 2)
    return {"fittings": taken}


def hose(of: TermInput, m: float, p: Real) -> dict[str, Real]:
    h = of.build.hose
    if h.length <= 0.0:
        return {}
    Re = float(pipe.reynolds(max(m, 1e-9), h.bore, of.fixed.viscosities[0]))
    f = float(pipe.friction_factor(Re))
    if h.kind == "corrugated":
        f = max(f, pipe.corrugated_hose_friction(h.bore, h.pitch))
    forced = of.factor("hose") * f * h.length / h.bore * m * m / (2 * pipe.area(h.bore) ** 2)
    return {"hose": _isothermal(p, of.fixed.gas[0], forced)}


def holes(of: TermInput, m: float, p: Real) -> dict[str, Real]:
    t, c = of.build.tube, of.conditions
    every, under = of.fixed.holes
    C = of.fixed.discharge / of.factor("holes") ** 0.5
    T, R = c.line_temperature, c.ambient.gas_constant
    head = of.fixed.lift[0] * of.factor("head") if under else 0.0
    entry = of.fixed.lift[1] * of.factor("entry") if under else 0.0
    lifted = p + head + entry
    share: Real = 1.0
    if under in (0, every):
        inside = pressure_before_hole(m / every, t.hole, lifted, T, C, R)
    else:
        inside, through = _partly_covered(of, m, p, lifted, C)
        # the energy of the share of air that lifts the liquid
        share = under * through / m if m > 0.0 else 0.0
    if not under:
        return {"holes": inside - p}
    return {"holes": inside - p - share * (head + entry), "head": share * head, "entry": share * entry}


def _partly_covered(of: TermInput, m: float, p: Real, lifted: Real, C: Real) -> tuple[Real, Real]:
    """Absolute pressure before the holes, Pa, some under liquid, and the mass flow of one of those, kg/s."""
    hole, c = of.build.tube.hole, of.conditions
    T, R = c.line_temperature, c.ambient.gas_constant
    every, under = of.fixed.holes
    inside = pressure_before_hole(m / (every - under), hole, p, T, C, R)  # if all air takes the open ones
    if isinstance(p, np.ndarray):
        jets, lifts = HoleJets(hole, T, C * np.ones_like(p), R), lifted * np.ones_like(p)
        inside = np.where(inside > lifts, jets.common_pressure(m, every - under, p, under, lifts), inside)
        return inside, jets.mass_flow(inside, lifts)
    if inside <= lifted:
        return inside, 0.0
    jet = HoleJet(hole, T, float(C), R)
    inside = jet.common_pressure(m, every - under, p, under, float(lifted))
    return inside, jet.mass_flow(inside, float(lifted))


def packing_bed(of: TermInput, m: float, p: Real) -> dict[str, Real]:
    b, c = of.build, of.conditions
    if b.packing.kind == "none":
        return {}
    A = pipe.area(b.body.bore)
    alpha, beta = of.fixed.packing
    mu = of.fixed.viscosities[1]
    scale = of.factor("packing")
    forced = scale * (alpha * mu * m / A + beta * (m / A) ** 2)
    gas = of.fixed.gas[1]
    if not c.wet:
        return {"packing": _isothermal(p, gas, forced)}
    found: dict[str, Real] = {"pores": of.fixed.pores * of.factor("pores"), "packing": 0.0}
    if m > 0.0:
        dry = _isothermal(p, gas, forced)
        v = of.solution_mass_flow(m) / foam.SOLUTION_DENSITY / A
        liquid = scale * (alpha * of.fixed.solution_viscosity * v + beta * foam.SOLUTION_DENSITY * v * v)
        times = packing.wet_multiplier_larkins(dry, liquid).value * of.sloped("wetting", m, b.body.bore)
        wet = np.maximum(times, 1.0) if isinstance(times, np.ndarray) else max(times, 1.0)
        found["packing"] = _isothermal(p, gas, forced * wet)
    return found


def outlet(of: TermInput, m: float, p: Real) -> dict[str, Real]:
    b, o = of.build, of.build.outlet
    ml = of.solution_mass_flow(m)
    rho = p / of.fixed.gas[1]
    reynolds = float(pipe.reynolds(max(m + ml, 1e-9), o.bore, of.fixed.viscosities[1]))
    f = float(pipe.friction_factor(reynolds))
    if o.shape == "cone":
        narrowing = pipe.conical_contraction(b.body.bore, o.bore, o.length, f)
    else:
        narrowing = pipe.sudden_contraction(b.body.bore, o.bore)
    scale = of.factor("outlet")
    K = (narrowing + 1.0) * scale  # 1: the jet's kinetic energy is lost in the bucket
    if not of.conditions.wet:
        forced = (K + scale * f * o.hose / o.bore) * m * m / (2 * pipe.area(o.bore) ** 2)
        return {"outlet": _isothermal(p, of.fixed.gas[0], forced)}
    # wet, the stress on the hose's wall is the plug's, not that of a turbulent gas
    volume = m / rho + ml / foam.SOLUTION_DENSITY
    speed = volume / pipe.area(o.bore)
    stress = WALL_STRESS * of.factor("wall") * (speed / WALL_SPEED) ** WALL_EXPONENT
    momentum = K * of.sloped("foam", m, o.bore) * (m + ml) * volume / (2 * pipe.area(o.bore) ** 2)
    return {"outlet": momentum + 4 * o.hose / o.bore * stress}


@dataclass(frozen=True)
class Term:
    """The term of one element: ``keys`` of its pressure drops in flow order, and the ``factors`` that it reads."""

    keys: tuple[str, ...]
    factors: tuple[str, ...]
    drops: Callable[[TermInput, float, Real], dict[str, Real]]


TERMS = (  # upstream from the bucket
    Term(("outlet",), ("outlet", "wall", "foam", "foam slope"), outlet),
    Term(("pores", "packing"), ("packing", "pores", "wetting", "wetting slope"), packing_bed),
    Term(("entry", "head", "holes"), ("holes", "head", "entry"), holes),
    Term(("hose",), ("hose",), hose),
    Term(("fittings",), ("fittings",), fittings),
)
