"""What a build asks for, from its geometry: the pressure that each element takes at an air flow, dry and wet.

The line is walked upstream from the bucket, for the pressure behind an element is what its air expands to. In order of
the air: fittings and hose; the holes of the diffusion tube (compressible; those under liquid lift it and open against
its surface tension); the packing (dry law, times a wet multiplier, plus the entry pressure of its pores); the outlet.

Each uncertain coefficient is one parameter, a factor on what the element takes, whose logarithm is known to within a
stated uncertainty. Wet packing and foam in the outlet have a second one each, an exponent: how their part grows with
the speed is not known from any source either, and a form held fixed would make extrapolations look surer than they
are. It is the speed in the part itself, so that what was learnt in one bore says what it can of another.
``generator.model_fit`` narrows them all by what was measured.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from math import exp, hypot, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from frothline.curve.resistance import ResistanceLine
from frothline.curve.uncertain_curve import ALL_POWERS, Uncertain
from frothline.errors import OutsideValidity
from frothline.estimate import Z95, Estimate
from frothline.foam.prior import USUAL_CAUGHT, USUAL_EXPANSION
from frothline.generator.build import Build
from frothline.generator.packing_model import _positive, packing_coefficients, packing_pore
from frothline.physics import foam, packing, pipe, water
from frothline.physics.air import STANDARD_DENSITY, AirState
from frothline.physics.exhaust import exhaust_temperature_rise
from frothline.physics.hole import Countersink, discharge_of_drilled_hole, hole_flow, pressure_before_hole
from frothline.physics.manifold import perforated_pipe

Array = NDArray[np.float64]


COUNTERSUNK: dict[str, Countersink] = {"no": "none", "inside": "inside", "outside": "outside"}  # the sheet's words


SLOPES = {"wetting slope": "wetting", "foam slope": "foam"}  # exponents of the speed, on the factor of another


_U_SLOPE = 0.3  # between a multiplier that falls and one that grows with the third part of it; judgement


# Foam in wool yields and is sheared thin: pressure then goes with the speed to the power of about a half, and the
# multiplier on the dry law, which grows with the speed itself or faster, falls. A multiplier that does not change with
# the speed is one standard uncertainty away. Judgement.
WOOL_SLOPE, _U_WOOL_SLOPE = -0.5, 0.5


# Pa, yield stress of the foam in wool: 0.02 to 5, from foam that is as good as a liquid to dry foam of fine bubbles. It
# takes some tens of pascals to some kilopascals of a packing. Judgement.
YIELD_STRESS = 0.3


_U_YIELD = log(5.0 / 0.02) / (2 * Z95)


# m/s of air at 1.2 kg/m³ in the part's bore, at which a factor with an exponent is what it says: 5 L/s in a bore of
# 100 mm and one of 36 mm; the same for all builds
LEAST_SPEED = 0.1  # of these, below which a factor stays as it is there


REFERENCE_SPEEDS = {"wetting": 0.64, "foam": 4.9}


# Foam slides through a hose as a plug on a thin layer of solution. The stress on the wall grows with the speed to the
# power of 2/3 where the skins of the bubbles give way, as of detergent (Soft Matter 11 (2015) 368-381, abstract), and
# of 1/2 where they are stiff (N. D. Denkov and others, Colloids and Surfaces A 263 (2005) 129-145, from memory). How
# large it is at a builder's speeds no source says: 5 to 50 Pa at 5 m/s is judgement, from yield stresses of a few Pa
# upward.
WALL_STRESS = 15.0  # Pa, of 5 and 50 the geometric middle


WALL_SPEED = 5.0  # m/s of foam


WALL_EXPONENT = 0.58


_U_WALL = log(50.0 / 5.0) / (2 * Z95)


USUAL_PRESSURE = 10e3  # Pa, at which a vacuum drives a generator; judgement


LABELS = {
    "fittings": "connection and fittings",
    "hose": "air hose",
    "holes": "holes of the diffusion tube",
    "head": "liquid over the holes",
    "entry": "opening the wetted holes",
    "packing": "packing",
    "pores": "opening the packing's pores",
    "outlet": "outlet and foam hose",
}


def line_temperature(ambient: AirState, pressure: float) -> float:
    """K of the air in the hose behind a source that compresses it to a gauge pressure, Pa; where nobody measured it."""
    return ambient.temperature + float(exhaust_temperature_rise(ambient.temperature, pressure, ambient.pressure))


@dataclass(frozen=True)
class OperatingConditions:
    """The air and the liquid for which a build is reckoned.

    ambient : the room's air;  line_temperature : K, of the air in the hose
    wet : solution in the generator, or dry as it was assembled
    solution_flow : m³/s, where it is pumped or was measured; None where the air draws it along
    expansion, capture : of the foam, used for the liquid that runs with the air where its flow is not known
    """

    ambient: AirState
    line_temperature: float
    wet: bool = True
    solution_flow: float | None = None
    expansion: float = USUAL_EXPANSION
    capture: float = USUAL_CAUGHT
    surface_tension: float = water.SOLUTION_SURFACE_TENSION

    @classmethod
    def usual(cls, *, wet: bool = True) -> OperatingConditions:
        """A room of 20 °C at 101.325 kPa and half humid, and the exhaust of a source that gives 10 kPa."""
        ambient = AirState.free_air(293.15, 101325.0, 0.5)
        return cls(ambient, line_temperature(ambient, USUAL_PRESSURE), wet=wet)

    @classmethod
    def of(cls, build: Build, *, wet: bool = True) -> OperatingConditions:
        """The usual room and air, with the solution's flow where the build's sheet has one."""
        return replace(cls.usual(wet=wet), solution_flow=build.reservoir.flow)


@dataclass(frozen=True)
class PressureShare:
    """What one element takes at an air flow: its key and label, pressure (Pa) with interval, share of the whole."""

    key: str
    label: str
    pressure: Estimate
    share: float


@dataclass(frozen=True)
class PressureModel:
    """The geometry model of a build under stated conditions.

    ``factors`` : natural logarithm of the factor on each parameter (SLOPES: the exponent), 0 where none is given
    ``errors`` : independent errors, each a name and how far one standard uncertainty of it shifts those logarithms;
    None means the stated uncertainty of each parameter by itself
    """

    build: Build
    conditions: OperatingConditions
    factors: Mapping[str, float] = field(default_factory=dict)
    errors: tuple[tuple[str, Mapping[str, float]], ...] | None = None

    # -- what is uncertain ---------------------------------------------------------------------------------------

    @cached_property
    def uncertainties(self) -> dict[str, float]:
        """Parameter -> standard uncertainty of the logarithm of its factor, before anything was measured."""
        b = self.build
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
        if self.conditions.wet:
            found["foam slope"] = _U_SLOPE
            found["foam"] = 0.5  # how much liquid goes along, and how much of the air passes it by
            if b.outlet.hose > 0.0:
                found["wall"] = _U_WALL
            if b.tube.under_liquid:
                found["head"] = min(0.005 / b.tube.depth, 0.5)  # a reading of the depth to 5 mm
                found["entry"] = 0.3  # surface tension of the solution
            if b.packing.kind != "none":
                # physics.packing.wet_multiplier_larkins; its data are of grains, wool is far outside them
                found["wetting"] = log(2.0) if b.packing.kind == "beads" else log(2.5)
                found["wetting slope"] = _U_WOOL_SLOPE if b.packing.is_wool else _U_SLOPE
                found["pores"] = _U_YIELD if b.packing.is_wool else 0.7  # which width of a pore counts
        return found

    @property
    def parameters(self) -> tuple[str, ...]:
        return tuple(self.uncertainties)

    def moved(self, step: Mapping[str, float]) -> PressureModel:
        """The same with some logarithms shifted; what was worked out for the build is worked out anew."""
        factors = dict(self.factors)
        for key, value in step.items():
            factors[key] = factors.get(key, 0.0) + value
        return replace(self, factors=factors)

    def _factor(self, key: str) -> float:
        return exp(self.factors.get(key, 0.0))

    def _sloped(self, key: str, m: float, bore: float) -> float:
        """A factor that also changes with the speed in a bore."""
        exponent = self.usual_slope(key) + self.factors.get(f"{key} slope", 0.0)
        speed = m / (STANDARD_DENSITY * pipe.area(bore))
        return float(self._factor(key) * max(speed / REFERENCE_SPEEDS[key], LEAST_SPEED) ** exponent)

    def usual_slope(self, key: str) -> float:
        """Exponent of the speed in a factor before anything was measured."""
        return WOOL_SLOPE if key == "wetting" and self.build.packing.is_wool else 0.0

    # -- the walk ------------------------------------------------------------------------------------------------

    def drops(self, mass_flow: float) -> dict[str, float]:
        """Pressure that each element takes, Pa, in the order of the air, at a mass flow of air, kg/s.

        Raises OutsideValidity for a flow below zero, or one that would need more than two bar.
        """
        if mass_flow < 0.0:
            raise OutsideValidity("the air flow is below zero", remedy="Give it as it runs to the bucket")
        ambient = self.conditions.ambient
        p = ambient.pressure
        found: dict[str, float] = {}
        for keys in (("outlet",), ("pores", "packing"), ("entry", "head", "holes"), ("hose",), ("fittings",)):
            taken = self._walk(keys[-1], mass_flow, p)
            for key in keys:
                if key in taken:
                    found[key] = taken[key]
            p += sum(taken.values())
            if not p < ambient.pressure + 200e3:
                raise OutsideValidity(
                    f"{mass_flow * 1e3:.3g} g/s of air would need more than 200 kPa",
                    remedy="Ask for a smaller flow; this is no blower's work",
                )
        return {key: found[key] for key in LABELS if key in found}

    def pressure(self, standard_flow: float) -> float:
        """Gauge pressure, Pa, that the build asks for at a standard flow, m³/s at 1.2 kg/m³."""
        return sum(self.drops(standard_flow * STANDARD_DENSITY).values())

    def _walk(self, which: str, m: float, p: float) -> dict[str, float]:
        return {
            "outlet": self._outlet,
            "packing": self._packing,
            "holes": self._holes,
            "hose": self._hose,
            "fittings": self._fittings,
        }[which](m, p)

    def _gas(self, *, at_bubbles: bool) -> float:
        """R T, J/kg: behind the holes the bubbles take the temperature of the solution."""
        c = self.conditions
        warm = c.line_temperature if not (at_bubbles and c.wet) else self.build.solution.temperature
        return c.ambient.gas_constant * warm

    @cached_property
    def _viscosities(self) -> tuple[float, float]:
        """Of the air in the hose and behind the holes, Pa s."""
        c = self.conditions
        behind = self.build.solution.temperature if c.wet else c.line_temperature
        hose, bubbles = (replace(c.ambient, temperature=T).viscosity for T in (c.line_temperature, behind))
        return hose, bubbles

    def _solution_mass_flow(self, m: float) -> float:
        c = self.conditions
        if not c.wet:
            return 0.0
        if c.solution_flow is not None:
            return c.solution_flow * foam.SOLUTION_DENSITY
        return foam.SOLUTION_DENSITY * c.capture * m / c.ambient.density / (c.expansion - 1.0)

    @staticmethod
    def _isothermal(p: float, gas: float, forced: float) -> float:
        """Drop upstream of p where the drop is ``forced``/ρ at the mean density: Δp (p + Δp/2) = R T x forced."""
        return sqrt(p * p + 2.0 * gas * forced) - p

    def _outlet(self, m: float, p: float) -> dict[str, float]:
        b, o = self.build, self.build.outlet
        ml = self._solution_mass_flow(m)
        rho = p / self._gas(at_bubbles=True)
        reynolds = float(pipe.reynolds(max(m + ml, 1e-9), o.bore, self._viscosities[1]))
        f = float(pipe.friction_factor(reynolds))
        if o.shape == "cone":
            narrowing = pipe.conical_contraction(b.body.bore, o.bore, o.length, f)
        else:
            narrowing = pipe.sudden_contraction(b.body.bore, o.bore)
        scale = self._factor("outlet")
        K = (narrowing + 1.0) * scale  # 1: the jet's speed is lost in the bucket
        if not self.conditions.wet:
            forced = (K + scale * f * o.hose / o.bore) * m * m / (2 * pipe.area(o.bore) ** 2)
            return {"outlet": self._isothermal(p, self._gas(at_bubbles=False), forced)}
        # wet, the stress on the hose's wall is the plug's, not that of a turbulent gas
        volume = m / rho + ml / foam.SOLUTION_DENSITY
        speed = volume / pipe.area(o.bore)
        stress = WALL_STRESS * self._factor("wall") * (speed / WALL_SPEED) ** WALL_EXPONENT
        momentum = K * self._sloped("foam", m, o.bore) * (m + ml) * volume / (2 * pipe.area(o.bore) ** 2)
        return {"outlet": momentum + 4 * o.hose / o.bore * stress}

    def _packing(self, m: float, p: float) -> dict[str, float]:
        b, c = self.build, self.conditions
        if b.packing.kind == "none":
            return {}
        A = pipe.area(b.body.bore)
        alpha, beta = packing_coefficients(b.packing, b.body.bore)
        mu = self._viscosities[1]
        scale = self._factor("packing")
        forced = scale * (alpha * mu * m / A + beta * (m / A) ** 2)
        gas = self._gas(at_bubbles=True)
        if not c.wet:
            return {"packing": self._isothermal(p, gas, forced)}
        pore = packing_pore(b.packing, b.body.bore)
        if b.packing.is_wool:
            opening = packing.foam_yield(YIELD_STRESS, b.packing.length, pore)
        else:
            opening = packing.capillary_entry(c.surface_tension, pore)
        found = {"pores": opening * self._factor("pores"), "packing": 0.0}
        if m > 0.0:
            dry = self._isothermal(p, gas, forced)
            v = self._solution_mass_flow(m) / foam.SOLUTION_DENSITY / A
            mu_l = float(water.water_viscosity(b.solution.temperature))
            liquid = scale * (alpha * mu_l * v + beta * foam.SOLUTION_DENSITY * v * v)
            times = packing.wet_multiplier_larkins(dry, liquid).value * self._sloped("wetting", m, b.body.bore)
            found["packing"] = self._isothermal(p, gas, forced * max(times, 1.0))
        return found

    def _holes(self, m: float, p: float) -> dict[str, float]:
        t, c = self.build.tube, self.conditions
        under = t.under_liquid if c.wet else 0
        C = discharge_of_drilled_hole(t.hole, t.wall, COUNTERSUNK[t.countersunk]) / sqrt(self._factor("holes"))
        T, R = c.line_temperature, c.ambient.gas_constant
        head = float(water.liquid_head(t.depth, foam.SOLUTION_DENSITY)) * self._factor("head") if under else 0.0
        entry = packing.capillary_entry(c.surface_tension, t.hole) * self._factor("entry") if under else 0.0

        def before(number: int, flow: float, outside: float) -> float:
            return pressure_before_hole(flow / number, t.hole, outside, T, C, R)

        def through(number: int, inside: float, outside: float) -> float:
            return number * float(hole_flow(t.hole, inside, outside, T, C, R)) if inside > outside else 0.0

        lifted = p + head + entry
        if under == t.holes:
            inside = before(under, m, lifted)
        else:
            inside = before(t.holes - under, m, p)
            if under and inside > lifted:  # some of it goes through those under liquid

                def excess(guess: float) -> float:
                    return through(t.holes - under, guess, p) + through(under, guess, lifted) - m

                inside = float(optimize.brentq(excess, lifted, inside, xtol=1e-6, rtol=1e-12))
        if not under:
            return {"holes": inside - p}
        # where all holes are under, all air lifts the liquid; else what the share of the air that does so spends
        share = 1.0 if under == t.holes else (through(under, inside, lifted) / m if m > 0.0 else 0.0)
        return {"holes": inside - p - share * (head + entry), "head": share * head, "entry": share * entry}

    def _hose(self, m: float, p: float) -> dict[str, float]:
        h = self.build.hose
        if h.length <= 0.0:
            return {}
        Re = float(pipe.reynolds(max(m, 1e-9), h.bore, self._viscosities[0]))
        f = float(pipe.friction_factor(Re))
        if h.kind == "corrugated":
            f = max(f, pipe.corrugated_hose_friction(h.bore, h.pitch))
        forced = self._factor("hose") * f * h.length / h.bore * m * m / (2 * pipe.area(h.bore) ** 2)
        return {"hose": self._isothermal(p, self._gas(at_bubbles=False), forced)}

    def _fittings(self, m: float, p: float) -> dict[str, float]:
        b = self.build
        own = sum(pipe.FITTINGS[name].loss for name in b.connection.fittings)
        forced = own / pipe.area(b.connection.bore) ** 2
        bores = [b.connection.bore, *([b.hose.bore] if b.hose.length > 0.0 else []), b.tube.bore]
        for before, after in pairwise(bores):  # each step of the bore on the way to the tube
            if after < before:
                forced += pipe.sudden_contraction(before, after) / pipe.area(after) ** 2
            else:
                forced += pipe.sudden_expansion(before, after) / pipe.area(before) ** 2
        taken = self._isothermal(p, self._gas(at_bubbles=False), self._factor("fittings") * forced * m * m / 2)
        return {"fittings": taken}

    # -- what others ask -----------------------------------------------------------------------------------------

    @property
    def effects(self) -> tuple[tuple[str, Mapping[str, float]], ...]:
        """``errors``, or the stated uncertainties of the parameters, each an error of its own."""
        if self.errors is not None:
            return self.errors
        return tuple((f"generator: {key}", {key: u}) for key, u in self.uncertainties.items())

    def line(self, highest_flow: float, lowest_flow: float = 0.0) -> ResistanceLine:
        """The resistance p = c + a q + b q² nearest to the model between two standard flows (m³/s), with its errors.

        From no flow upward c, a and b are kept from going below zero; over a narrower stretch, where the form follows
        more closely, they are free. Every uncertain parameter enters as a shared error of its own name, so that two
        builds are compared rightly. The largest misfit of the form is told in the notes.
        A line from no flow upward ends before ``highest_flow`` where no blower could drive that much through; one from
        ``lowest_flow`` raises OutsideValidity.
        """
        if lowest_flow <= 0.0:
            highest_flow = self._drivable(highest_flow)
        flows = np.linspace(max(lowest_flow, 0.04 * highest_flow), highest_flow, 13)
        powers = np.arange(3)
        base = np.array([self.pressure(q) for q in flows])
        columns = np.vander(flows / highest_flow, len(powers), increasing=True)
        weight = 1.0 / np.maximum(base, 0.05 * base[-1])  # relative misfit, down to a twentieth of the largest

        def coefficients(pressures: Array, *, positive: bool) -> Array:
            rows, wanted = columns * weight[:, None], pressures * weight
            found = optimize.nnls(rows, wanted)[0] if positive else np.linalg.lstsq(rows, wanted, rcond=None)[0]
            full = np.zeros(len(ALL_POWERS))
            full[: len(powers)] = found / highest_flow**powers
            return full

        middle = coefficients(base, positive=lowest_flow <= 0.0)
        shifted = []
        for name, step in self.effects:
            raised, lowered = self.moved(step), self.moved({k: -v for k, v in step.items()})
            up = np.array([raised.pressure(q) for q in flows])
            down = np.array([lowered.pressure(q) for q in flows])
            shifted.append((name, coefficients((up - down) / 2, positive=False)))
        curve = Uncertain(middle, effects=tuple(shifted))
        misfit = float(np.max(np.abs(curve.value(flows) - base) * weight))
        state = "wet" if self.conditions.wet else "dry"
        return ResistanceLine(
            a=float(middle[1]),
            b=float(middle[2]),
            c=float(middle[0]),
            covariance=curve.covariance[:3, :3],
            name=f"{self.build.name}, {state}",
            notes=(f"from geometry; the form follows the model to {misfit:.1%}",),
            measured=curve,
        )

    def _drivable(self, flow: float) -> float:
        """The flow, or as much of it as the model, within its errors, can be asked about."""
        models = [self, *(self.moved({k: s * v for k, v in step.items()}) for _, step in self.effects for s in (1, -1))]
        while flow > 1e-6:
            try:
                for model in models:
                    model.pressure(flow)
            except OutsideValidity:
                flow /= 1.3
            else:
                break
        return flow

    def shares(self, standard_flow: float) -> tuple[PressureShare, ...]:
        """What each element takes at a standard flow, m³/s, with a 95 % interval, largest part of the line first told
        by the order of the air.
        """
        m = standard_flow * STANDARD_DENSITY
        base = self.drops(m)
        variance = dict.fromkeys(base, 0.0)
        for _, step in self.effects:
            up, down = self.moved(step).drops(m), self.moved({k: -v for k, v in step.items()}).drops(m)
            for key in base:
                variance[key] += ((up[key] - down[key]) / 2) ** 2
        total = sum(base.values())
        return tuple(
            PressureShare(key, LABELS[key], _positive(taken, sqrt(variance[key])), taken / total if total > 0 else 0.0)
            for key, taken in base.items()
        )

    def evenness(self, standard_flow: float) -> float:
        """Largest over smallest flow of the holes along the tube, at a standard flow, m³/s, all of them open.

        Raises OutsideValidity where the holes together are too large for the tube.
        """
        t, m = self.build.tube, standard_flow * STANDARD_DENSITY
        drops = self.drops(m)
        outside = self.conditions.ambient.pressure + sum(drops.get(k, 0.0) for k in ("outlet", "packing", "pores"))
        rho = (outside + drops["holes"] / 2) / self._gas(at_bubbles=False)
        C = discharge_of_drilled_hole(t.hole, t.wall, COUNTERSUNK[t.countersunk])
        spread = perforated_pipe(
            m / rho, t.bore, t.pitch, t.holes_per_row, t.hole, rho, self._viscosities[0], C, holes_per_station=t.rows
        )
        return spread.evenness

    def hole_velocity(self, standard_flow: float) -> float:
        """Speed of the jets, m/s: mass flow over the open holes' area and the density behind them, without the
        contraction of the jet; at most the speed of sound.
        """
        m = standard_flow * STANDARD_DENSITY
        drops = self.drops(m)
        outside = self.conditions.ambient.pressure + sum(drops.get(k, 0.0) for k in ("outlet", "packing", "pores"))
        t = self.build.tube
        rho = outside / self._gas(at_bubbles=False)
        open_holes = t.holes
        if self.conditions.wet and 0 < t.under_liquid < t.holes and drops.get("head", 0.0) == 0.0:
            open_holes = t.holes - t.under_liquid
        sound = replace(self.conditions.ambient, temperature=self.conditions.line_temperature).sound_speed
        return float(min(m / (rho * open_holes * pi / 4 * t.hole**2), sound))
