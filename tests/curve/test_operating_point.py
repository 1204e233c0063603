"""Where source and generator meet: exact cases, joint uncertainty, hunting, and no meeting at all."""

import known_sources as known
import numpy as np
import pytest
from scipy import optimize

from frothline.curve.blower import BlowerCurve
from frothline.curve.can_drive import which_can_drive
from frothline.curve.operating_point import NoCrossing, OperatingPoint, operating_point
from frothline.curve.resistance import ResistanceLine
from frothline.curve.resistance_fit import fit_resistance
from frothline.curve.steady_points import SteadyPoint

LOAD = ResistanceLine(2e5, 6e6)


def source(u_p=10.0, u_q=2e-5, common=(), scale=1.0):
    q, p = zip(*known.TEN_ORIFICES, strict=True)
    return BlowerCurve(forms=("quadratic",)).fit(known.points(q, np.array(p) * scale, u_p, u_q, common))


def test_ten_orifice_blower_meets_its_load_where_the_quadratic_formula_says():
    # 20000 - 120000 Q - 3.5e6 Q^2 = 2e5 Q + 6e6 Q^2: Q = 0.03203447059 m3/s, p = 12564.13796 Pa
    point = operating_point(source(), LOAD)
    assert point.flow.value == pytest.approx(known.MEETING_FLOW, abs=1e-8)
    assert point.pressure.value == pytest.approx(known.MEETING_PRESSURE, abs=5e-3)
    assert point.stability == "stable"
    assert point.margin.value == pytest.approx(20000 - known.MEETING_PRESSURE, abs=0.1)


def test_uncertainty_of_the_flow_is_that_of_the_pressure_over_the_difference_of_slopes():
    fit = source(u_p=60.0)
    point = operating_point(fit, LOAD)
    q = known.MEETING_FLOW
    apart = abs((-120000 - 7e6 * q) - (2e5 + 12e6 * q))
    assert point.flow.standard_uncertainty == pytest.approx(float(fit.pressure(q)[1]) / apart, rel=1e-3)
    # an exact load: the point moves along the load's line
    assert point.pressure.standard_uncertainty == pytest.approx(
        point.flow.standard_uncertainty * (2e5 + 12e6 * q), rel=1e-3
    )


def test_joint_covariance_agrees_with_monte_carlo():
    # Reference: 4000 times both sets of coefficients drawn and the crossing solved by the quadratic formula
    rng = np.random.default_rng(31)
    fit = source(u_p=60.0, common=[("pressure span", 0.01, 0.0), ("flow factor", 0.0, 0.02)])
    q = np.linspace(0.004, 0.045, 8)
    load = fit_resistance(
        known.noisy(rng, q, lambda x: 2e5 * x + 6e6 * x**2, common=[("other span", 0.01, 0.0)]), entry=False
    ).line
    point = operating_point(fit, load)
    c = rng.multivariate_normal(fit.coefficients[:3], fit.covariance[:3, :3], 4000)
    r = rng.multivariate_normal([load.c, load.a, load.b], load.covariance, 4000)
    gap = c - r
    flow = (-gap[:, 1] - np.sqrt(gap[:, 1] ** 2 - 4 * gap[:, 0] * gap[:, 2])) / (2 * gap[:, 2])
    drawn = np.cov(r[:, 0] + r[:, 1] * flow + r[:, 2] * flow**2, flow)
    # standard deviations from 4000 draws are known to 1.1 %, the correlation to 0.03
    assert np.sqrt(np.diag(point.covariance)) == pytest.approx(np.sqrt(np.diag(drawn)), rel=0.05)
    correlation = point.covariance[0, 1] / np.sqrt(np.prod(np.diag(point.covariance)))
    assert correlation == pytest.approx(drawn[0, 1] / np.sqrt(drawn[0, 0] * drawn[1, 1]), abs=0.1)


def test_a_shared_pressure_span_does_not_move_the_flow_where_they_meet():
    # Both measured with the same sensor 1 % too high: both curves rise alike, they meet at the same flow, 1 % higher
    shared = [("pressure span", 0.01, 0.0)]
    q = np.linspace(0.004, 0.045, 8)
    load = fit_resistance(known.points(q, 2e5 * q + 6e6 * q**2, 1e-3, 1e-9, shared), entry=False).line
    point = operating_point(source(1e-3, 1e-9, shared), load)
    assert point.flow.standard_uncertainty < 1e-6
    assert point.pressure.standard_uncertainty == pytest.approx(0.01 * known.MEETING_PRESSURE, rel=1e-3)


def test_different_sensors_do_move_it():
    q = np.linspace(0.004, 0.045, 8)
    load = fit_resistance(
        known.points(q, 2e5 * q + 6e6 * q**2, 1e-3, 1e-9, [("span of the other", 0.01, 0.0)]), entry=False
    ).line
    point = operating_point(source(1e-3, 1e-9, [("pressure span", 0.01, 0.0)]), load)
    assert point.flow.standard_uncertainty > 1e-4


def test_interval_of_the_flow_holds_the_truth():
    held = 0
    for k in range(150):
        rng = np.random.default_rng([32, k])
        fit = BlowerCurve(forms=("quadratic",)).fit(known.noisy(rng, np.linspace(0.003, 0.055, 12), known.blower))
        point = operating_point(fit, LOAD)
        held += point.flow.lower <= known.MEETING_FLOW <= point.flow.upper
    assert 133 <= held <= 149  # 95 % of 150 is 142.5 with standard deviation 2.7


def test_no_crossing_is_said_in_plain_words():
    point = operating_point(source(scale=0.3), ResistanceLine(2e5, 6e6, 9000.0))
    assert isinstance(point, NoCrossing)
    assert point.words[0] == "the source is too weak: the generator needs 9 kPa and the source gives 6"


def test_thin_margin_is_said():
    point = operating_point(source(), ResistanceLine(2e5, 6e6, 18500.0))
    assert isinstance(point, OperatingPoint)
    assert point.margin_share < 0.1
    assert any("a little more resistance stops the air" in word for word in point.words)


def humped():
    """p = 15000 (1 + 0.6 x - 0.3 x^2 - 1.3 x^3), x = q / 60 L/s: rises to 115 % at a third of free delivery."""
    q = np.linspace(0.001, 0.058, 15)
    x = q / 0.06
    return BlowerCurve().fit(known.points(q, 15000 * (1 + 0.6 * x - 0.3 * x**2 - 1.3 * x**3), 5.0, 1e-5))


def test_meeting_on_the_rising_side_of_a_hump_may_hunt():
    point = operating_point(humped(), ResistanceLine(1.5e6, 4e7))
    assert point.flow.value < 0.018
    assert point.stability == "may surge"
    assert any("hump" in word for word in point.words)


def test_a_steep_hump_and_a_flat_entry_meet_more_than_once():
    point = operating_point(humped(), ResistanceLine(0.0, 2e5, 15600.0))
    assert point.others

    # the stable one is where the source falls through the load; checked with a root finder on the plain formula
    def gap(q):
        x = q / 0.06
        return 15000 * (1 + 0.6 * x - 0.3 * x**2 - 1.3 * x**3) - 15600 - 2e5 * q**2

    assert point.flow.value == pytest.approx(optimize.brentq(gap, 0.02, 0.06), rel=1e-4)
    assert point.others[0] == pytest.approx(optimize.brentq(gap, 0.0, 0.02), rel=1e-3)


def test_beyond_the_measured_range_is_marked():
    point = operating_point(source(), ResistanceLine(0.0, 1e5))
    assert point.flow.extrapolated
    assert any("extrapolated" in word for word in point.words)


def test_positive_displacement_source_against_a_load():
    # q = 6e-4 - 2e-10 p against p = 5e8 q: q = 6e-4 / (1 + 0.1) by hand
    p = np.linspace(20e3, 500e3, 9)
    made = [SteadyPoint.from_parts(y, 6e-4 - 2e-10 * y, (100.0, 1e-6, 0.0)) for y in p]
    point = operating_point(BlowerCurve().fit(made), ResistanceLine(5e8, 0.0))
    assert point.flow.value == pytest.approx(6e-4 / 1.1, rel=1e-6)
    assert point.pressure.value == pytest.approx(5e8 * 6e-4 / 1.1, rel=1e-6)
    assert any("relief" in word for word in point.words)


def test_pump_with_its_relief_valve_open():
    # pump line q = 0.022 - 3e-7 p, valve p = 22000 + 0.12 ((0.022 - q) / 3e-7 - 22000) = 28160 - 4e5 q;
    # load p = 3e6 q: on the valve's line, q = 28160 / 3.4e6; load p = 1e6 q: on the pump's, q = 0.022 / 1.3
    q = np.array([0.001, 0.004, 0.007, 0.010, 0.013, 0.0165, 0.0178, 0.019, 0.0201, 0.021, 0.0216])
    p = np.where(q < 0.0154, 28160 - 4e5 * q, (0.022 - q) / 3e-7)
    fit = BlowerCurve().fit(known.points(q, p, 5.0, 1e-6))
    assert operating_point(fit, ResistanceLine(3e6, 0.0)).flow.value == pytest.approx(28160 / 3.4e6, rel=1e-4)
    assert operating_point(fit, ResistanceLine(1e6, 0.0)).flow.value == pytest.approx(0.022 / 1.3, rel=1e-4)


def test_which_sources_can_carry_a_generator():
    found = which_can_drive(
        [("weak", source(scale=0.2)), ("strong", source()), ("hopeless", source(scale=0.02))],
        ResistanceLine(2e5, 6e6, 500.0),
        wanted_flow=0.025,
    )
    assert [(item.name, item.can) for item in found] == [("strong", True), ("weak", False), ("hopeless", False)]
    assert found[1].words.startswith("too weak: the required flow is 25 L/s")
    assert "the source is too weak" in found[2].words


@pytest.mark.parametrize(("left", "verdict"), [(0.5, "yes"), (0.15, "yes"), (0.08, "barely"), (0.03, "barely")])
def test_a_source_with_hardly_any_pressure_left_is_not_said_to_drive_the_generator(left, verdict):
    """20000 - 120000 Q - 3.5e6 Q² = (1 - left) 20000 by the formula of the roots, met there by p = b Q²."""
    flow = (-120e3 + np.sqrt(120e3**2 + 4 * 3.5e6 * left * 20e3)) / (2 * 3.5e6)
    (found,) = which_can_drive([("one", source())], ResistanceLine(0.0, (1 - left) * 20e3 / flow**2))
    assert found.point.margin_share == pytest.approx(left, rel=0.02)
    assert found.verdict == verdict
    assert found.can == (verdict == "yes")
    if verdict == "barely":
        assert found.words.startswith(f"the pressure margin is only {100 * left:.0f} % of the source's pressure:")


def test_a_wanted_flow_inside_the_interval_makes_a_source_doubtful():
    (sure,) = which_can_drive([("one", source())], ResistanceLine(2e5, 6e6))
    at = sure.point.flow
    (found,) = which_can_drive([("one", source())], ResistanceLine(2e5, 6e6), wanted_flow=0.5 * (at.value + at.lower))
    assert found.verdict == "barely"
    assert found.words.startswith("doubtful")
    (weak,) = which_can_drive([("one", source())], ResistanceLine(2e5, 6e6), wanted_flow=1.01 * at.upper)
    assert weak.verdict == "no"
