"""What can hurt somebody: the right caution at the right pressure, with figures worked by hand."""

import re
from dataclasses import replace

import pytest
from builds import FIRST

from frothline.curve.blower import BlowerCurve
from frothline.curve.steady_points import SteadyPoint
from frothline.generator.cautions import cautions, largest_pressure
from frothline.physics.references import BIBLIOGRAPHY
from frothline.physics.safety import jet_speed


def by_key(pressure, build=FIRST):
    return {item.key: item for item in cautions(build, pressure)}


def test_a_cap_at_blower_pressure_is_pushed_with_the_force_of_pressure_times_area():
    # 104 mm bore and 3 mm of wall, 110 mm outside: 95.0 cm² at 20 kPa are 190 N, 19 kg
    build = FIRST.with_entry("body.bore", 0.104)
    words = by_key(20e3, build)["push-fit"].words
    assert "190 N" in words
    assert "19 kg" in words


def test_the_force_is_told_where_it_runs_and_with_a_clogged_outlet_on_the_pipe_that_is_sold():
    # a 110 x 3.2 waste pipe is 110 mm outside (EN 1401-1): 95.03 cm²; 9 kPa 85.5 N, 20 kPa 190.1 N; 50 x 3.7: 19.63 cm²
    build = FIRST.with_entry("body.bore", 0.1036)
    found = {item.key: item for item in cautions(build, 20e3, running=9e3)}["push-fit"].words
    assert "at the operating pressure of 9.0 kPa a cap of 110 mm is pushed off with 86 N" in found
    assert "at 20.0 kPa with 190 N, the weight of 19 kg" in found
    small = by_key(20e3, FIRST.with_entry("body.bore", 0.0426))["push-fit"].words
    assert "a cap of 50 mm is pushed off with 39 N" in small
    assert "taken" not in small
    assert "wall 3 mm" in by_key(20e3, FIRST.with_entry("body.bore", 0.095))["push-fit"].words


def test_without_an_air_source_the_cautions_that_need_none_are_told():
    without = by_key(None)
    assert set(without) == set(by_key(15e3))
    # 95.03 cm² for each kPa
    assert "1 kPa pushes a cap of 110 mm off with 9.5 N" in without["push-fit"].words
    assert not any("kPa," in item.words or " J" in item.words for item in without.values())


def test_the_energy_told_is_that_of_the_bodys_air():
    # 121.325 ln(121.325/101.325) - 20 = 1.855 J for each litre at 20 kPa; a body of 9.993 litres
    litres = replace(FIRST, body=replace(FIRST.body, bore=0.1128, length=1.0))
    told = float(re.search(r"stores ([\d.]+) J", by_key(20e3, litres)["plastic-pipe"].words)[1])
    assert told == pytest.approx(18.54, abs=0.05)  # told to a tenth


@pytest.mark.parametrize(
    ("pressure", "key", "stop"),
    [(15e3, None, False), (28e3, "pressure", False), (40e3, "pressure", True), (6e5, "compressor", True)],
)
def test_the_higher_the_pressure_the_plainer_the_words(pressure, key, stop):
    first = cautions(FIRST, pressure)[0]
    assert first.stop == stop
    assert (first.key if key else None) == key
    assert any(item.stop for item in cautions(FIRST, pressure)) == stop


def test_shop_air_is_refused_whatever_the_pipe():
    words = by_key(6e5)["compressor"].words
    assert "regulator" in words
    assert "relief" in words
    assert "rated for gas" in words


def test_a_pump_has_its_own_cautions_and_no_figure_beyond_its_formula():
    """The exhaust formula holds to 35 kPa and for motors in the air stream; beyond it 1856 °C had been told."""
    found = {one.key: one for one in cautions(FIRST, 500e3, pump=True)}
    assert "relief valve" in found["relief"].words
    assert "duty cycle" in found["motor"].words
    assert "K warmer" not in found["heat"].words
    assert "K warmer" not in by_key(60e3)["heat"].words
    assert "K warmer" in by_key(20e3)["heat"].words
    assert cautions(FIRST, 500e3, pump=True)[0].stop  # the worst first
    assert "relief" not in by_key(20e3)


def test_the_curve_of_a_pump_does_not_tell_where_its_pressure_ends():
    """Five points to 500 kPa of a pump that loses 2.5 % a bar: the line meets 0 at 4 MPa, which no small pump reaches."""
    table = [(100e3 * k, (40.0 - k) / 6e4) for k in range(6)]
    points = [SteadyPoint(float(k), k + 1.0, p, 200.0, q, 0.01 * q) for k, (p, q) in enumerate(table)]
    pump = BlowerCurve().fit(points)
    assert pump.shut_off.value > 2e6
    assert largest_pressure(pump, None) == pytest.approx(500e3)
    assert largest_pressure(pump, 550e3) == pytest.approx(550e3)
    fan = BlowerCurve().fit([SteadyPoint(float(k), k + 1.0, 2e4 * (1 - k / 5), 20.0, k * 8e-3, 1e-4) for k in range(6)])
    assert largest_pressure(fan, None) == pytest.approx(2e4, rel=0.02)


@pytest.mark.parametrize(
    ("gauge", "speed"),
    [
        # by hand: c_p = 1004.69 J/(kg K), so that 2 c_p T = 589,047 m²/s² at 20 °C, times 1 - (101.325/p)^(2/7)
        (20e3, 171.9),
        (35e3, 218.8),
        (500e3, 484.7),
        (4000e3, 620.0),
    ],
)
def test_a_jet_stays_below_the_speed_of_air_that_has_lost_all_its_warmth(gauge, speed):
    assert jet_speed(gauge) == pytest.approx(speed, rel=2e-3)
    assert jet_speed(gauge) < 767.5
    assert jet_speed(100.0) == pytest.approx((2 * 100.0 / 1.204) ** 0.5, rel=2e-3)  # Bernoulli, at 20 °C


def test_each_caution_says_on_what_it_stands():
    for item in cautions(FIRST, 28e3):
        assert item.source == "judgement" or item.source in BIBLIOGRAPHY


def test_every_caution_says_in_words_on_what_it_stands():
    """A key of the bibliography means nothing beside a bucket."""
    for one in cautions(FIRST, 20e3):
        assert one.grounds == "judgement, no source" or " " in one.grounds
        assert one.source == "judgement" or one.source not in one.grounds


def test_a_loop_and_a_clogged_packing_have_their_figures():
    """20 kPa hold up 20000/(1000 x 9.80665) = 2.04 m of water; on a bore of 103.6 mm (84.30 cm²) they press with 169 N."""
    found = by_key(20e3, FIRST.with_entry("body.bore", 0.1036))
    assert "must rise 2.0 m above the liquid" in found["backflow"].words
    assert "pushed out with 169 N" in found["packing"].words
    assert "lifts solution by 102 mm" in by_key(None)["backflow"].words


def test_nobody_looks_into_an_outlet_under_pressure():
    assert "until the pressure reads 0" in by_key(20e3)["opening"].words
    assert "quarter of its open air" in by_key(20e3)["motor"].words


def test_an_opened_joint_blows_as_fast_as_its_pressure_drives_it():
    """Isentropic from rest, by hand below: 20 kPa 172 m/s, 5 kPa 90 m/s (Bernoulli with 1.2 kg/m³: 183 and 91)."""
    assert "blows at up to 172 m/s" in by_key(20e3)["opening"].words
    assert "blows at up to 90 m/s" in by_key(5e3)["opening"].words
    assert "m/s" not in by_key(None)["opening"].words


def test_the_exhaust_is_as_warm_as_its_compression_and_losses_make_it():
    """20 kPa: T2 = 293.15 K x 1.19738^(2/7) = 308.6 K without losses; with 30 % efficiency 51.6 K above 20 °C, 72 °C."""
    warm = by_key(20e3)["heat"]
    assert "52 K warmer than the room, 72 °C in a room of 20 °C" in warm.words
    assert "above the limit of PVC pipe, 60 °C" in warm.words
    assert "above the limit" not in by_key(9e3)["heat"].words  # 9 kPa: 25 K, 45 °C
    assert "22 % of its rated pressure" in warm.words  # makers' tables of derating at 140 °F
    assert warm.source == "pvc-derating"
    assert "60 °C" in by_key(None)["heat"].words


def test_the_noise_has_its_time():
    """NIOSH 98-126, table 1-1: 95 dB 47 min 37 s, 100 dB 15 min."""
    assert "at 95 dB(A) a full day's dose is reached in 48 min, at 100 dB(A) in 15 min" in by_key(9e3)["noise"].words


def test_the_breaker_has_its_current():
    """A class A ground-fault interrupter trips at 6 mA and not below 4 mA (definition in NFPA 70); an RCD at 30 mA."""
    assert "4 to 6 mA" in by_key(9e3)["mains"].words
    assert "30 mA" in by_key(9e3)["mains"].words
