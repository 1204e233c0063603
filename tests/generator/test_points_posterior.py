"""Draws of a measured generator's factors, compared with weighted draws of what was known before the points.

Points determine the sum of the pressure drops and hardly the share of the outlet, so that the posterior is far from
normal. The oracle draws the factors and the sensor's error before the points, calculates the points, and weighs each
draw by how well it gives them (importance sampling); it has the pressure model in common with the draws.
"""

import numpy as np
import pytest
from builds import FIRST
from test_build_whatif import SOURCE, WET

from frothline.curve.blower import BlowerCurve
from frothline.curve.operating_point import operating_point
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.generator.model_fit import MODEL_FLOOR, fit_to_sweeps
from frothline.generator.prediction import predict
from frothline.generator.pressure_model import PressureModel
from frothline.generator.what_if import changed_build, what_if

BUILD = FIRST.with_entry("outlet.hose", 1.5).with_entry("outlet.bore", 0.036)
NARROWER = BUILD.with_entry("outlet.bore", 0.029)
MODEL = PressureModel(BUILD, WET)
TRUE = {"wetting": -1.0, "wall": 0.7}
FLOWS = np.array([0.004, 0.008, 0.012, 0.016])
RANDOM, SPAN = 0.05, 0.06  # relative, of a pressure


def points(random=RANDOM, span=SPAN, read=1.0):
    made = []
    for q in FLOWS:
        p = read * MODEL.moved(TRUE).pressure(float(q))
        common = (CommonError("pressure span", on_pressure=span * p),)
        made.append(SteadyPoint.from_parts(p, float(q), (random * p, 0.0, 0.0), common))
    return made


@pytest.fixture(scope="module")
def scaled():
    return fit_to_sweeps(MODEL, (), points()).wet


@pytest.fixture(scope="module")
def oracle():
    """Logarithms of the factors by name and the span's error, (20000,), drawn again from 200,000 by their weights."""
    rng = np.random.default_rng(5)
    logs = {key: u * rng.standard_normal(200_000) for key, u in MODEL.uncertainties.items()}
    logs["span"] = rng.standard_normal(200_000)
    read = np.array([point.pressure for point in points()])
    lack = MODEL.drawn({key: logs[key] for key in MODEL.parameters}, FLOWS) - read * (
        1.0 + SPAN * logs["span"][:, None]
    )
    off = lack / (read * np.hypot(RANDOM, MODEL_FLOOR))
    weight = np.exp(-0.5 * np.sum(off**2, axis=1))
    assert weight.sum() ** 2 / np.sum(weight**2) > 1000  # independent draws
    again = rng.choice(len(weight), 20_000, p=weight / weight.sum())
    return {key: values[again] for key, values in logs.items()}


@pytest.mark.parametrize("key", ["wall", "foam", "wetting", "wetting slope", "pores", "packing", "holes", "span"])
def test_the_draws_of_a_factor_are_those_of_the_weighted_prior(scaled, oracle, key):
    drawn = {one: scaled.factors[one] + shift for one, shift in scaled.measured.shifts.items()}
    mine = (drawn | {"span": scaled.measured.common["pressure span"]})[key][1:]
    u = MODEL.uncertainties.get(key, 1.0)
    for level in (0.05, 0.5, 0.95):
        # some 600 independent draws: 0.09 of a normal distribution's width at these ends, three of them
        assert np.quantile(mine, level) == pytest.approx(np.quantile(oracle[key], level), abs=0.28 * u)


def test_another_outlet_after_measuring_has_the_interval_of_the_weighted_prior(scaled, oracle):
    at, keys = np.array([0.012]), MODEL.parameters
    theirs = np.log(PressureModel(NARROWER, WET).drawn({key: oracle[key] for key in keys}, at))
    mine = np.log(changed_build(scaled, NARROWER).drawn({key: scaled.measured.shifts[key] for key in keys}, at)[1:])
    ends = np.quantile(theirs, [0.025, 0.975])
    assert np.quantile(mine, [0.025, 0.975]) == pytest.approx(ends, abs=0.08 * np.ptp(ends))


def test_draws_keep_the_line_that_was_measured(scaled):
    """Two parts of the whole each move by a factor of two and more, and the whole by some per cent."""
    known = fit_to_sweeps(MODEL, (), points(random=0.005, span=0.0)).wet
    shifts = {key: shift[1:] for key, shift in known.measured.shifts.items()}
    pressures = known.drawn(shifts, FLOWS)
    assert np.all(np.std(np.log(pressures), axis=0) < 1.2 * np.hypot(0.005, MODEL_FLOOR))
    assert np.ptp(np.quantile(shifts["wetting"], [0.025, 0.975])) > np.log(4.0)


def test_the_first_draw_is_the_best_fit(scaled):
    assert all(shift[0] == 0.0 for shift in scaled.measured.shifts.values())
    assert all(error[0] == 0.0 for error in scaled.measured.common.values())


def test_a_span_of_sensors_in_both_sweeps_moves_source_and_generator_together():
    """A pressure that reads high does so in both: the flow where they meet does not change, the pressure does."""
    generator = fit_to_sweeps(MODEL, (), points(random=0.002, span=0.05)).wet
    q = np.linspace(0.02, 0.95, 12) * 0.040
    p = 14e3 * (1 - 0.3 * q / 0.040 - 0.7 * (q / 0.040) ** 2)

    def source(name):
        made = (
            SteadyPoint.from_parts(
                float(y), float(x), (0.002 * float(y), 1e-5, 0.0), (CommonError(name, on_pressure=0.05 * float(y)),)
            )
            for x, y in zip(q, p, strict=True)
        )
        return BlowerCurve().fit(list(made))

    one, other = (predict(generator, source(name)).point for name in ("pressure span", "another span"))
    width = [point.flow.upper - point.flow.lower for point in (one, other)]
    assert width[0] < 0.7 * width[1]
    assert one.pressure.standard_uncertainty > 0.9 * 0.05 * one.pressure.value


def test_a_fresh_part_takes_none_of_the_measured_draws(scaled):
    after = changed_build(scaled, BUILD.with_entry("solution.agent", "another"))
    named = {key for name, step in after.effects if name in after.measured.errors for key in step}
    assert not named & {"wall", "wetting", "wetting slope", "pores", "foam", "entry"}
    assert {"holes", "packing"} <= named
    # the wet packing is as open as before any point was measured
    wide = what_if(scaled, after.build, SOURCE).after.point.flow
    known = predict(scaled, SOURCE).point.flow
    assert wide.upper / wide.lower > 1.5 * known.upper / known.lower


def test_a_flow_far_below_the_open_air_of_the_source_has_its_interval_too():
    """Through 6 mm a source of 60 L/s in the open drives 0.2 L/s, a three-hundredth; to first order of a line near it."""
    small = PressureModel(BUILD.with_entry("outlet.bore", 0.006), WET)
    read = []
    for q in np.linspace(5e-5, 2.5e-4, 7):
        p = small.pressure(float(q))
        read.append(SteadyPoint.from_parts(p, float(q), (0.01 * p, 0.0, 0.0)))
    model = fit_to_sweeps(small, (), read).wet
    told = predict(model, SOURCE).point
    assert told.flow.value < 0.005 * SOURCE.free_delivery.value
    q = told.flow.value
    first_order = operating_point(SOURCE, model.line(1.2 * q, 0.8 * q)).flow
    assert told.flow.standard_uncertainty == pytest.approx(first_order.standard_uncertainty, rel=0.2)
    assert told.flow.lower == pytest.approx(first_order.lower, rel=0.02)
    assert told.flow.upper == pytest.approx(first_order.upper, rel=0.02)
