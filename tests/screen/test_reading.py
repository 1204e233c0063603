"""How figures are written. Outside sources: the Particle Data Group's rounding rule, JCGM 100, units by definition."""

import math

import pytest

from frothline.estimate import Z95, Estimate
from frothline.screen.reading import (
    bounds,
    decimals_for,
    rounded,
    running_time,
    show,
    show_estimate,
    show_time,
    size,
)


@pytest.mark.parametrize(
    ("value", "half", "published"),
    [
        # Review of Particle Physics, Introduction, 5.3 "Rounding": the two examples given there
        (0.827, 0.119, ("0.83", "0.12")),
        (0.827, 0.367, ("0.8", "0.4")),
    ],
)
def test_figures_are_rounded_as_the_particle_data_group_does(value, half, published):
    places = decimals_for(half)
    assert (rounded(value, places), rounded(half, places)) == published


@pytest.mark.parametrize(
    ("half", "places"),
    [
        (0.100, 2),
        (0.354, 2),
        (0.355, 1),
        (0.949, 1),
        (0.950, 1),
        (0.999, 1),
        (1.0, 1),
        (35.4, 0),
        (35.5, -1),
        (354, -1),
    ],
)
def test_the_limits_of_the_rule_are_at_354_and_949(half, places):
    """Same source: 100 to 354 keep two digits, 355 to 949 one, 950 to 999 become 1000 and keep two."""
    assert decimals_for(half) == places


def test_a_95_percent_interval_of_a_normal_value_is_1_96_standard_uncertainties_wide():
    """JCGM 100:2008, table G.1: k = 1.960 for a level of 95 %."""
    assert abs(Z95 - 1.960) < 5e-4


def test_the_ends_of_an_interval_are_rounded_outwards():
    assert bounds(0.7081, 0.9459, 2) == ("0.70", "0.95")
    assert bounds(0.70, 0.95, 2) == ("0.70", "0.95")
    assert bounds(-1.234, 1.234, 1) == ("−1.3", "1.3")


def test_ten_inches_of_water_read_as_ten_inches_of_water():
    """NIST SP 811 (2008), appendix B.8: inch of water (conventional) = 249.0889 Pa."""
    shown = show(2490.889, 2.0, "pressure", "inch-pound")
    assert (shown.value, shown.unit) == ("10.000", "inH₂O")
    assert shown.under == "9.984 to 10.016"


def test_freezing_point_reads_32_fahrenheit_with_its_interval_not_shifted():
    shown = show(273.15, 0.5, "temperature", "inch-pound")
    # half the interval is 1.96 * 0.5 K = 0.98 K = 1.764 degrees Fahrenheit
    assert (shown.value, shown.unit, shown.under) == ("32.0", "°F", "30.2 to 33.8")


def test_an_unknown_figure_is_a_dash_with_its_reason_never_nought():
    shown = show(math.nan, math.nan, "flow", "metric", reason="the rotor stands still")
    assert (shown.value, shown.under) == ("–", "the rotor stands still")
    assert show_estimate(None, "flow", "metric", reason="not known yet").value == "–"


def test_a_figure_without_an_interval_says_so():
    assert show(1234.5, math.nan, "pressure", "metric").under == "interval not known"


def test_an_extrapolated_estimate_says_that_it_lies_beyond_what_was_measured():
    shown = show_estimate(Estimate.normal(0.03, 1e-4, "m3/s", extrapolated=True), "flow", "metric")
    assert shown.value == "30.00"
    assert "beyond what was measured" in shown.under


def test_nothing_is_ever_written_as_minus_nought():
    assert rounded(-0.004, 2) == "0.00"
    assert rounded(-0.006, 2) == "−0.01"


def test_running_time_and_size_are_written_as_people_say_them():
    assert [running_time(s) for s in (0, 59.9, 61, 3723)] == ["0:00", "0:59", "1:01", "1:02:03"]
    assert [size(n) for n in (12, 1500, 2_340_000, 5.1e9)] == ["12 bytes", "1.5 kB", "2.3 MB", "5.1 GB"]


def test_the_interval_of_what_cannot_be_negative_ends_at_nothing():
    """A flow, a volume and a power cannot be below zero; a gauge pressure and a temperature in °C can."""
    assert show(0.00002 / 60, 0.00005 / 60, "foam_rate", "metric").under.startswith("0.00 to ")
    assert show(0.0, 0.77e-3, "flow", "metric").under == "0.0 to 1.6"
    assert show(0.0, 10.0, "pressure", "metric").under == "−0.020 to 0.020"
    assert show(273.15, 0.5, "temperature", "metric").under == "−1.0 to 1.0"
    # a reading that is itself below nothing is a fault of the sensor, and stays to be seen
    assert show(-2e-3, 0.5e-3, "flow", "metric").value == "−2.0"


def test_air_is_told_in_cubic_feet_and_foam_in_gallons():
    """One cubic foot is 0.028316846592 m³, exact: NIST SP 811 (2008), appendix B.8."""
    assert show(0.28316846592, 1e-4, "air_volume", "inch-pound").value == "10.000"
    assert show(0.28316846592, 1e-4, "air_volume", "inch-pound").unit == "ft³"
    assert show(0.28316846592, 1e-4, "volume", "inch-pound").unit == "gal"


@pytest.mark.parametrize(
    ("seconds", "lower", "upper", "said"),
    [
        (90.6, 85.0, 96.0, ("1:31", "min", "1:25 to 1:36")),
        (6.6, 5.2, 9.1, ("0:07", "min", "0:05 to 0:10")),
        (150.0, 101.0, 199.0, ("2:30", "min", "1:40 to 3:20")),  # half a minute wide: tens of seconds are known
        (4500.0, 4000.0, 5100.0, ("1:15", "h", "1:06 to 1:25")),
        (3599.6, 3598.0, 3602.0, ("1:00", "h", "0:59 to 1:01")),
        (120.0, 60.0, math.inf, ("2:00", "min", "1:00 or more")),
    ],
)
def test_a_time_to_go_is_minutes_and_seconds_and_from_an_hour_on_hours_and_minutes(seconds, lower, upper, said):
    shown = show_time(Estimate(seconds, (upper - lower) / 4, lower, upper, "s"))
    assert (shown.value, shown.unit, shown.under) == said


def test_a_time_that_nobody_knows_is_a_dash_with_its_reason():
    assert show_time(None, reason="no solution is drawn").under == "no solution is drawn"
    assert show_time(Estimate(math.nan, math.nan, math.nan, math.nan, "s")).value == "–"
