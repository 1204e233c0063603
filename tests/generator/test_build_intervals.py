"""Intervals of a predicted meeting point: what the air source's own curve does to them, and few degrees of freedom.

Truths are drawn from what is said of source and generator (JCGM 101) and met by root finding: that the interval is what
the stated errors make of it, not that the model is right.
"""

from dataclasses import replace

import numpy as np
import pytest
from builds import FIRST
from scipy import optimize, stats

from frothline.curve.blower import BlowerCurve
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import OutsideValidity
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.prediction import predict
from frothline.generator.pressure_model import PressureModel
from frothline.generator.sheet import parse_sheet, starting_sheet
from frothline.generator.what_if import what_if

WET = OperatingConditions.usual()
SPAN = 0.05  # a pressure sensor whose span is known to 5 %


def true_pressure(q, shut_off=14e3, free=0.040):
    return shut_off * (1 - 0.3 * q / free - 0.7 * (q / free) ** 2)


def source(points=12, span=SPAN, noise=0.002, seed=1):
    rng = np.random.default_rng(seed)
    found = []
    for q in np.linspace(0.02, 0.95, points) * 0.040:
        p = true_pressure(q)
        u = max(10.0, noise * p), noise * q
        common = (CommonError("pressure span", on_pressure=span * p),) if span else ()
        read = p + u[0] * rng.standard_normal(), q + u[1] * rng.standard_normal()
        found.append(SteadyPoint.from_parts(*read, (*u, 0.0), common))
    return BlowerCurve().fit(found)


@pytest.mark.parametrize("hole", [0.001, 0.004], ids=["1 mm holes", "4 mm holes"])
def test_the_pressure_of_a_source_read_with_a_doubtful_span_is_as_doubtful(hole):
    """200 sources and generators drawn from their stated errors: 95 % of them inside, 180 to 199 (binomial, 3 σ)."""
    build = parse_sheet(starting_sheet()).build.with_entry("tube.hole", hole)
    generator, blower = PressureModel(build, WET), source()
    point = predict(generator, blower).point
    assert point.pressure.standard_uncertainty > 0.9 * SPAN * point.pressure.value
    rng = np.random.default_rng(3)
    held = {"pressure": 0, "flow": 0, "margin": 0}
    flows = np.linspace(0.0, blower.range[1], 200)
    for _ in range(200):
        step = {key: u * rng.standard_normal() for key, u in generator.uncertainties.items()}
        drawn, factor = generator.moved(step), 1.0 + SPAN * rng.standard_normal()

        def gap(q, drawn=drawn, factor=factor):
            try:
                return factor * float(blower.curve.value(q)) - drawn.pressure(q)
            except OutsideValidity:
                return -1e6

        q = optimize.brentq(gap, 1e-7, blower.range[1], rtol=1e-6)
        p = factor * float(blower.curve.value(q))
        held["flow"] += point.flow.lower < q < point.flow.upper
        held["pressure"] += point.pressure.lower < p < point.pressure.upper
        held["margin"] += (
            point.margin.lower < factor * float(np.max(blower.curve.value(flows))) - p < point.margin.upper
        )
    assert all(180 <= count <= 199 for count in held.values()), held


def test_the_ellipse_of_a_bent_meeting_point_has_the_uncertainties_that_are_told():
    point = predict(PressureModel(FIRST, WET), source()).point
    u_pressure, u_flow = np.sqrt(np.diag(point.covariance))
    assert u_pressure == pytest.approx(point.pressure.standard_uncertainty)
    assert u_flow == pytest.approx(point.flow.standard_uncertainty)


def test_a_curve_of_five_points_gives_the_wide_intervals_of_its_few_degrees_of_freedom():
    """A generator as good as known against a curve of five points: Student's factor, not that of a normal error."""
    few = source(points=5, span=0.0, noise=0.02, seed=3)
    free = few.degrees_of_freedom
    known = replace(PressureModel(FIRST, WET), errors=())
    before = predict(known, few)
    factor = stats.t.ppf(0.975, free)
    assert free <= 4
    assert factor > 2.7  # tables of Student's t: 2.776 with four, 3.182 with three degrees of freedom
    point, speed = before.point.flow, before.hole_velocity
    drill = 0.04  # the drill's width stands beside it, as well known: Welch and Satterthwaite, JCGM 100:2008, G.4
    u = speed.standard_uncertainty / speed.value
    own = np.sqrt(u**2 - drill**2)
    assert 0.7 < own * point.value / point.standard_uncertainty < 1.0  # it follows the flow; the air gets denser
    half = np.log(speed.upper / speed.lower) / 2
    assert half == pytest.approx(stats.t.ppf(0.975, free * (u / own) ** 4) * u, rel=0.02)
    # between two such curves: three to eight degrees of freedom, where a normal error has 1.960; a sum of two of
    # Student's has 2.2 to 2.7 times the half width that holds 68 %
    change = what_if(known, FIRST, few, new_blower=source(points=5, span=0.0, noise=0.02, seed=4)).flow_change
    assert 2.15 < (change.upper - change.value) / change.standard_uncertainty < 3.2
