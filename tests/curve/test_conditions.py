"""Other air, other voltage, other days, other kinds of source."""

import re
from dataclasses import replace

import known_sources as known
import numpy as np
import pytest

from frothline.curve.blower import BlowerCurve
from frothline.curve.fan_laws import Conditions, corrected, correction, fan_law
from frothline.curve.pooling import pool
from frothline.curve.source_kinds import KINDS, Tank, lasting, overlay, tank_volume
from frothline.curve.tank_duration import tank_duration
from frothline.errors import InputError, OutsideValidity, TooFewPoints
from frothline.estimate import Estimate


def test_fan_laws_of_a_printed_example():
    # 1200 to 1500 rpm: 10 000 cfm, 2.0 inH2O, 5 hp become 12 500 cfm, 3.125 inH2O (printed 3.13), 9.766 hp (9.77);
    # at 80 % speed the power is 0.512 (process-heating engineering page that gives the laws)
    law = fan_law(1500 / 1200)
    assert (10000 * law.flow, 2.0 * law.pressure, 5 * law.power) == pytest.approx((12500, 3.125, 9.766), rel=1e-4)
    assert fan_law(0.8).power == pytest.approx(0.512)


def test_fan_laws_with_speed_and_density():
    # by hand: 0.9; 0.81 x 1.1/1.2 = 0.7425; 0.729 x 1.1/1.2 = 0.66825
    law = fan_law(0.9, 1.1 / 1.2)
    assert (law.flow, law.pressure, law.power) == pytest.approx((0.9, 0.7425, 0.66825))
    assert fan_law(size=2.0).power == 32.0


def test_governed_source_scales_with_density():
    # same volume drawn in, pressure with density; the standard flow is a mass flow, so it takes the density too
    law = correction(Conditions(1.1, motor="constant speed"), Conditions(1.2, motor="constant speed"))
    assert (law.pressure, law.flow) == pytest.approx((1.2 / 1.1, 1.2 / 1.1))
    assert law.u_pressure == 0.0


def test_series_motor_follows_the_vacuum_cleaner_tests_suction_correction():
    # ASTM F558 (from memory): corrected suction = h (1 + 0.667 (1 - Dr)); at Dr = 0.927828 the factor is 1.048139
    law = correction(Conditions(0.927828 * 1.2), Conditions(1.2))
    assert law.pressure == pytest.approx(1.048139, abs=1e-6)
    # the same orifice then passes sqrt(factor Dr) times the volume in standard air: mass ratio sqrt(factor / Dr)
    assert law.flow == pytest.approx(np.sqrt(1.048139 / 0.927828), abs=1e-6)
    assert law.u_pressure > 0.01  # the law's own doubt


def test_there_and_back_is_nothing():
    one, other = Conditions(1.05, 110.0), Conditions(1.2, 120.0)
    there, back = correction(one, other), correction(other, one)
    assert there.pressure * back.pressure == pytest.approx(1.0)
    assert there.flow * back.flow == pytest.approx(1.0)


def test_altitude_is_the_standard_atmosphere():
    # US Standard Atmosphere 1976: 1000 m 1.1116589851 kg/m3, 2000 m 1.0065532170 kg/m3 (geometric altitude; the short
    # form takes it as geopotential, 0.3 m in 2000)
    assert Conditions.at_altitude(1000).density == pytest.approx(1.1116589851, rel=1e-4)
    assert Conditions.at_altitude(2000).density == pytest.approx(1.0065532170, rel=1e-4)


def test_beyond_their_limits_the_laws_are_refused():
    with pytest.raises(OutsideValidity, match="fan laws"):
        correction(Conditions(0.7), Conditions(1.2))
    with pytest.raises(OutsideValidity, match="speed"):
        correction(Conditions(1.2, 120.0), Conditions(1.2, 60.0))


def test_corrected_points_carry_the_laws_doubt_as_a_common_error():
    moved = corrected(known.ten_orifices(), Conditions(1.1), Conditions())
    assert {part.name for part in moved[0].common} == {"fan law"}
    fit = BlowerCurve(forms=("quadratic",)).fit(moved)
    law = correction(Conditions(1.1), Conditions())
    assert fit.shut_off.value == pytest.approx(law.pressure * known.SHUT_OFF, rel=1e-5)
    assert fit.shut_off.standard_uncertainty == pytest.approx(law.u_pressure * fit.shut_off.value, rel=0.01)


def test_figures_in_standard_air_are_those_of_points_measured_in_it():
    """The ten-orifice blower measured in air of 1.1 kg/m3: F558's suction correction (from memory) by hand, at a density
    ratio of 1.1/1.2 a factor of 1 + 0.667 (1 - 0.916667) = 1.055583, and sqrt(1.055583 / 0.916667) = 1.073097 for the
    flow."""
    points = [replace(point, ambient_density=1.1, u_ambient_density=0.0) for point in known.ten_orifices()]
    fit = BlowerCurve(forms=("quadratic",)).fit(points)
    assert fit.shut_off.value == pytest.approx(known.SHUT_OFF, rel=1e-5)  # as found
    assert fit.standard.found_in == pytest.approx(1.1)
    assert fit.standard.shut_off.value == pytest.approx(1.055583 * known.SHUT_OFF, rel=1e-5)
    assert fit.standard.free_delivery.value == pytest.approx(1.073097 * fit.free_delivery.value, rel=1e-5)
    assert fit.standard.air_power.value == pytest.approx(1.055583 * 1.073097 * fit.air_power.value, rel=1e-5)


def test_a_density_that_is_half_known_widens_the_figures_in_standard_air_alone():
    # 2 % of the density is at the most 2 % of the pressure, beside the law's own doubt
    points = [replace(point, ambient_density=1.2, u_ambient_density=0.024) for point in known.ten_orifices()]
    fit = BlowerCurve(forms=("quadratic",)).fit(points)
    assert fit.standard.shut_off.value == pytest.approx(fit.shut_off.value, rel=1e-9)
    assert fit.standard.shut_off.standard_uncertainty == pytest.approx(0.02 * fit.shut_off.value, rel=0.02)
    assert fit.shut_off.standard_uncertainty < 0.001 * fit.shut_off.value


def test_without_the_room_s_air_or_for_a_pump_there_are_no_figures_in_standard_air():
    fit = BlowerCurve(forms=("quadratic",)).fit(known.ten_orifices())
    assert not fit.standard.shut_off.known
    assert "not measured" in fit.standard.why_not


def days(seed, scale=1.0, common=()):
    rng = np.random.default_rng(seed)
    q = np.linspace(0.003, 0.055, 11)
    return known.noisy(rng, q, lambda x: scale * known.blower(x), common=common)


@pytest.mark.exhaustive
def test_sweeps_of_one_source_are_told_apart_no_oftener_than_stated():
    curve = BlowerCurve(forms=("quadratic",))
    p = np.array([pool([days([40, k]), days([41, k])], curve=curve).p_value for k in range(100)])
    # uniform under the hypothesis: 5 of 100 below 5 % with standard deviation 2.2, half below 50 % with 5.0
    assert np.sum(p < 0.05) <= 11
    assert 35 <= np.sum(p < 0.5) <= 65


def test_a_clogged_filter_tells_two_days_apart():
    found = pool([days(42), days(43, 0.98)])
    assert not found.same
    assert found.fit is None
    assert "filter" in found.words
    assert abs(found.shifts[0][2]) == pytest.approx(0.01, abs=0.005)  # each 1 % from the common curve


def test_a_recalibration_between_the_days_is_not_held_against_them():
    shared = [("pressure span", 0.01, 0.0)]
    one, other = days(44, common=shared), days(45, common=shared)
    assert pool([one, other], between=["pressure span"]).same


def test_two_different_sources_are_never_pooled():
    """A blower and another with three fifths of its pressure and twice its flow: their common curve fits neither."""
    rng = np.random.default_rng(48)
    q = np.linspace(0.003, 0.08, 11)
    other = known.noisy(rng, q, lambda x: 0.6 * known.blower(x / 2))
    found = pool([days(49), other])
    assert not found.same
    assert found.p_value < 1e-6


def test_an_error_between_the_days_explains_no_more_than_its_size():
    """One day reads 8 % low; a span that is known to 1 % does not do that, one that is known to 5 % may."""

    def p_value(u):
        shared = [("pressure span", u, 0.0)]
        return pool([days(50, common=shared), days(51, 0.92, common=shared)], between=["pressure span"]).p_value

    assert p_value(0.01) < 1e-3
    assert p_value(0.05) > 0.01


def test_pooled_sweeps_give_one_curve():
    found = pool([days(46), days(47)])
    assert found.same
    assert len(found.fit.points) == 22
    with pytest.raises(TooFewPoints):
        pool([days(46)])


def test_every_kind_of_source_says_how_to_measure_it_and_what_to_beware_of():
    assert {"vacuum", "leaf blower", "inflator", "compressor"} <= set(KINDS)
    for kind in KINDS.values():
        assert len(kind.procedure) >= 3
        assert kind.cautions
        assert kind.curve.forms


def test_volume_of_a_tank_from_what_it_gave():
    # ideal gas by hand: 50 L from 9 to 6 bar at 293.15 K gives 0.05 x 3e5 / (287.05287 x 293.15) = 0.178253 kg
    volume = tank_volume((9e5, 1e3), (6e5, 1e3), (0.178253, 0.001), 293.15)
    assert volume.value == pytest.approx(0.05, rel=1e-5)
    assert volume.standard_uncertainty / volume.value == pytest.approx(
        np.hypot(0.001 / 0.178253, np.sqrt(2) / 300), rel=1e-6
    )


def test_how_long_a_tank_lasts():
    # mass balance by hand: 5 L/s drawn, a pump of 1.039 L/s and a tank of 50 L at 293.15 K: the tank falls by
    # (5 - 1.039) x 1.2 x 287.05287 x 293.15 / 0.05 = 8 kPa/s
    volume = Estimate.normal(0.05, 0.0005, "m³")
    pump = Estimate.normal(5e-3 - 3.9612e-3, 1e-4, "m³/s")
    # from 9 to 5 bar at that rate: 4e5 / 8000 = 50 s
    found = lasting(Tank(volume, pump, 293.15), 9e5, 5e5, Estimate.normal(5e-3, 5e-5, "m³/s"))
    assert found.seconds.value == pytest.approx(50.0, rel=1e-4)
    assert found.seconds.lower < 50.0 < found.seconds.upper


def test_a_pump_that_keeps_up_lasts():
    tank = Tank(Estimate.normal(0.05, 0.0005, "m³"), Estimate.normal(2e-3, 1e-5, "m³/s"), 293.15)
    assert lasting(tank, 9e5, 5e5, Estimate.normal(1e-3, 1e-5, "m³/s")).seconds.value == np.inf


@pytest.mark.parametrize("pressure", [4e5, 5e5])
def test_a_tank_that_is_empty_already_is_refused_with_both_pressures_and_what_to_do(pressure):
    """As ``lasting`` has them, absolute; ``tank_duration`` refuses the same pressures above ambient."""
    tank = Tank(Estimate.normal(0.05, 0.0005, "m³"), Estimate.normal(0.0, 0.0, "m³/s"), 293.15)
    with pytest.raises(OutsideValidity) as absolute:
        lasting(tank, pressure, 5e5, Estimate.normal(1e-3, 1e-5, "m³/s"))
    assert absolute.value.what == (
        f"the tank's {pressure / 1e5:.2f} bar is not above the lowest usable pressure, 5.00 bar (both absolute)"
    )
    with pytest.raises(OutsideValidity) as above_ambient:
        tank_duration(0.05, pressure, 5e5, 1e-3)
    assert above_ambient.value.what == (
        f"the tank's {pressure / 1e5:.4g} bar is not above the lowest usable pressure, 5 bar (both above ambient)"
    )
    for refused in (absolute.value, above_ambient.value):
        assert refused.where == "lowest"
        assert refused.remedy == "Wait until the pump has filled the tank, or set the regulator lower"


def test_a_tank_by_its_plate_and_its_gauge_lasts_as_the_mass_balance_says():
    """60 US gal from 125 to 90 psi at 10 cfm: 114.6 s by the rule for air receivers t = V (p1 - p2)/(C pa), from
    compressed-air handbooks (from memory). 1 %: free air at 20 °C has 1.204 kg/m3, not 1.2. The uncertainty of two
    readings of a 16 bar gauge of class 2.5 is sqrt 2 x 0.231 bar of 2.413 bar, 3 % are that of the plate, and the
    cooling is a rectangle of 1 - 1/1.4."""
    gallon, psi, cfm = 3.785411784e-3, 6894.757, 0.3048**3 / 60
    found = tank_duration(60 * gallon, 125 * psi, 90 * psi, 10 * cfm)
    assert found.lasting.seconds.value == pytest.approx(114.6, rel=0.01)
    relative = found.lasting.seconds.standard_uncertainty / found.lasting.seconds.value
    assert relative == pytest.approx(
        np.linalg.norm([np.sqrt(2) * 0.025 * 16 / np.sqrt(3) / 2.413, 0.03, 2 / 7 / np.sqrt(3)]), rel=2e-3
    )
    assert not found.keeps_up
    assert tank_duration(60 * gallon, 125 * psi, 90 * psi, 10 * cfm, 11 * cfm).keeps_up


@pytest.mark.parametrize(
    ("given", "where"),
    [
        ({"volume": 0.0}, "volume"),
        ({"full": -1e5}, "full"),
        ({"lowest": 0.0}, "lowest"),
        ({"drawn": np.inf}, "drawn"),
        ({"drawn": np.nan}, "drawn"),
        ({"pump": -1e-3}, "pump"),
    ],
)
def test_a_figure_of_a_tank_that_cannot_be_is_refused_by_name(given, where):
    figures = {"volume": 0.05, "full": 8e5, "lowest": 4e5, "drawn": 3e-3, "pump": 0.0}
    with pytest.raises(InputError) as refused:
        tank_duration(**figures | given)
    assert refused.value.where == where
    assert refused.value.remedy == REMEDIES.get(where, "Give a value greater than 0")
    assert re.fullmatch(r"\S+ (L|bar|L/s) is (not greater than|below) 0", refused.value.what)


REMEDIES = {"pump": "Give 0 or more; 0 is a pump that is off"}


def test_overlay_ends_each_source_at_its_free_delivery():
    strong = BlowerCurve(forms=("quadratic",)).fit(known.ten_orifices())
    (trace,) = overlay([("vacuum", strong)])
    assert trace.flow[-1] == pytest.approx(known.FREE_DELIVERY, rel=1e-5)
    assert trace.pressure[-1] == pytest.approx(0.0, abs=1.0)
    assert not trace.measured[0]
    assert trace.measured[60]
    assert np.all(trace.lower <= trace.pressure)
