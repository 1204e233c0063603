"""Positive-displacement sources: leakage never makes the flow rise with the pressure, and limits go through q(p)."""

import known_sources as known
import numpy as np
import pytest

from frothline.curve.blower import BlowerCurve
from frothline.curve.operating_point import operating_point
from frothline.curve.resistance import ResistanceLine
from frothline.curve.resistance_fit import fit_resistance
from frothline.errors import NotIdentifiable

FREE, TOP = 4e-4, 9e4  # a tyre inflator of 24 L/min, to 90 kPa (common practice, no source)


def pump(seed, leak, number=10, u_q=4e-6):
    """Points of q = FREE (1 - leak p / TOP), with 100 Pa and ``u_q`` of scatter."""
    rng = np.random.default_rng([26, seed])
    p = np.linspace(1e3, TOP, number)
    q = FREE * (1 - leak * p / TOP) + u_q * rng.standard_normal(number)
    return known.points(q, p + 100.0 * rng.standard_normal(number), 100.0, u_q)


@pytest.mark.parametrize("leak", [0.0, 0.002, 0.01, 0.1])
def test_the_flow_of_a_pump_never_rises_with_pressure_and_every_value_is_inside_its_interval(leak):
    at_zero = 0
    for seed in range(25):
        fit = BlowerCurve().fit(pump(seed, leak))
        assert fit.form == "steep line with leakage"
        assert fit.flow_curve.coefficients[1] <= 0
        assert float(fit.flow_curve.u(TOP, 1)) > 0
        at_zero += fit.flow_curve.coefficients[1] == 0
        for pressure in (1e3, 3e4, 8e4):
            flow = fit.flow_at(pressure)
            assert flow.lower < flow.value < flow.upper
            assert flow.value == pytest.approx(FREE * (1 - leak * pressure / TOP), rel=0.02)
    if leak == 0.0:
        assert at_zero >= 5  # half of the fitted slopes would rise


def test_the_flow_of_a_pump_at_a_pressure_holds_the_truth():
    # 95 % of 200 is 190 with standard deviation 3.1; three of them below leave 181. The constraint adds to it
    held = 0
    for seed in range(200):
        flow = BlowerCurve().fit(pump(seed, 0.02)).flow_at(5e4)
        held += flow.lower <= FREE * (1 - 0.02 * 5 / 9) <= flow.upper
    assert held >= 181


def test_a_pump_whose_flow_rises_beyond_chance_is_refused():
    with pytest.raises(NotIdentifiable, match="pressure rises with flow"):
        BlowerCurve().fit(pump(1, -0.15))


def test_a_sweep_through_a_generator_is_not_taken_for_a_pump():
    q = np.linspace(0.002, 0.04, 10)
    with pytest.raises(NotIdentifiable, match="pressure rises with flow"):
        BlowerCurve().fit(known.noisy(np.random.default_rng(2), q, lambda x: 1e5 * x + 4e6 * x**2))


def test_a_pump_without_leakage_meets_a_load_at_its_own_flow():
    load = 8e3 / FREE**2
    for seed in range(10):
        met = operating_point(BlowerCurve().fit(pump(seed, 0.0)), ResistanceLine(0.0, load))
        assert met.pressure.lower < met.pressure.value < met.pressure.upper
        # p = load q^2 moves by twice the flow's share
        assert met.pressure.value == pytest.approx(8e3, rel=0.03)
        assert met.pressure.standard_uncertainty / met.pressure.value == pytest.approx(
            2 * met.flow.standard_uncertainty / met.flow.value, rel=0.05
        )


def test_a_pump_meets_a_measured_load():
    q = np.linspace(1e-4, 5e-4, 8)
    load = fit_resistance(known.noisy(np.random.default_rng(3), q, lambda x: 5e10 * x**2, 100.0, 2e-6)).line
    met = operating_point(BlowerCurve().fit(pump(3, 0.01)), load)
    assert met.pressure.lower < 5e10 * (0.995 * FREE) ** 2 < met.pressure.upper
