"""Resistances: fits with errors in both variables, networks, other air."""

import known_sources as known
import numpy as np
import pytest

from frothline.curve import ResistanceLine, fit_resistance
from frothline.curve.resistance import alike_in_parallel, flow_through_parallel, in_series
from frothline.errors import NotIdentifiable, OutsideValidity, TooFewPoints


def test_two_unlike_resistances_in_parallel():
    # p = aQ + bQ^2 solved by hand: Q = (-a + sqrt(a^2 + 4 b p)) / 2b, at 5000 Pa: 0.03090169943749 + 0.02965351654086
    total, shares = flow_through_parallel([ResistanceLine(1e5, 2e6), ResistanceLine(5e4, 4e6)], 5000.0)
    assert shares == pytest.approx((0.03090169943749, 0.02965351654086), rel=1e-12)
    assert total == pytest.approx(0.06055521597836, rel=1e-12)


def test_resistances_in_series_add_and_equal_ones_in_parallel_divide():
    line = in_series(ResistanceLine(1e5, 2e6), ResistanceLine(5e4, 4e6))
    assert (line.a, line.b) == (1.5e5, 6e6)
    four = alike_in_parallel(ResistanceLine(1e5, 2e6), 4)
    assert (four.a, four.b) == (25000.0, 125000.0)


def test_flow_is_the_inverse_of_pressure_and_nothing_below_the_entry_pressure():
    line = ResistanceLine(1e5, 4e6, 800.0)
    q = np.array([0.001, 0.01, 0.05])
    assert line.flow(line.pressure(q)[0]) == pytest.approx(q, rel=1e-12)
    assert line.flow(700.0) == 0.0


def test_purely_square_and_purely_viscous_resistance():
    assert float(ResistanceLine(0.0, 4e6).flow(1e4)) == pytest.approx(0.05)
    assert float(ResistanceLine(2e5, 0.0).flow(1e4)) == pytest.approx(0.05)


def test_measured_line_holds_the_true_coefficients():
    # Truth by construction; 95 % of 100 is 95 with standard deviation 2.2
    held = np.zeros(2)
    for k in range(100):
        rng = np.random.default_rng([20, k])
        q = np.linspace(0.004, 0.045, 10)
        line = fit_resistance(known.noisy(rng, q, lambda x: 2e5 * x + 6e6 * x**2), entry=False).line
        found = line.estimates()
        held += [found[name].lower <= true <= found[name].upper for name, true in (("a", 2e5), ("b", 6e6))]
    assert np.all(held >= 88)


def test_entry_pressure_is_found_where_there_is_one():
    q = np.linspace(0.004, 0.045, 10)
    rng = np.random.default_rng(21)
    fit = fit_resistance(known.noisy(rng, q, lambda x: 900 + 2e5 * x + 6e6 * x**2, u_p=15.0, u_q=2e-5))
    assert fit.line.c == pytest.approx(900.0, abs=80.0)
    dry = fit_resistance(known.noisy(rng, q, lambda x: 2e5 * x + 6e6 * x**2, u_p=15.0, u_q=2e-5))
    assert dry.line.c == 0.0


def test_a_common_flow_factor_goes_into_both_coefficients():
    # q too large by 2 %: a = p/q too small by 2 %, b = p/q^2 by 4 %
    q = np.linspace(0.004, 0.045, 10)
    made = known.points(q, 2e5 * q + 6e6 * q**2, u_p=1e-3, u_q=1e-9, common=[("flow factor", 0.0, 0.02)])
    found = fit_resistance(made, entry=False).line.estimates()
    assert found["a"].standard_uncertainty == pytest.approx(0.02 * 2e5, rel=0.02)
    assert found["b"].standard_uncertainty == pytest.approx(0.04 * 6e6, rel=0.02)


def test_other_air_at_a_given_line_flow():
    # Darcy-Forchheimer: the viscous part with viscosity, the square part with density
    other = ResistanceLine(1e5, 4e6, 300.0).transferred(0.9, 1.1, flow="line")
    assert (other.a, other.b, other.c) == pytest.approx((1.1e5, 3.6e6, 300.0))


def test_other_air_at_a_given_standard_flow():
    # At the same mass flow, air of 0.9 the density moves 1/0.9 as fast: a q -> a 1.1/0.9, b q^2 -> b 0.9/0.81
    other = ResistanceLine(1e5, 4e6).transferred(0.9, 1.1)
    assert (other.a, other.b) == pytest.approx((1e5 * 1.1 / 0.9, 4e6 / 0.9))
    with pytest.raises(OutsideValidity):
        ResistanceLine(1e5, 4e6).transferred(0.0)


def test_a_sweep_of_a_source_is_not_taken_for_a_resistance():
    with pytest.raises(NotIdentifiable, match="pressure falls"):
        fit_resistance(known.ten_orifices())
    with pytest.raises(TooFewPoints):
        fit_resistance(known.ten_orifices()[:2])
