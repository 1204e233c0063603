"""A source whose filter has loaded, against a curve with an added resistance written as plain arithmetic."""

import numpy as np
import pytest
from known_sources import blower, points
from scipy.optimize import brentq

from frothline.curve.blower import BlowerCurve
from frothline.curve.loaded_filter import loaded_filter
from frothline.curve.operating_point import NoCrossing, operating_point
from frothline.curve.resistance import ResistanceLine
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import OutsideValidity

FLOWS = np.linspace(0.002, 0.058, 10)
SPAN = (("span of the sensor", 0.01, 0.0),)


@pytest.fixture(scope="module")
def clean():
    rng = np.random.default_rng(5)
    return BlowerCurve().fit(points(FLOWS, blower(FLOWS) + 30 * rng.standard_normal(10), 30.0, 1e-4, SPAN))


def later(flow, taken, *, common=(), u_p=30.0):
    pressure = float(blower(flow)) - taken
    errors = [CommonError(name, share * pressure, 0.0) for name, share in common]
    return SteadyPoint.from_parts(pressure, flow, (u_p, 1e-4, 0.0), errors)


def test_the_rescaled_curve_goes_through_the_later_point(clean):
    found = loaded_filter(clean, [later(0.03, 3000.0)])
    assert found.significant
    assert found.drop.value == pytest.approx(3000.0, abs=60)
    assert found.drop.lower < 3000.0 < found.drop.upper
    assert found.fit.pressure_at(0.03) == pytest.approx(float(blower(0.03)) - 3000.0, abs=5)
    assert found.fit.notes[0] == found.words


@pytest.mark.parametrize("power", [1.0, 1.5, 2.0])
def test_the_figures_hold_whichever_law_the_filter_follows(clean, power):
    # q at which p(q) - 3000 (q/0.03)^n is no pressure: plain arithmetic
    truth = brentq(lambda q: float(blower(q)) - 3000.0 * (q / 0.03) ** power, 0.02, 0.06)
    found = loaded_filter(clean, [later(0.03, 3000.0)]).fit.free_delivery
    assert found.lower < truth < found.upper
    assert found.upper - found.lower < 0.3 * truth


def test_shut_off_does_not_change_because_no_air_flows_through_the_filter(clean):
    found = loaded_filter(clean, [later(0.03, 3000.0)]).fit
    assert found.shut_off.value == pytest.approx(clean.shut_off.value, rel=1e-9)
    assert found.free_delivery.value < 0.9 * clean.free_delivery.value
    assert found.air_power.value < 0.8 * clean.air_power.value


def test_a_span_that_both_measurements_share_cancels_in_the_drop(clean):
    apart = loaded_filter(clean, [later(0.03, 3000.0, common=(("span of another sensor", 0.01),))])
    shared = loaded_filter(clean, [later(0.03, 3000.0, common=(("span of the sensor", 0.01),))])
    assert shared.drop.standard_uncertainty < 0.5 * apart.drop.standard_uncertainty
    # of the remaining pressure difference of 3 kPa, 1 % is left
    assert shared.drop.standard_uncertainty > 30.0


def test_several_points_give_a_smaller_interval_than_one(clean):
    one = loaded_filter(clean, [later(0.03, 3000.0, u_p=300.0)]).drop
    four = loaded_filter(clean, [later(0.03, 3000.0, u_p=300.0)] * 4).drop
    assert four.standard_uncertainty < 0.65 * one.standard_uncertainty


def test_a_point_on_the_curve_is_no_loaded_filter(clean):
    found = loaded_filter(clean, [later(0.03, 20.0)])
    assert not found.significant
    assert "no added resistance" in found.words


@pytest.mark.parametrize(
    ("point", "said"),
    [(later(0.03, -2000.0), "above the curve"), (later(0.003, 500.0), "no point has enough flow")],
)
def test_a_point_that_shows_no_filter_is_asked_back(clean, point, said):
    with pytest.raises(OutsideValidity, match=said):
        loaded_filter(clean, [point])


def test_a_pump_is_not_rescaled():
    pressures = np.linspace(0, 250e3, 6)
    pump = BlowerCurve().fit(points(6.6e-4 - 4e-10 * pressures, pressures, 500.0, 2e-6))
    with pytest.raises(OutsideValidity, match="positive-displacement"):
        loaded_filter(pump, [later(0.03, 3000.0)])


def test_a_loaded_filter_lowers_the_operating_point_by_the_plain_solution(clean):
    # p(q) = 2e5 q + 6e6 q^2 + the filter; linear and square law bracket the result
    load = ResistanceLine(2e5, 6e6)
    met = operating_point(loaded_filter(clean, [later(0.03, 3000.0)]).fit, load)
    for power in (1.0, 2.0):
        truth = brentq(
            lambda q, n: float(blower(q)) - 3000 * (q / 0.03) ** n - 2e5 * q - 6e6 * q * q, 0.01, 0.05, power
        )
        assert met.flow.lower < truth < met.flow.upper


# --- near stall, and with little air ------------------------------------------------------------------------------------


def test_a_curve_is_not_extended_towards_stall():
    flows = np.linspace(0.015, 0.058, 9)
    fit = BlowerCurve().fit(points(flows, blower(flows) + np.tile([8.0, -8.0, 3.0], 3), 10.0, 2e-5))
    met = operating_point(fit, ResistanceLine(2.4e6, 0.0))  # plain solution: 7.6 L/s, 13 % of open air
    assert isinstance(met, NoCrossing)
    assert "not extrapolated towards stall" in met.words[0]
    assert met.at == fit.range[0]
    near = operating_point(fit, ResistanceLine(1.4e6, 0.0))  # 12.7 L/s: within a twentieth of the open air
    assert near.flow.extrapolated


def test_a_quarter_of_the_open_air_names_the_motor(clean):
    hot = operating_point(clean, ResistanceLine(1.5e6, 0.0))  # 11.9 L/s of 60.4
    assert any("overheats" in one and "20 %" in one for one in hot.words)
    cool = operating_point(clean, ResistanceLine(5e5, 0.0))
    assert not any("overheats" in one for one in cool.words)
