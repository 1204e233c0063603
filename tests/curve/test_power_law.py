"""The power law p = k Q^n of a resistance: exact cases, common errors, and how often its intervals hold the truth."""

import known_sources as known
import numpy as np
import pytest
from scipy import optimize

from frothline.curve.power_law import fit_power_law
from frothline.curve.resistance_fit import fit_resistance
from frothline.errors import NotIdentifiable, TooFewPoints
from frothline.sweep.resistance_text import power_law_text, resistance_data


@pytest.mark.parametrize("n", [0.9, 1.0, 1.75, 2.2])
@pytest.mark.parametrize("number", [4, 10])
def test_exact_points_give_their_own_power_law(n, number):
    # Truth by construction: 8 kPa at 40 L/s
    q = np.geomspace(0.004, 0.04, number)
    law = fit_power_law(known.points(q, 8e3 * (q / 0.04) ** n))
    assert law.exponent == pytest.approx(n, rel=1e-9)
    assert law.k.value == pytest.approx(8e3 / 0.04**n, rel=1e-9)
    assert law.at(0.02).value == pytest.approx(8e3 * 0.5**n, rel=1e-9)
    assert law.chi_square < 1e-9


def test_the_fit_agrees_with_least_squares_where_only_pressure_is_uncertain():
    # Reference: scipy.optimize.curve_fit with the stated standard uncertainty of the pressure
    rng = np.random.default_rng(8)
    q = np.geomspace(0.004, 0.04, 9)
    p = 8e3 * (q / 0.04) ** 1.6 + 5.0 * rng.standard_normal(9)
    law = fit_power_law(known.points(q, p, 5.0, 0.0))
    form = lambda x, top, n: top * (x / 0.04) ** n  # noqa: E731
    found, covariance = optimize.curve_fit(form, q, p, (8e3, 1.5), np.full(9, 5.0), absolute_sigma=True)
    chi_square = float(np.sum(((p - form(q, *found)) / 5.0) ** 2))
    assert law.exponent == pytest.approx(found[1], rel=1e-5)
    assert law.at(0.04).value == pytest.approx(found[0], rel=1e-6)
    assert law.chi_square == pytest.approx(chi_square, rel=1e-4)
    assert 1.24 < chi_square < 18.5  # 1 % and 99 % points at 7 degrees of freedom: the scatter is believed
    assert law.n.standard_uncertainty == pytest.approx(np.sqrt(covariance[1, 1] * chi_square / 7), rel=1e-3)


def test_a_common_flow_factor_goes_into_k_and_not_into_n():
    # q too large by 2 %: k q^n with n = 1.7 needs k smaller by 1.7 times 2 %
    q = np.linspace(0.004, 0.045, 10)
    law = fit_power_law(known.points(q, 3e6 * q**1.7, 1e-3, 1e-9, common=[("flow factor", 0.0, 0.02)]))
    assert law.k.standard_uncertainty / law.k.value == pytest.approx(0.034, rel=1e-3)
    assert law.n.standard_uncertainty < 1e-4


def test_both_intervals_hold_the_truth():
    # 95 % of 600 is 570 with standard deviation 5.3; three of them either way leave 554 to 586
    held = np.zeros(3)
    for trial in range(600):
        rng = np.random.default_rng([25, trial])
        n, number = rng.uniform(0.9, 2.2), (4, 6, 12)[trial % 3]
        k = 8e3 / 0.04**n
        q = rng.permutation(np.linspace(0.005, 0.04, number))
        common = [("span", 0.01, 0.0), ("flow factor", 0.0, 0.02)]
        law = fit_power_law(known.noisy(rng, q, lambda x, k=k, n=n: k * x**n, 60.0, 2e-4, common))
        truths = (law.k, k), (law.n, n), (law.at(0.03), k * 0.03**n)
        held += [one.lower <= true <= one.upper for one, true in truths]
    assert np.all((held >= 554) & (held <= 586)), held


def test_the_power_law_is_given_with_the_resistance_and_written_in_the_reader_s_units():
    q = np.linspace(0.004, 0.045, 10)
    fit = fit_resistance(known.noisy(np.random.default_rng(4), q, lambda x: 8e3 * (x / 0.04) ** 1.6))
    data = resistance_data(fit)["power_law"]
    assert data["n"].lower <= 1.6 <= data["n"].upper
    text = power_law_text(fit.power_law, "metric")
    # at 1 L/s: 8 kPa / 40^1.6 = 0.0219 kPa
    shown = float(text.split("k = ")[1].split(" kPa")[0])
    assert shown == pytest.approx(8 / 40**1.6, rel=0.1)
    assert "n = 1.6" in text
    assert "Q in cfm" in power_law_text(fit.power_law, "inch-pound")


def test_a_power_law_that_fits_better_than_the_line_is_named():
    q = np.linspace(0.004, 0.045, 10)
    steep = fit_resistance(known.noisy(np.random.default_rng(4), q, lambda x: 8e3 * (x / 0.04) ** 2.3, 10.0, 2e-5))
    assert "a power law with n = 2.3" in steep.why
    assert steep.power_law_weight > 0.99
    both = fit_resistance(known.noisy(np.random.default_rng(4), q, lambda x: 2e5 * x + 4e6 * x**2, 10.0, 2e-5))
    assert "power law" not in both.why
    assert both.power_law_weight < 0.01


def test_points_that_hold_no_power_law_are_refused_in_words():
    q = np.linspace(0.004, 0.045, 3)
    with pytest.raises(TooFewPoints, match="needs at least 4 steady points with flow above zero, and only 3"):
        fit_power_law(known.points(q, 2e5 * q))
    with pytest.raises(NotIdentifiable, match="nearly the same flow"):
        fit_power_law(known.points(0.02 + 1e-6 * np.arange(5), 4e3 + 0.2 * np.arange(5)))
