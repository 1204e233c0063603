"""How figures are written. Outside sources: the Particle Data Group's rounding rule, JCGM 100, units by definition."""

import math

import pytest

from frothline.estimate import Estimate
from frothline.screen.reading import COVERAGE, bounds, decimals_for, rounded, running_time, show, show_estimate, size


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
    assert abs(COVERAGE - 1.960) < 5e-4


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
