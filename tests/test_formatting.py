"""How figures are written. Outside sources: the Particle Data Group's rounding rule, JCGM 100, units by definition."""

import math
from pathlib import Path

import pytest

from frothline import cli
from frothline.estimate import Z95, Estimate
from frothline.formatting import (
    PERCENT,
    difference_text,
    full_text,
    reading_text,
    running_time,
    show,
    show_difference,
    show_estimate,
    show_time,
    size,
)
from frothline.report.run import run_report
from frothline.rounding import bounds, decimals_for, rounded, value_and_interval, value_and_interval_to
from frothline.trials.figures import BY_NAME
from frothline.trials.notebook import Notebook
from frothline.units import METRIC, SYSTEMS, Unit
from frothline.web.pages.notebook.trials import figure_shown

PACKAGE = Path(__file__).parents[1] / "host" / "frothline"
SEASON = Path(__file__).parents[1] / "recordings" / "season"


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


@pytest.mark.parametrize(
    ("value", "low", "high", "text"),
    [
        (3645.0, 180.0, 1304240.0, ("3600", "100 to 1304300")),
        (-0.02, -9.0, -0.001, ("−0.020", "−9.000 to −0.001")),
        (0.02, -9.0, 9.0, ("0", "−9 to 9")),  # zero is within
    ],
)
def test_a_value_whose_interval_excludes_zero_is_not_rounded_to_zero(value, low, high, text):
    assert value_and_interval(value, low, high) == text


def test_an_unknown_figure_is_a_dash_with_its_reason_never_nought():
    shown = show(math.nan, math.nan, "flow", "metric", reason="the rotor does not turn")
    assert (shown.value, shown.under) == ("–", "the rotor does not turn")
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


def test_a_line_of_the_prompt_has_value_unit_and_the_level_of_its_interval():
    flow = Estimate(12.345e-3, 0.25e-3, 11.9e-3, 12.9e-3, "m3/s")
    assert full_text(flow, METRIC["flow"]) == "12.3 L/s (11.9 to 12.9, 95 %)"
    assert full_text(None, METRIC["flow"], reason="no air yet") == "– L/s (no air yet)"
    unknown = Estimate(1.0, math.nan, -math.inf, math.inf, "1")
    assert full_text(unknown, METRIC["flow"]).endswith("(interval not known)")
    never = Estimate(math.nan, math.nan, math.nan, math.nan, "m3/s", assumptions=("no leakage was detected",))
    assert full_text(never, METRIC["flow"]) == "– L/s (no leakage was detected)"
    # a reading is shown with its 95 % interval, not with one standard uncertainty
    assert reading_text(19891.2, 250.0, METRIC["pressure"]) == "19.9 kPa (19.4 to 20.4, 95 %)"


def test_a_difference_has_its_sign_and_its_interval_is_not_cut_at_zero():
    change = Estimate(0.4e-3, 0.45e-3, -0.5e-3, 1.3e-3, "m3/s")
    shown = show_difference(change, METRIC["flow"])
    assert (shown.value, shown.under) == ("+0.4", "−0.5 to 1.3")
    assert difference_text(Estimate(-0.28, 0.1, -0.47, -0.09, "1"), PERCENT) == "−28 % (−47 to −9, 95 %)"
    # two degrees of difference are 3.6 Fahrenheit degrees, whatever the scale's zero is
    assert show_difference(Estimate.normal(2.0, 0.5, "K"), SYSTEMS["inch-pound"]["temperature"]).value == "+3.6"


def test_page_prompt_and_report_write_a_figure_alike(capsys):
    notebook = Notebook(SEASON)
    trial = notebook.trial("First foam")
    page = figure_shown(trial, BY_NAME["density"], "metric")
    assert cli.main(["trials", str(SEASON), "--trial", "First foam"]) == 0
    line = next(one for one in capsys.readouterr().out.splitlines() if one.startswith("Foam density"))
    assert line.split("  ")[-1].strip() == page.text
    report = run_report(notebook, trial.name).html
    assert f"{page.value} {page.unit}" in report
    assert page.under in report


def test_no_other_module_rounds_by_an_uncertainty():
    """Decimals that follow from an uncertainty come from a logarithm to base ten; physics has its own formulas."""
    allowed = {
        "formatting.py",
        "rounding.py",
        "numerics/autocorrelation.py",
        "report/svg_chart.py",
        "web/charts/pressure_flow.py",
    }
    found = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        if "log10" in path.read_text("utf-8") and path.relative_to(PACKAGE).parts[0] != "physics"
    }
    assert found <= allowed  # a step of Monte Carlo (JCGM 101, 7.9.2), an order of autoregression, ticks of an axis


@pytest.mark.parametrize("value", [-2.5, 73.0, 1 / 3, 250_000.0])
@pytest.mark.parametrize("half", [0.0, 1e-15, 1e-12, 1e-11])
def test_an_interval_of_rounding_errors_is_not_printed(value, half):
    text = difference_text(
        Estimate(value, half, value - half * abs(value), value + half * abs(value), "kg/m3"), Unit("kg/m³", 1.0)
    )
    assert text.endswith("(interval not known)")
    assert len(text) < 40


@pytest.mark.parametrize("digits", [1, 3, 9, 15])
@pytest.mark.parametrize(
    ("value", "half"), [(2.5, 1e-9), (2.5, 3e-15), (123456.7, 1e-6), (-73.1, 1e-3), (6.7e-15, 2.0)]
)
def test_ends_of_an_interval_keep_their_order(value, half, digits):
    _, interval = value_and_interval_to(value, value - half, value + half, digits)
    begin, end = (float(one.replace("−", "-")) for one in interval.split(" to "))
    assert begin <= value + half
    assert begin <= end
    assert value_and_interval_to(6.7e-15, -2.0, 2.0, 3) == ("0.00", "−2.00 to 2.00")
