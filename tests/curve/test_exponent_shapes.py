"""The shapes with a free exponent: against a general minimiser, and what a shared error does to them."""

from dataclasses import replace

import known_sources as known
import numpy as np
import pytest
from scipy import optimize

from frothline.curve.blower import BlowerCurve
from frothline.curve.exponent_shapes import fit_exponent
from frothline.curve.steady_points import arrays_of

FLOWS = np.linspace(0.004, 0.055, 12)


def power(q, c0=15000.0, b=1.0, a=1.5):
    return c0 * (1 - b * (q / 0.06) ** a)


def fitted(points, *, linear=False):
    arrays = arrays_of(points)
    return fit_exponent(arrays, np.full(len(arrays.q), 1 / 30.0**2), linear=linear)


def test_exact_points_of_a_power_curve_give_its_shut_off_pressure_from_a_tenth_of_free_delivery():
    fit = BlowerCurve().fit(known.points(np.linspace(0.006, 0.055, 10), power(np.linspace(0.006, 0.055, 10))))
    assert fit.shut_off.value == pytest.approx(15000, rel=1e-4)
    assert fit.free_delivery.value == pytest.approx(0.06, rel=2e-3)


def test_parameters_and_their_covariance_agree_with_a_general_minimiser():
    # Reference: scipy.optimize.curve_fit, errors in pressure only
    rng = np.random.default_rng(3)
    p = power(FLOWS) + 30.0 * rng.standard_normal(len(FLOWS))
    fit = fitted(known.points(FLOWS, p, u_p=30.0, u_q=0.0))
    best, spread = optimize.curve_fit(
        power, FLOWS, p, [15000, 1.0, 1.5], sigma=np.full(len(FLOWS), 30.0), absolute_sigma=True
    )
    assert fit.coefficients[0] == pytest.approx(best[0], rel=1e-6)
    assert fit.parameters[-1] == pytest.approx(best[2], rel=1e-5)
    assert np.sqrt(fit.covariance[0, 0]) == pytest.approx(np.sqrt(spread[0, 0]), rel=1e-3)
    assert fit.degrees_of_freedom == len(FLOWS) - 3


def test_a_shape_with_a_linear_term_is_found():
    p = 15000 * (1 - 0.3 * (FLOWS / 0.06) - 0.7 * (FLOWS / 0.06) ** 2.6)
    fit = fitted(known.points(FLOWS, p, u_p=1.0, u_q=0.0), linear=True)
    assert fit.parameters[-1] == pytest.approx(2.6, abs=1e-3)
    assert fit.coefficients[0] == pytest.approx(15000, rel=1e-6)


def test_a_shared_error_moves_the_curve_as_a_refit_of_moved_points_does():
    points = known.points(FLOWS, power(FLOWS), u_p=30.0, u_q=2e-5)
    moved = [replace(point, pressure=1.001 * point.pressure, flow=1.0005 * point.flow) for point in points]
    before, after = fitted(points), fitted(moved)
    expected = before.shift(0.0005 * FLOWS, 0.001 * power(FLOWS))
    powers = np.vander(FLOWS, 5, increasing=True)
    assert powers @ expected == pytest.approx(powers @ (after.coefficients - before.coefficients), abs=0.5)


def test_the_quartic_keeps_the_shut_off_pressure_and_says_how_far_it_is_off():
    fit = fitted(known.points(FLOWS, power(FLOWS, a=1.3), u_p=1.0, u_q=0.0))
    off = np.vander(FLOWS, 5, increasing=True) @ fit.coefficients - power(FLOWS, a=1.3)
    rows = np.vander(FLOWS, 5, increasing=True)
    said = np.sqrt(np.einsum("ij,jk,ik->i", rows, fit.misfit, rows))
    assert fit.coefficients[0] == pytest.approx(15000, rel=1e-6)
    # at the lowest flows, where the shape bends most, it is a little further off
    assert np.all(np.abs(off) < 2.5 * said)
    assert np.mean(np.abs(off) < said) > 0.8
    assert np.median(said) < 0.003 * 15000


def test_points_of_one_flow_do_not_determine_a_shape():
    assert fitted(known.points(np.full(6, 0.03), np.full(6, 9000.0), u_p=30.0, u_q=0.0)) is None
    assert fitted(known.points(FLOWS[:3], power(FLOWS[:3]), u_p=30.0, u_q=0.0)) is None
