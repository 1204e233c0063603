"""Generators, air sources and rigs with everything about them known, and what a builder would know of them.

``draw(rng)`` gives one case. Its truth is the generator of the simulated rigs (``frothline.simulation.generator``,
which the estimation may not import and which follows other laws) with sizes and constants drawn over a plausible
spread, on an air source of ``sweep_truth``. What the estimation gets is a sheet with a builder's errors of reading and
steady points read by sensors with errors of their own.

What varies, uniformly unless said otherwise, with the reason:

    body, tube, outlet                pipes that are sold; the outlet 0.25-0.6 of the body
    holes 8-80 of 2-5 mm              total area 1-10 cm2; walls 1-4 mm
    true discharge of a hole          0.62 for walls under half of its width, rising evenly to 0.82 at one and a half
                                      (Encyclopaedia Britannica, 11th ed., hydraulics: thin wall 0.62, cylindrical
                                      mouthpiece 0.82), and each specimen within 3 %; drills cut 1 % small to 4 % wide
    liquid over the holes 30-200 mm   the sheet's reading of it is off by 5 mm (normal)
    packing 80-500 mm                 fibre 40-120 um (the sheet's is off by 5 %, normal), solid share 0.015-0.05 (3 %);
                                      each specimen's permeability within 25 %
    wet over dry packing 2-6          common practice, no source
    law of the wet packing            that of the dry one times a factor, or with ``law`` a yield part and a power of
                                      the flow through the same pressure where source and generator meet: foam in a
                                      porous body yields and thins by shear (exponents of 0.4 to 0.7, from memory)
    outlet                            entry and exit 1.2-1.7 velocity heads; its hose of 0.5-2 m dry 0.02-0.03 l/d
                                      more, with foam in it instead a plug that slips: 8-40 kPa (s/m3)^0.5 for 1 m of 36 mm, with 1/d2
    air caught 0.35-0.85, expansion 9-22 at 12 g/s of air
    ambient 288-303 K, 98-102.5 kPa, line 10-25 K warmer; taken as measured
    steady points: 7 dry, 7 wet, 11 of the source; one reading is off by 0.2-0.5 % of pressure (3 Pa at least) and
    0.2-0.6 % of flow; the whole session by pressure span 0.3-1.5 % and zero 5-40 Pa, flow factor 0.5-3 % and zero
    0.02-0.15 L/s, all normal with the stated standard uncertainty and the same in all three sweeps

Cases whose truth meets outside 3-30 L/s, or beyond 12-90 % of the source's largest pressure, are drawn again: nobody
would keep such a generator.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt
from random import Random

import numpy as np
from scipy import optimize
from sweep_truth import Source, draw_source

from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.foam.dilution import Dilution
from frothline.generator.build import Body, Build, Connection, Hose, Outlet, Packing, Reservoir, Solution, Tube
from frothline.generator.build_checks import check_build
from frothline.generator.stock_sizes import DRILLS, PIPES
from frothline.physics.air import AirState
from frothline.simulation import generator as simulated

BORES = sorted({pipe.bore for pipe in PIPES})
# what a specimen of the simulated generator draws, in this order, each between -1 and 1 of its scatter
SCATTERS = ("permeability", "holes", "outlet", "slip", "wet", "capture", "draw")
CHANGES = ("outlet", "packing length", "number of holes", "hole size")


class Given(Random):
    """Hands out scatters that were drawn before, so that a changed generator shares those of the parts that stay."""

    def __init__(self, scatters):
        super().__init__(0)
        self._left = list(scatters)

    def uniform(self, a, b):
        return (a + b) / 2 + (b - a) / 2 * self._left.pop(0)


@dataclass(frozen=True)
class Law:
    """Wet packing: pressure p0 (y + (1 - y) (m/m0)^n), in proportion to its length over its permeability.

    ``pressure`` Pa at ``flow`` kg/s with the packing's ``viscous`` coefficient; ``share`` y; ``exponent`` n
    """

    pressure: float
    flow: float
    viscous: float
    share: float
    exponent: float

    def drop(self, m, viscous):
        grows = self.share + (1.0 - self.share) * (m / self.flow) ** self.exponent
        return self.pressure * viscous / self.viscous * grows


@dataclass(frozen=True)
class Truth:
    """A simulated generator with what its parameters do not hold: how wide the drill cut and what the outlet is."""

    build: simulated.SimulatedBuild
    scatters: tuple[float, ...]
    wide: float
    wall: float
    drill: float
    entry: float  # velocity heads
    rough: float  # friction factor of the foam hose
    hose: float  # m
    slip: float  # Pa (s/m3)^0.5 of 1 m of 36 mm
    law: Law | None = None  # of the wet packing

    def generator(self, *, wet):
        ratio = self.wall / self.drill
        discharge = 0.62 + 0.20 * min(max(ratio - 0.5, 0.0), 1.0)
        bore = self.build.outlet
        build = replace(
            self.build,
            fed=True,
            hole=self.drill * (1 + self.wide) * sqrt(discharge / 0.62),
            outlet_loss=self.entry + (0.0 if wet else self.rough * self.hose / bore),
            slip=self.slip * self.hose * (0.036 / bore) ** 2,
        )
        made = simulated.SimulatedGenerator(build, Given(self.scatters))
        if wet:
            made.settle_wet()
        else:
            made.solution = 0.0
        return made


@dataclass(frozen=True)
class Session:
    """One rig on one day: the room, and how far its sensors are off."""

    ambient: AirState
    line_temperature: float
    span: tuple[float, float]  # standard uncertainty, and true error, relative
    zero: tuple[float, float]  # Pa
    factor: tuple[float, float]
    offset: tuple[float, float]  # m3/s
    u_p: float
    u_q: float

    def read(self, p, q, rng):
        """The steady point that the rig gives of a true pressure and flow."""
        random = max(self.u_p * p, 3.0), self.u_q * q
        p_read = p * (1 + self.span[1]) + self.zero[1] + random[0] * rng.standard_normal()
        q_read = q * (1 + self.factor[1]) + self.offset[1] + random[1] * rng.standard_normal()
        common = (
            CommonError("pressure span", on_pressure=self.span[0] * p_read),
            CommonError("pressure zero", on_pressure=self.zero[0]),
            CommonError("flow factor", on_flow=self.factor[0] * q_read),
            CommonError("flow zero", on_flow=self.offset[0]),
        )
        return SteadyPoint.from_parts(p_read, q_read, (*random, 0.0), common)


@dataclass(frozen=True)
class Case:
    """One generator on one source: its truth, its sheet, and what was measured."""

    truth: Truth
    sheet: Build
    source: Source
    session: Session
    of_source: tuple[SteadyPoint, ...]
    dry: tuple[SteadyPoint, ...]
    wet: tuple[SteadyPoint, ...]
    meets: tuple[float, float]  # true flow (m3/s at 1.2 kg/m3) and pressure (Pa), wet
    changed: dict[str, tuple[Build, tuple[float, float] | None]]  # a new sheet, and where it truly meets


def pressure(truth, session, q, *, wet):
    """Pa that the generator asks for once it is steady at a standard flow."""
    made, m = truth.generator(wet=wet), 1.2 * q
    ambient = session.ambient
    made.outlet_drop = made.steady_outlet_drop(m, ambient.density)

    def density(p):
        return (ambient.pressure + p) / (ambient.gas_constant * session.line_temperature)

    def lack(p):
        return made.air_flow(p, density(p))[0] - m

    if wet and truth.law is not None:
        still = made.static_pressure() + made.outlet_drop + truth.law.drop(m, made._viscous)
        return optimize.brentq(lambda p: p - still - 0.5 * (m / made.hole_area) ** 2 / density(p), 0.0, 1e7)
    return optimize.brentq(lack, 0.0, 1e7)


def with_law(truth, session, q, share, exponent):
    """The same generator with another law of its wet packing, and the same pressure at a standard flow."""
    made, m = truth.generator(wet=True), 1.2 * q
    ambient = session.ambient
    p = pressure(truth, session, q, wet=True)
    density = (ambient.pressure + p) / (ambient.gas_constant * session.line_temperature)
    drop = made._wetting() * (made._viscous * m + made._inertial * m * m) / density
    return replace(truth, law=Law(drop, m, made._viscous, share, exponent))


def meeting(truth, session, source, *, wet):
    """True flow and pressure where source and generator meet; None where they do not between 1.2 and 60 L/s."""

    def gap(q):
        return float(source.pressure(q)) - pressure(truth, session, q, wet=wet)

    low, high = 1.2e-3, min(60e-3, float(source.q[-1]))
    if not gap(low) > 0.0 > gap(high):
        return None
    q = optimize.brentq(gap, low, high, rtol=1e-10)
    return q, float(source.pressure(q))


def draw(rng, cling=1.0, law=None, wet_factor=None):
    """(case, how many draws were put back before it); ``cling`` times the usual slip of the foam in its hose.

    ``law`` : yield share and exponent of the wet packing, where it has another law than the dry one
    ``wet_factor`` : wet over dry packing, where it is not drawn
    """
    for refused in range(1000):
        case = _draw(rng, cling, law, wet_factor)
        if case is not None:
            return case, refused
    raise RuntimeError("no plausible case in a thousand")


def _draw(rng, cling, law, wet_factor):
    source = draw_source(rng)
    session = _session(rng)
    body = rng.choice([bore for bore in BORES if 0.045 < bore < 0.105])
    outlet = rng.choice([bore for bore in BORES if 0.25 * body < bore < 0.6 * body])
    rows, along = int(rng.integers(2, 6)), int(rng.integers(4, 17))
    drill = rng.choice([size for size in DRILLS if 0.002 <= size <= 0.005])
    wall, hose = round(rng.uniform(1e-3, 4e-3), 4), round(rng.uniform(0.5, 2.0), 1)
    inner = rng.choice([bore for bore in BORES if 0.02 < bore < body - 2 * wall - 0.008])
    caught, expansion = rng.uniform(0.35, 0.85), rng.uniform(9.0, 22.0)
    truth = Truth(
        simulated.SimulatedBuild(
            name="drawn",
            about="",
            holes=rows * along,
            head=rng.uniform(0.03, 0.20),
            body=float(body),
            packing=round(rng.uniform(0.08, 0.5), 2),
            fibre=rng.uniform(40e-6, 120e-6),
            solid=rng.uniform(0.015, 0.05),
            wet_factor=rng.uniform(2.0, 6.0) if wet_factor is None else wet_factor,
            outlet=float(outlet),
            capture=caught,
            draw=simulated.SOLUTION_DENSITY * caught * 0.012 / session.ambient.density / (expansion - 1.0),
        ),
        scatters=tuple(rng.uniform(-1.0, 1.0, len(SCATTERS))),
        wide=rng.uniform(-0.01, 0.04),
        wall=wall,
        drill=float(drill),
        entry=rng.uniform(1.2, 1.7),
        rough=rng.uniform(0.02, 0.03),
        hose=hose,
        slip=cling * rng.uniform(8e3, 40e3),
    )
    sheet = _sheet(truth, float(inner), rows, along, rng)
    if any(item.fatal for item in check_build(sheet)):
        return None
    meets, dry = (meeting(truth, session, source, wet=wet) for wet in (True, False))
    top = float(np.max(source.p))
    if meets is None or dry is None or not 3e-3 < meets[0] < 30e-3 or not 0.12 < meets[1] / top < 0.90:
        return None

    if law is not None:
        truth = with_law(truth, session, meets[0], *law)

    def sweep(end, *, wet):
        flows = np.linspace(max(0.15 * end, 1.2e-3), end, 7)
        return tuple(session.read(pressure(truth, session, q, wet=wet), q, rng) for q in flows)

    flows = np.linspace(0.03, 0.95, 11) * source.q[-1]
    of_source = tuple(session.read(float(source.pressure(q)), q, rng) for q in flows)
    changed = {}
    for change in CHANGES:
        new, build = _change(change, truth, sheet, rng)
        changed[change] = build, meeting(new, session, source, wet=True)
    return Case(
        truth, sheet, source, session, of_source, sweep(dry[0], wet=False), sweep(meets[0], wet=True), meets, changed
    )


def _session(rng):
    def off(low, high):
        u = rng.uniform(low, high)
        return u, u * rng.standard_normal()

    T = rng.uniform(288.0, 303.0)
    return Session(
        ambient=AirState.free_air(T, rng.uniform(98e3, 102.5e3), rng.uniform(0.3, 0.7)),
        line_temperature=T + rng.uniform(10.0, 25.0),
        span=off(0.003, 0.015),
        zero=off(5.0, 40.0),
        factor=off(0.005, 0.03),
        offset=off(2e-5, 1.5e-4),
        u_p=rng.uniform(0.002, 0.005),
        u_q=rng.uniform(0.002, 0.006),
    )


def _sheet(truth, inner, rows, along, rng):
    b = truth.build
    depth = max(b.head + 0.005 * rng.standard_normal(), 0.01)
    length = max(0.2, 2 * along * truth.drill)
    voidage = 1 - b.solid * (1 + 0.03 * rng.standard_normal())
    wire = b.fibre * (1 + 0.05 * rng.standard_normal())
    return Build(
        name="as drawn",
        connection=Connection(inner),
        hose=Hose(inner, 0.0),
        tube=Tube(inner, length, rows, along, truth.drill, truth.wall, "no", rows * along, depth),
        body=Body(b.body, 2.0),
        packing=Packing("pad", b.packing, wire=wire, voidage=voidage),
        outlet=Outlet(b.outlet, hose=truth.hose),
        reservoir=Reservoir(0.045, "gravity"),
        solution=Solution("simulated", Dilution(30, "1+N")),
    )


def _change(change, truth, sheet, rng):
    """The truth and the sheet after one change; a part that is made anew is another specimen."""
    b, fresh = truth.build, rng.uniform(-1.0, 1.0, len(SCATTERS))

    def with_new(*names):
        return tuple(
            float(new) if name in names else old for name, old, new in zip(SCATTERS, truth.scatters, fresh, strict=True)
        )

    if change == "outlet":
        bores = [x for x in BORES if 0.65 < x / b.outlet < 1.5 and abs(x / b.outlet - 1) > 0.04 and x < 0.9 * b.body]
        bore = float(rng.choice(bores))
        new = replace(truth, build=replace(b, outlet=bore), scatters=with_new("outlet", "slip"))
        return new, sheet.with_entry("outlet.bore", bore)
    if change == "packing length":
        length = round(b.packing * rng.choice([rng.uniform(0.6, 0.85), rng.uniform(1.2, 1.7)]), 2)
        new = replace(truth, build=replace(b, packing=length), scatters=with_new("permeability"))
        return new, sheet.with_entry("packing.length", length)
    if change == "number of holes":
        along = sheet.tube.holes_per_row
        many = max(round(along * rng.choice([rng.uniform(0.5, 0.8), rng.uniform(1.25, 2.0)])), 2)
        number = sheet.tube.rows * many
        build = sheet.with_entry("tube.holes_per_row", many).with_entry("tube.under_liquid", number)
        build = build.with_entry("tube.length", max(sheet.tube.length, 2 * many * truth.drill))
        return replace(truth, build=replace(b, holes=number)), build
    drills = [x for x in DRILLS if 0.6 < x / truth.drill < 1.5 and abs(x / truth.drill - 1) > 0.1]
    drill = float(rng.choice(drills))
    new = replace(truth, drill=drill, wide=rng.uniform(-0.01, 0.04), scatters=with_new("holes"))
    return new, sheet.with_entry("tube.hole", drill)
