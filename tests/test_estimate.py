"""An estimate is a value inside its own interval, or an unknown value with its reason; and what may be done with it."""

import builtins
import copy
import doctest
import gc
import math
import pickle
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from frothline import estimate, units
from frothline.errors import (
    CorrelationUnknown,
    FrothlineError,
    InputError,
    InvalidEstimate,
    MissingPackage,
    UnitMismatch,
)
from frothline.estimate import _VARIABLES, Z95, Estimate
from frothline.formatting import full_text
from frothline.interval_sum import coverage_factor
from frothline.units import METRIC, SYSTEMS, Unit

nan, inf = math.nan, math.inf


@pytest.mark.parametrize(
    ("lower", "upper"), [(2.0, 3.0), (-1.0, 0.5), (-7.89e3, 0.5), (nan, 2.0), (0.0, nan), (nan, nan)]
)
def test_a_value_outside_its_interval_or_without_one_does_not_exist(lower, upper):
    with pytest.raises(InvalidEstimate) as refused:
        Estimate(1.0, 0.1, lower, upper, "kPa")
    assert isinstance(refused.value, FrothlineError)
    assert "1 kPa is not inside its interval" in refused.value.what
    assert "nan" not in str(refused.value)
    assert refused.value.remedy


@pytest.mark.parametrize(
    ("value", "lower", "upper"),
    [
        (1.0, 0.5, 2.0),
        (1.0, 1.0, 1.0),
        (1.0, 1.0, 2.0),
        (1.0, 0.0, inf),
        (inf, 3.0, inf),
        (nan, nan, nan),
        (nan, 2.0, inf),
    ],
)
def test_a_value_inside_its_interval_or_an_unknown_one_exists(value, lower, upper):
    Estimate(value, 0.1, lower, upper, "kPa")


def test_a_changed_copy_is_examined_too():
    with pytest.raises(InvalidEstimate):
        replace(Estimate.normal(1.0, 0.1, "m"), value=5.0)


# --- text ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spec", "text"),
    [
        ("", "12.3 L/s (11.9 to 12.9, 95 %)"),  # half an interval of 0.485 keeps one digit: Particle Data Group's rule
        (".3", "12.3 L/s (11.9 to 12.9, 95 %)"),
        (".3g", "12.3 L/s (11.9 to 12.9, 95 %)"),
        (".2", "12 L/s (11 to 13, 95 %)"),  # the ends are rounded outwards
        (".1", "10 L/s (10 to 20, 95 %)"),
        (".5", "12.345 L/s (11.900 to 12.870, 95 %)"),
    ],
)
def test_a_format_gives_significant_digits_and_none_what_the_interval_supports(spec, text):
    flow = Estimate(12.345, 0.25, 11.9, 12.87, "L/s")
    assert format(flow, spec) == text


def test_a_width_before_the_digits_sets_the_text_in_a_column():
    flow = Estimate(12.345, 0.25, 11.9, 12.87, "L/s")
    assert f"{flow:>40.3}" == f"{flow:.3}".rjust(40)
    assert f"{flow:.<40}" == str(flow).ljust(40, ".")


def test_a_rounded_value_that_gains_a_digit_keeps_its_significant_digits():
    assert f"{Estimate(9.996, 0.1, 9.8, 10.19, 'Pa'):.3}".startswith("10.0 Pa")
    assert f"{Estimate(99_960.0, 10.0, 99_900.0, 100_020.0, 'Pa'):.3}" == "100000 Pa (99000 to 101000, 95 %)"


@pytest.mark.parametrize(
    ("estimate", "spec", "text"),
    [
        (Estimate(0.0, 0.1, 0.0, 0.0234, "m"), ".2", "0.000 m (0.000 to 0.024, 95 %)"),
        (Estimate(3.0, nan, 2.0, inf, "s"), ".2", "3.0 s (2.0 or more, 95 %)"),
        (Estimate(3.0, nan, -inf, 4.0, "s"), ".2", "3.0 s (4.0 or less, 95 %)"),
        (Estimate(3.0, nan, -inf, inf, "s"), ".2", "3.0 s (interval not known)"),
        (Estimate(3.0, 0.0, 3.0, 3.0, "s"), "", "3 s (interval not known)"),
        (Estimate(nan, nan, nan, nan, "s", assumptions=("no foam yet",)), ".3", "– s (no foam yet)"),
        (Estimate(nan, nan, nan, nan, "1"), "", "– (not known)"),
        (Estimate.normal(-1.0, 0.1, "K"), "", "−1.00 K (−1.20 to −0.80, 95 %)"),
        (Estimate.normal(11.0, 0.5, "1"), "", "11.0 (10.0 to 12.0, 95 %)"),
        (Estimate(11.0, 0.5, 10.2, 11.8, "1", 0.9), "", "11.0 (10.2 to 11.8, 90 %)"),
    ],
)
def test_zero_open_exact_and_unknown_figures_have_a_text(estimate, spec, text):
    assert format(estimate, spec) == text


@pytest.mark.parametrize("spec", [".3f", "d", ".", ".0", "x", ".3e", "+.3"])
def test_a_format_that_does_not_exist_is_refused_in_three_parts(spec):
    with pytest.raises(InputError) as refused:
        format(Estimate.normal(1.0, 0.1, "m"), spec)
    assert spec in refused.value.what
    assert refused.value.where
    assert ".3" in refused.value.remedy


def test_an_estimate_in_a_notebook_reads_as_at_page_and_prompt():
    flow = Estimate(12.345e-3, 0.25e-3, 11.9e-3, 12.9e-3, "m³/s")
    assert str(flow.to("L/s")) == full_text(flow, METRIC["flow"])


def test_the_repr_is_one_short_line_and_the_rich_one_is_escaped():
    hostile = Estimate.normal(1.0, 0.1, "<i>m", extrapolated=True, assumptions=("<script>alert(1)</script>",))
    assert repr(hostile) == "<Estimate 1.00 <i>m (0.80 to 1.20, 95 %)>"
    html = hostile._repr_html_()
    assert "<script" not in html
    assert "<i>" not in html
    assert "&lt;script&gt;" in html
    assert "outside what was measured" in html


# --- units --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "unit", "there", "expected"),
    [
        # NIST Special Publication 811 (2008), appendix B.8
        (249.0889, "Pa", "inH2O", 1.0),
        (6894.757, "Pa", "psi", 1.0),
        (4.719474e-4, "m³/s", "cfm", 1.0),
        (4.719474e-4, "m3/s", "ft3/min", 1.0),
        (3386.389, "Pa", "inHg", 1.0),
        (100.0, "Pa", "mbar", 1.0),
        (9.80665, "Pa", "mmH2O", 1.0),
        (16.01846, "kg/m3", "lb/ft3", 1.0),
        (0.45359237, "kg", "lb", 1.0),
        (0.02834952, "kg", "oz", 1.0),
        (3.785412e-3, "m³", "gal", 1.0),
        (0.3048, "m", "ft", 1.0),
        (273.15, "K", "°C", 0.0),
        (273.15, "K", "degF", 32.0),
        (3600.0, "s", "h", 1.0),
        (1.0, "m3/s", "L/min", 6e4),
        (1.0, "m3/s", "m3/h", 3600.0),
        (0.5, "1", "%", 50.0),
    ],
)
def test_a_value_converts_as_the_published_factors_do(value, unit, there, expected):
    found = Estimate.normal(value, 0.01 * value, unit).to(there)
    assert found.value == pytest.approx(expected, rel=1e-6, abs=1e-9)
    back = found.to(unit)
    assert (back.value, back.lower, back.upper, back.standard_uncertainty) == pytest.approx(
        (value, value * (1 - 0.01 * Z95), value * (1 + 0.01 * Z95), 0.01 * value), rel=1e-12
    )


def test_a_temperature_shifts_with_its_interval_and_a_difference_does_not():
    room = Estimate.normal(293.15, 0.5, "K").to("°F")
    assert room.value == pytest.approx(68.0)
    assert room.standard_uncertainty == pytest.approx(0.9)
    assert room.upper - room.value == pytest.approx(1.8 * 0.5 * Z95)
    assert Estimate.normal(10.0, 0.5, "K").to("degF", difference=True).value == pytest.approx(18.0)
    assert Estimate.normal(50.0, 0.9, "°F").to("K").value == pytest.approx(283.15)


@pytest.mark.parametrize(
    ("unit", "there"), [("Pa", "L/s"), ("Pa", "furlong"), ("Pa (s/m³)ⁿ", "Pa"), ("", "Pa"), ("m", "")]
)
def test_a_unit_of_another_quantity_is_refused_with_those_that_fit(unit, there):
    with pytest.raises(UnitMismatch) as refused:
        Estimate.normal(1.0, 0.1, unit).to(there)
    assert isinstance(refused.value, InputError)
    assert there in refused.value.what
    assert refused.value.where == "Estimate.to"
    assert ("inH₂O" in refused.value.remedy) == (unit == "Pa")


def test_every_unit_that_a_reader_sees_is_found_by_its_symbol_and_no_symbol_means_two_things():
    for table in SYSTEMS.values():
        for quantity, si in units.SI.items():
            found = units.find_unit(table[quantity].symbol)
            assert found.si == si
            assert found.unit.factor == pytest.approx(table[quantity].factor)
    for table in units.MORE.values():
        for si, more in table.items():
            for unit in more:
                assert units.find_unit(unit.symbol) == units.NamedUnit(unit, si)
    assert set(units.SI) == set(METRIC) - {"count"}


def test_a_factor_of_each_further_unit_takes_it_to_one_si_unit():
    """Of the definitions in NIST SP 811, section 4 and 5, by hand."""
    one = {"mbar": 100.0, "mmH₂O": 9.80665, "m³/h": 1 / 3600, "L/h": 1e-3 / 3600, "mL": 1e-6, "kg/min": 1 / 60}
    one |= {"kg/h": 1 / 3600, "g": 1e-3, "oz": 0.028349523125, "kW": 1e3, "g/L": 1.0, "cm": 0.01, "ft": 0.3048}
    one |= {"mV": 1e-3, "ms": 1e-3, "min": 60.0, "h": 3600.0, "mL/min": 1e-6 / 60, "cm³": 1e-6, "kg/L": 1e3}
    one |= {"g/cm³": 1e3, "kN": 1e3, "kgf": 9.80665}
    assert {u.symbol for more in units.MORE["metric"].values() for u in more} == set(one) - {"oz", "ft"}
    for symbol, si in one.items():
        assert units.find_unit(symbol).unit.to_si(1.0) == pytest.approx(si, rel=1e-12)


# --- one estimate and a number --------------------------------------------------------------------------------------


def test_an_exact_factor_scales_everything_and_a_negative_one_turns_the_interval():
    """JCGM 100:2008, 5.1.3: u(y) is the sensitivity's size times u(x)."""
    skewed = Estimate(10.0, 2.0, 8.0, 15.0, "Pa", extrapolated=True, assumptions=("a",))
    assert skewed.scaled(3.0) == Estimate(30.0, 6.0, 24.0, 45.0, "Pa", extrapolated=True, assumptions=("a",))
    assert skewed.scaled(-3.0) == Estimate(-30.0, 6.0, -45.0, -24.0, "Pa", extrapolated=True, assumptions=("a",))
    assert -skewed == skewed.scaled(-1.0)
    assert 2 * skewed == skewed * 2 == skewed.scaled(2.0)
    assert skewed / 4 == skewed.scaled(0.25)
    assert skewed / -4 == skewed.scaled(-0.25)


def test_a_quotient_is_that_of_each_figure_and_not_a_product_with_a_rounded_reciprocal():
    assert (Estimate.normal(49.0, 0.1, "m") / 49).value == 1.0 != 49.0 * (1 / 49)


def test_an_exact_offset_shifts_the_interval_and_leaves_the_uncertainty():
    skewed = Estimate(10.0, 2.0, 8.0, 15.0, "Pa")
    assert skewed.shifted(-3.0) == Estimate(7.0, 2.0, 5.0, 12.0, "Pa")
    assert skewed - 3 == -3 + skewed == skewed.shifted(-3.0)
    assert 20 - skewed == Estimate(10.0, 2.0, 5.0, 12.0, "Pa")


def test_open_and_unknown_figures_scale_too():
    assert Estimate(3.0, 1.0, 2.0, inf, "s").scaled(-2.0) == Estimate(-6.0, 2.0, -inf, -4.0, "s")
    assert Estimate(3.0, 1.0, 2.0, inf, "s").scaled(0.0) == Estimate(0.0, 0.0, 0.0, 0.0, "s")
    unknown = Estimate(nan, nan, 2.0, inf, "s", assumptions=("why",)).scaled(2.0)
    assert math.isnan(unknown.value)
    assert (unknown.lower, unknown.upper, unknown.assumptions) == (4.0, inf, ("why",))


def test_numbers_of_numpy_count_as_numbers_and_its_arrays_do_not():
    flow = Estimate.normal(2.0, 0.1, "m³/s")
    assert np.float64(3.0) * flow == flow * np.float32(3.0) == flow.scaled(3.0)
    assert np.int64(1) + flow == flow.shifted(1.0)
    for wrong in (np.array([1.0, 2.0]), "2", None, 2j):
        with pytest.raises(TypeError):
            flow * wrong
        with pytest.raises(TypeError):
            wrong * flow
    with pytest.raises(TypeError):
        1 / flow


def test_division_by_nothing_is_refused():
    with pytest.raises(InputError, match="divided by 0"):
        Estimate.normal(1.0, 0.1, "m") / 0


# --- two estimates --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "combine",
    [lambda a, b: a + b, lambda a, b: a - b, lambda a, b: a * b, lambda a, b: a / b, lambda a, b: sum([a, b])],
)
def test_two_estimates_are_not_combined_without_their_correlation(combine):
    with pytest.raises(CorrelationUnknown) as refused:
        combine(Estimate.normal(1.0, 0.1, "m"), Estimate.normal(2.0, 0.1, "m"))
    assert "correlation is unknown" in refused.value.what
    assert "a.plus(b, correlation=0.0)" in refused.value.remedy


def test_the_correlation_of_a_sum_must_be_stated():
    with pytest.raises(TypeError):
        Estimate.normal(1.0, 0.1, "m").plus(Estimate.normal(2.0, 0.1, "m"))


def test_ten_resistors_in_series_are_as_uncertain_as_the_guide_says():
    """JCGM 100:2008, 5.2.2, example: ten 1000 ohm resistors compared with one standard, u = 100 mohm each: 1 ohm of
    10 kohm as they are fully correlated, and 0.32 ohm if they were not.
    """
    resistor = Estimate.normal(1000.0, 0.1, "ohm")
    together = apart = resistor
    for _ in range(9):
        together = together.plus(resistor, correlation=1.0)
        apart = apart.plus(resistor, correlation=0.0)
    assert together.value == apart.value == 10_000.0
    assert together.standard_uncertainty == pytest.approx(1.0)
    assert apart.standard_uncertainty == pytest.approx(0.32, abs=0.005)
    assert together.upper - together.value == pytest.approx(Z95 * 1.0)
    assert apart.value - apart.lower == pytest.approx(Z95 * math.sqrt(10) * 0.1)


@pytest.mark.parametrize(("correlation", "u"), [(0.0, 5.0), (1.0, 7.0), (-1.0, 1.0), (0.5, math.sqrt(37.0))])
def test_uncertainties_of_3_and_4_add_by_the_law_of_propagation(correlation, u):
    """JCGM 100:2008, equation 16, by hand: 9 + 16 + 2 r 12."""
    added = Estimate.normal(1.0, 3.0, "Pa").plus(Estimate.normal(2.0, 4.0, "Pa"), correlation=correlation)
    assert (added.value, added.standard_uncertainty) == (3.0, pytest.approx(u))
    assert (added.lower, added.upper) == (pytest.approx(3.0 - Z95 * u), pytest.approx(3.0 + Z95 * u))
    less = Estimate.normal(1.0, 3.0, "Pa").minus(Estimate.normal(2.0, 4.0, "Pa"), correlation=-correlation)
    assert (less.value, less.standard_uncertainty) == (-1.0, pytest.approx(u))


def test_a_value_less_itself_is_exactly_zero():
    for one in (Estimate.normal(5.0, 0.3, "Pa"), Estimate.positive(5.0, 0.4, "Pa")):
        nothing = one.minus(one, correlation=1.0)
        assert (nothing.value, nothing.standard_uncertainty) == (0.0, 0.0)
        assert max(abs(nothing.lower), abs(nothing.upper)) < 1e-9


def _drawn(a, b, correlation, count=1_000_000):
    """Quantiles of the sum of two lognormal quantities by random draws: JCGM 101:2008, clause 7."""
    random = np.random.default_rng(20)
    first = random.standard_normal(count)
    second = correlation * first + math.sqrt(1.0 - correlation**2) * random.standard_normal(count)
    total = a[0] * np.exp(a[1] * first) + b[0] * np.exp(b[1] * second)
    return np.quantile(total, [0.025, 0.975])


@pytest.mark.parametrize("correlation", [0.0, 0.6, -0.6, 0.999, -0.9995, 1.0, -1.0])
@pytest.mark.parametrize(("a", "b"), [((1.0, 0.5), (1.0, 0.5)), ((3.0, 0.2), (1.0, 0.8)), ((1.0, 0.3), (2.0, 0.05))])
def test_asymmetric_intervals_add_as_random_draws_of_the_two_do(a, b, correlation):
    total = Estimate.positive(*a, "kg").plus(Estimate.positive(*b, "kg"), correlation=correlation)
    assert (total.lower, total.upper) == pytest.approx(tuple(_drawn(a, b, correlation)), rel=6e-3)
    assert total.value == a[0] + b[0]


def test_a_very_skewed_interval_adds_as_the_lognormal_quantity_it_is_of():
    """One side is 19 times the other."""
    total = Estimate.positive(1.0, 1.5, "kg").plus(Estimate.normal(5.0, 1.0, "kg"), correlation=0.0)
    random = np.random.default_rng(23).standard_normal((2, 1_000_000))
    drawn = np.quantile(np.exp(1.5 * random[0]) + 5.0 + random[1], [0.025, 0.975])
    assert (total.lower, total.upper) == pytest.approx(tuple(drawn), rel=6e-3)


def test_where_one_side_is_a_hundred_times_the_other_each_is_half_of_a_normal_quantity():
    total = Estimate(1.0, 0.5, 0.99, 2.0, "kg").plus(Estimate.normal(5.0, 0.1, "kg"), correlation=0.0)
    z, y = np.random.default_rng(24).standard_normal((2, 1_000_000))
    drawn = np.quantile(6.0 + np.where(z < 0.0, 0.01, 1.0) / Z95 * z + 0.1 * y, [0.025, 0.975])
    assert (total.lower, total.upper) == pytest.approx(tuple(drawn), abs=5e-3)


@pytest.mark.parametrize(("u_log", "count"), [(0.3, 10), (0.6, 5), (1.0, 3)])
def test_the_interval_of_a_sum_of_several_skewed_values_holds_its_level(u_log, count):
    """The sum of a sum is taken as lognormal again, which is not exact: the interval may be too wide, never too narrow."""
    one = Estimate.positive(1.0, u_log, "kg")
    total = one
    for _ in range(count - 1):
        total = total.plus(one, correlation=0.0)
    drawn = np.exp(u_log * np.random.default_rng(25).standard_normal((count, 300_000))).sum(axis=0)
    held = np.mean((drawn >= total.lower) & (drawn <= total.upper))
    assert 0.949 <= held <= 0.97


halves = st.floats(0.0, 1e6) | st.just(inf)


@settings(deadline=None, max_examples=60)
@example(1.0, 1.0, 1.0, 14.0, 0.0)
@example(1.0, 1.0, 3922.0, 0.0, 0.0)
@example(inf, 0.25, 1.0, 0.0, 0.75)
@example(0.0, 1.0, 1.0, 0.0, 0.0)
@given(halves, halves, halves, halves, st.floats(-1.0, 1.0))
def test_a_sum_has_its_value_inside_its_interval_whatever_is_added_and_in_either_order(a, b, c, d, correlation):
    one, other = Estimate(3.0, 1.0, 3.0 - a, 3.0 + b, "m"), Estimate(-5.0, 2.0, -5.0 - c, -5.0 + d, "m")
    total, turned = one.plus(other, correlation=correlation), other.plus(one, correlation=correlation)
    assert total.lower <= -2.0 <= total.upper
    assert (total.lower, total.upper) == pytest.approx((turned.lower, turned.upper))
    if correlation >= 0.0:  # values that vary together reach no further than both ends together
        assert total.lower >= -2.0 - (a + c) * 1.02 - 1e-9
        assert total.upper <= -2.0 + (b + d) * 1.02 + 1e-9


def test_the_interval_of_a_difference_of_skewed_values_is_turned_before_it_is_added():
    one, other = Estimate.positive(5.0, 0.4, "Pa"), Estimate.positive(2.0, 0.6, "Pa")
    random = np.random.default_rng(21).standard_normal((2, 1_000_000))
    drawn = np.quantile(5.0 * np.exp(0.4 * random[0]) - 2.0 * np.exp(0.6 * random[1]), [0.025, 0.975])
    less = one.minus(other, correlation=0.0)
    assert (less.lower, less.upper) == pytest.approx(tuple(drawn), abs=0.03)


def test_an_open_end_stays_open_and_an_exact_value_only_shifts():
    open_above = Estimate(3.0, 1.0, 2.0, inf, "s")
    total = open_above.plus(Estimate.normal(1.0, 0.5, "s"), correlation=0.0)
    assert total.upper == inf
    assert total.lower == pytest.approx(4.0 - math.hypot(1.0, 0.5 * Z95))
    exact = Estimate(2.0, 0.0, 2.0, 2.0, "s")
    assert open_above.plus(exact, correlation=0.3) == open_above.shifted(2.0)
    both = open_above.plus(-open_above, correlation=0.0)
    assert (both.lower, both.upper) == (-inf, inf)


def test_a_value_at_the_end_of_its_interval_adds_without_leaving_it():
    """A half-normal quantity, and one that is all but exact."""
    one_sided = Estimate(1.0, 0.02, 0.95, 1.0, "1")
    total = one_sided.plus(Estimate.normal(1.0, 0.01, "1"), correlation=0.0)
    random = np.random.default_rng(22).standard_normal((2, 1_000_000))
    drawn = np.quantile(2.0 - 0.05 / Z95 * np.maximum(-random[0], 0.0) + 0.01 * random[1], [0.025, 0.975])
    assert (total.lower, total.upper) == pytest.approx(tuple(drawn), abs=2e-4)


def test_an_unknown_value_stays_unknown_and_keeps_every_reason():
    unknown = Estimate(nan, nan, nan, nan, "m", assumptions=("no scale",))
    total = Estimate.normal(1.0, 0.1, "m", extrapolated=True, assumptions=("by hand", "no scale")).plus(
        unknown, correlation=0.0
    )
    assert not total.known
    assert total.assumptions == ("by hand", "no scale")
    assert total.extrapolated


@pytest.mark.parametrize("correlation", [1.1, -1.01, nan, inf])
def test_a_correlation_outside_minus_1_to_1_is_refused(correlation):
    with pytest.raises(InputError, match="not between -1 and 1"):
        Estimate.normal(1.0, 0.1, "m").plus(Estimate.normal(1.0, 0.1, "m"), correlation=correlation)


def test_values_in_different_units_or_of_different_levels_are_not_added():
    one = Estimate.normal(1.0, 0.1, "m³/s")
    assert one.plus(Estimate.normal(1.0, 0.1, "m3/s"), correlation=0.0).unit == "m³/s"  # one unit, spelt in two ways
    with pytest.raises(UnitMismatch) as refused:
        one.plus(Estimate.normal(1.0, 0.1, "L/s"), correlation=0.0)
    assert 'other.to("m³/s")' in refused.value.remedy
    with pytest.raises(InputError, match=r"levels 0\.95 and 0\.9"):
        one.plus(Estimate(1.0, 0.1, 0.8, 1.2, "m³/s", 0.9), correlation=0.0)


def test_the_coverage_factor_is_that_of_the_normal_table():
    """JCGM 100:2008, table G.1: 1.645, 1.960 and 2.576 for 90, 95 and 99 %."""
    assert [coverage_factor(p) for p in (0.9, 0.95, 0.99)] == pytest.approx([1.645, 1.960, 2.576], abs=5e-4)


# --- the package uncertainties ----------------------------------------------------------------------------------------


def test_sums_and_multiples_agree_with_the_package_uncertainties():
    uncertainties = pytest.importorskip("uncertainties")
    values, covariance = (10.0, 4.0), [[0.09, 0.06], [0.06, 0.16]]
    x, y = uncertainties.correlated_values(values, covariance)
    a, b = Estimate.from_uncertainties(x, "Pa"), Estimate.from_uncertainties(y, "Pa")
    total, theirs = a.scaled(2.0).plus(b, correlation=0.5), 2 * x + y
    assert total.value == pytest.approx(theirs.nominal_value)
    assert total.standard_uncertainty == pytest.approx(theirs.std_dev)
    difference = a.minus(b, correlation=0.5)
    assert difference.standard_uncertainty == pytest.approx((x - y).std_dev)


def test_correlation_is_kept_on_the_way_there_and_back():
    pytest.importorskip("uncertainties")
    flow, other = Estimate.normal(10.0, 0.5, "L/s"), Estimate.normal(10.0, 0.5, "L/s")
    x = flow.to_uncertainties()
    assert (x - flow.to_uncertainties()).std_dev == 0.0
    assert (x - other.to_uncertainties()).std_dev == pytest.approx(math.sqrt(0.5))  # equal figures, two measurements
    doubled = Estimate.from_uncertainties(2 * x + 1, "L/s")
    assert (doubled.value, doubled.standard_uncertainty) == (21.0, pytest.approx(1.0))
    assert (doubled.to_uncertainties() - 2 * x).std_dev == 0.0


def test_the_link_to_a_variable_changes_no_copy_pickle_or_equality_and_ends_with_the_estimate():
    pytest.importorskip("uncertainties")
    gc.collect()
    before = len(_VARIABLES)
    flow = Estimate.normal(10.0, 0.5, "L/s")
    plain = pickle.dumps(flow)
    variable = flow.to_uncertainties()
    assert pickle.dumps(flow) == plain
    assert pickle.loads(plain) == copy.copy(flow) == flow == Estimate.normal(10.0, 0.5, "L/s")
    assert vars(flow).keys() == flow.as_dict().keys()
    assert (copy.copy(flow).to_uncertainties() - variable).std_dev > 0.0
    del flow
    gc.collect()
    assert len(_VARIABLES) == before


def test_an_exact_value_crosses_and_an_unknown_one_is_refused():
    pytest.importorskip("uncertainties")
    assert Estimate(2.0, 0.0, 2.0, 2.0, "m").to_uncertainties().nominal_value == 2.0
    for wrong in (Estimate(nan, nan, nan, nan, "m"), Estimate.normal(1.0, nan, "m")):
        with pytest.raises(InputError, match="no known"):
            wrong.to_uncertainties()


def test_without_the_package_the_error_names_it(monkeypatch):
    real = builtins.__import__

    def without(name, *more, **others):
        if name == "uncertainties":
            raise ModuleNotFoundError(name)
        return real(name, *more, **others)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(MissingPackage) as refused:
        Estimate.normal(1.0, 0.1, "m").to_uncertainties()
    assert "pip install uncertainties" in refused.value.remedy


@pytest.mark.parametrize("module", [estimate, units])
def test_the_examples_in_the_docstrings_give_what_they_say(module):
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0


def test_no_other_module_multiplies_an_interval_by_hand():
    """One way to scale: Estimate.scaled and division. The list is of files that may name all four figures in a product."""
    from pathlib import Path

    package = Path(__file__).parents[1] / "host" / "frothline"
    products = ("upper * ", "lower * ", "upper / ", "lower / ", "upper=estimate.upper")
    found = {
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        if sum(f"estimate.{word}" in path.read_text("utf-8") for word in products) >= 2
    }
    assert found == set()


def test_a_display_unit_is_not_needed_to_show_an_estimate_in_si():
    assert full_text(Estimate.normal(2.0, 0.1, "K"), Unit("K", 1.0)) == str(Estimate.normal(2.0, 0.1, "K"))
