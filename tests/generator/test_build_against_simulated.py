"""Predictions from a sheet against another physical model: the generators of the simulated rigs.

That model was written apart from this one (other discharge coefficients, a wet factor of its own, a slip layer on the
outlet's wall that the square law here does not know), so that agreement means something. Run as a program, it prints
the table of errors.
"""

from dataclasses import replace
from functools import cache
from random import Random

import numpy as np
import pytest
from scipy import optimize

from frothline.curve.blower import BlowerCurve
from frothline.curve.steady_points import SteadyPoint
from frothline.foam.dilution import Dilution
from frothline.generator.build import Body, Build, Connection, Hose, Outlet, Packing, Reservoir, Solution, Tube
from frothline.generator.model_fit import fit_to_sweeps
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.prediction import predict
from frothline.generator.pressure_model import PressureModel
from frothline.generator.what_if import changed_build, what_if
from frothline.physics.air import AirState
from frothline.simulation.generator import BUILDS
from frothline.simulation.generator import SimulatedGenerator as Simulated

AMBIENT = AirState.free_air(293.15, 101325.0, 0.5)
FLOWS = np.linspace(0.002, 0.014, 8)  # m³/s at 1.2 kg/m³


def source(shut_off=20e3, free=0.060, seed=1):
    rng = np.random.default_rng(seed)
    points = []
    for q in np.linspace(0.02, 0.95, 12) * free:
        p = shut_off * (1 - 0.3 * q / free - 0.7 * (q / free) ** 2)
        u = max(10.0, 0.003 * p), 0.003 * q
        points.append(SteadyPoint.from_parts(p + u[0] * rng.normal(), q + u[1] * rng.normal(), (*u, 0.0)))
    return BlowerCurve().fit(points)


SOURCE = source()


def sheet(sim):
    """The sheet that a builder of the simulated generator would write."""
    return Build(
        name=sim.name,
        connection=Connection(0.050),
        hose=Hose(0.050, 0.0),
        tube=Tube(0.050, 0.300, 4, sim.holes // 4, sim.hole, 0.003, "no", 4 * (sim.holes // 4), sim.head),
        body=Body(sim.body, 0.9),
        packing=Packing("pad", sim.packing, wire=sim.fibre, voidage=1 - sim.solid),
        outlet=Outlet(sim.outlet),
        reservoir=Reservoir(0.045, "gravity"),
        solution=Solution("simulated", Dilution(30, "1+N")),
    )


def true_pressure(sim, q, *, wet, seed=4):
    """Pa that one specimen asks for once it is steady."""
    specimen = Simulated(replace(sim, fed=True), Random(seed))
    if wet:
        specimen.settle_wet()
    else:
        specimen.solution = 0.0
    m = 1.2 * q

    def lack(p):
        # the drop over all but the outlet at the density in the line, as the rig's own step does it
        return specimen.air_flow(p, (101325.0 + p) / (AMBIENT.gas_constant * 308.15))[0] - m

    specimen.outlet_drop = specimen.steady_outlet_drop(m, AMBIENT.density)
    return optimize.brentq(lack, 1.0, 1e6)


@cache
def true_flow(sim, seed=4):
    return optimize.brentq(
        lambda q: float(SOURCE.curve.value(q)) - true_pressure(sim, q, wet=True, seed=seed), 1e-4, 0.03
    )


def measured(sim, *, wet, seed=4):
    rng = np.random.default_rng(seed)
    points = []
    for q in FLOWS:
        p = true_pressure(sim, q, wet=wet, seed=seed)
        u = max(5.0, 0.005 * p), 0.005 * q
        points.append(SteadyPoint.from_parts(p + u[0] * rng.normal(), q + u[1] * rng.normal(), (*u, 0.0)))
    return points


def first(sim):
    return PressureModel(sheet(sim), OperatingConditions(AMBIENT, 308.15))


@cache
def scaled(sim):
    return fit_to_sweeps(first(sim), measured(sim, wet=False), measured(sim, wet=True)).wet


CHANGES = {
    "a 26.5 mm outlet": ({"outlet": 0.0265}, {"outlet.bore": 0.0265}),
    "half a metre of packing": ({"packing": 0.5}, {"packing.length": 0.5}),
    "half the holes": ({"holes": 20}, {"tube.holes_per_row": 5, "tube.under_liquid": 20}),
    "3 mm holes": ({"hole": 0.003}, {"tube.hole": 0.003}),
}


def after(change):
    new, entries = CHANGES[change]
    sim = replace(BUILDS["pipe-100"], **new)
    build = sheet(BUILDS["pipe-100"])
    for path, value in entries.items():
        build = build.with_entry(path, value)
    return sim, build


@pytest.mark.parametrize("name", BUILDS)
def test_from_the_sheet_alone_the_interval_holds_the_simulated_flow(name):
    prediction = predict(first(BUILDS[name]), SOURCE)
    flow, truth = prediction.point.flow, true_flow(BUILDS[name])
    assert flow.lower < truth < flow.upper
    # It reads low, by up to two fifths: the law of a wet packing comes from beds of grains. How the multiplier of wool
    # falls with the speed is open by a factor of the speed's root either way, and the interval is as wide as that
    assert 0.55 < flow.value / truth < 1.05
    assert flow.upper < 1.9 * truth


@pytest.mark.parametrize("name", BUILDS)
def test_once_measured_the_meeting_point_is_found_within_two_per_cent(name):
    flow = predict(scaled(BUILDS[name]), SOURCE).point.flow
    assert flow.value == pytest.approx(true_flow(BUILDS[name]), rel=0.02)


@pytest.mark.parametrize("change", CHANGES)
def test_a_change_is_told_within_its_interval_after_measuring(change):
    sim, build = after(change)
    result = what_if(scaled(BUILDS["pipe-100"]), build, SOURCE)
    moved = true_flow(sim) - true_flow(BUILDS["pipe-100"])
    assert result.flow_change.lower < moved < result.flow_change.upper
    assert result.after.point.flow.value == pytest.approx(true_flow(sim), rel=0.06)


def table():
    lines = ["build or change             true L/s   from the sheet L/s (95 %)     once measured L/s (95 %)"]

    def row(name, truth, before, behind):
        said = [
            f"{e.value * 1e3:7.2f} ({e.lower * 1e3:.2f} to {e.upper * 1e3:.2f}) {e.value / truth - 1:+.1%}"
            for e in (before.point.flow, behind.point.flow)
        ]
        lines.append(f"{name:26s} {truth * 1e3:9.2f}   {said[0]:34s} {said[1]}")

    for name, sim in BUILDS.items():
        row(name, true_flow(sim), predict(first(sim), SOURCE), predict(scaled(sim), SOURCE))
    model = scaled(BUILDS["pipe-100"])
    for change in CHANGES:
        sim, build = after(change)
        row(
            "pipe-100, " + change.removeprefix("a "),
            true_flow(sim),
            predict(replace(first(BUILDS["pipe-100"]), build=build), SOURCE),
            predict(changed_build(model, build), SOURCE),
        )
    return "\n".join(lines)


if __name__ == "__main__":
    print(table())
