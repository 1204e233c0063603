"""Foam samples against worked examples of the published container tests and the tables of foam relations."""

import math
from pathlib import Path

import pytest

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.sample import Weighing, combine, evaluate
from frothline.foam.target_windows import windows_for, with_wanted
from frothline.numerics.scatter import widening
from frothline.trials.plan_file import read_plan, wanted_density

SEASON = Path(__file__).parents[2] / "recordings" / "season"


def litres(value):
    return value * 1e-3


def test_the_annex_worksheet_of_the_fire_foam_test():
    """NFPA 11 annex style worksheet (figures from memory): 1400 mL, net 180 g gives E = 7.78 by the rule that takes water
    at 1 g/mL and air without mass, and 25 % (45 mL) at 2.25 min."""
    minutes = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
    drained = tuple((60 * t, ml * 1e-6) for t, ml in zip(minutes, (10, 20, 30, 40, 50, 60), strict=True))
    sample = evaluate(
        Weighing(litres(1.4), 0.0, 0.180, drained=drained, solution_density=1000.0, gas_density=0.0, depth=0.2)
    )
    assert sample.expansion.value == pytest.approx(7.78, abs=0.005)
    assert sample.drainage.value == pytest.approx(2.25 * 60, abs=1e-6)


@pytest.mark.parametrize(
    ("density", "expansion", "gas"),
    [(32, 32.374, 0.96911), (50, 20.432, 0.95106), (80, 12.653, 0.92097), (100, 10.091, 0.90091)],
)
def test_expansion_and_gas_fraction_of_a_weighed_litre(density, expansion, gas):
    """Volume additivity worked by hand: E = (998.2 - 1.204)/(rho - 1.204), rho the foam's own mass per volume with its
    air. A scale in air shows 1.204 g less of a litre (Archimedes): the empty litre was weighed full of air."""
    shown = (density - 1.204) * 1e-3
    sample = evaluate(Weighing(litres(1.0), 0.1, 0.1 + shown, solution_density=998.2, gas_density=1.204))
    assert sample.density.value == pytest.approx(density - 1.204)  # net mass over volume, as a builder weighs
    assert sample.expansion.value == pytest.approx(expansion, abs=6e-4)
    assert sample.gas_fraction.value == pytest.approx(gas, abs=6e-6)


def test_capture_is_found_again_from_a_made_up_run():
    """60 L/min of air, 4 L/min of solution, three quarters captured: 49 L/min of foam at 82.59 kg/m3 with the gas's own
    mass (arithmetic of the two flows). A 10 L bucket is full in 12.245 s, and weighs 12.04 g less in air."""
    air = Estimate.normal(60e-3 / 60, 0.6e-3 / 60, "m3/s")
    sample = evaluate(
        Weighing(litres(10.0), 0.0, 0.8259 - 0.01204, fill_time=600 / 49, solution_density=998.2, gas_density=1.204),
        air,
    )
    assert sample.output.value * 6e4 == pytest.approx(49.0, rel=1e-6)
    assert sample.solution_rate.value * 6e4 == pytest.approx(4.0, rel=5e-4)
    assert sample.expansion.value == pytest.approx(12.25, rel=5e-4)
    assert sample.capture.value == pytest.approx(0.75, rel=5e-4)  # the table's rounding to four digits


def test_a_bucket_that_weighs_nothing_more_than_empty_holds_air_and_one_of_solution_is_no_foam():
    """Ends of the scale: net 998.2 - 1.204 g/L is solution (E = 1, worked by hand), net nothing is air."""
    with pytest.raises(InputError, match="heavier than its solution"):
        evaluate(Weighing(litres(1.0), 0.0, 0.9971))
    assert evaluate(Weighing(litres(1.0), 0.0, 0.9969)).expansion.value == pytest.approx(1.0, abs=2e-4)


def test_uncertainty_of_density_is_the_root_sum_square_of_its_parts():
    """10 L +- 0.1 L, 500 g net +- 0.6 g twice: relative 0.01 and 0.0017, together 1.0143 % (JCGM 100, eq. 12)."""
    sample = evaluate(Weighing(litres(10.0), 0.3, 0.8))
    by_hand = math.hypot(0.01, math.sqrt(2) * 0.6e-3 / 0.5)
    assert sample.density.standard_uncertainty / sample.density.value == pytest.approx(by_hand, rel=1e-6)


def test_a_quarter_that_has_not_drained_is_not_reached_and_never_carried_on():
    sample = evaluate(Weighing(litres(1.0), 0.0, 0.08, drained=((60, 2e-6), (300, 8e-6))))
    assert math.isnan(sample.drainage.value)
    assert sample.drainage.lower == 300
    assert "not reached" in sample.drainage.assumptions[0]
    assert sample.drained_share.value == pytest.approx(8 / 80.24, rel=1e-4)  # 80 g of 998.2 - 1.204 g/L


def test_a_quarter_between_far_readings_is_no_better_known_than_they_are_apart():
    """Foam that drains by an exponential law with a quarter at 100 s: 10 s and 600 s after it was full there stand 2.8 %
    and 82 % of its 80.2 mL in the glass. The straight line between the two says 176 s; the law has to be inside."""

    def glass(t):
        return 80.24e-6 * (1 - 0.75 ** (t / 100))

    far = evaluate(Weighing(litres(1.0), 0.0, 0.08, drained=tuple((t, glass(t)) for t in (10.0, 600.0))))
    assert far.drainage.value > 170
    assert far.drainage.lower < 100.0 < far.drainage.upper < 600.0
    assert any("between 10 and 600 s" in words for words in far.remarks)
    often = evaluate(Weighing(litres(1.0), 0.0, 0.08, drained=tuple((t, glass(t)) for t in range(20, 320, 20))))
    assert often.drainage.lower < 100.0 < often.drainage.upper
    assert often.drainage.upper - often.drainage.lower < 0.3 * (far.drainage.upper - far.drainage.lower)
    assert not often.remarks


def test_the_share_after_five_minutes_between_far_readings_is_as_wide_as_they_are_apart():
    """By the same law a share of 1 - 0.75^3 = 57.8 % has drained after 300 s, of 2.8 % and 82 % that were read."""
    drained = tuple((t, 80.24e-6 * (1 - 0.75 ** (t / 100))) for t in (10.0, 600.0))
    share = evaluate(Weighing(litres(1.0), 0.0, 0.08, drained=drained)).drained_share
    assert share.lower < 0.578 < share.upper
    assert share.upper - share.lower > 0.4


def test_what_was_filled_in_a_moment_stays_positive_and_is_said_to_be_too_short():
    """A litre in 0.2 s, give or take 0.3 s: what is known of the rate is a factor, and no rate is below nothing."""
    air = Estimate.normal(60e-3 / 60, 0.6e-3 / 60, "m3/s")
    sample = evaluate(Weighing(litres(1.0), 0.0, 0.08, fill_time=0.2), air)
    for figure in (sample.capture, sample.output, sample.solution_rate):
        assert 0.0 < figure.lower < figure.value < figure.upper
        assert figure.upper / figure.value == pytest.approx(figure.value / figure.lower)
    assert any("too short to time" in words for words in sample.remarks)
    assert not evaluate(Weighing(litres(10.0), 0.0, 0.8, fill_time=12.0), air).remarks


def judged(kilograms, wanted=None):
    sample = evaluate(Weighing(litres(10.0), 0.0, kilograms))
    return {v.window.words: v.state for v in with_wanted(sample.verdicts, sample.density, wanted)}


def test_foam_is_judged_by_the_usual_40_to_80_unless_the_builder_wants_another_density():
    """40 to 80 kg/m3: common practice, no source."""
    states = {kg: judged(kg)["usual for foamed concrete"] for kg in (0.35, 0.45, 0.75, 0.80, 0.90)}
    assert states == {0.35: "below", 0.45: "inside", 0.75: "inside", 0.80: "open", 0.90: "above"}
    own = judged(0.9, (85.0, 110.0))
    assert own["your target"] == "inside"
    assert "usual for foamed concrete" not in own
    sample = evaluate(Weighing(litres(10.0), 0.0, 0.85))
    assert all(v.window.provenance for v in sample.verdicts)


def test_the_density_that_a_builder_wants_is_that_of_the_plan():
    plan = read_plan(SEASON / "plan.toml")
    low, high = wanted_density(plan)
    wish = next(one for one in plan.wishes if one.response == "density")
    assert (low, high) == (wish.low, wish.high)
    assert wanted_density(None) is None
    assert windows_for((low, high))[0].words == "your target"


@pytest.mark.parametrize(
    ("weighing", "match"),
    [
        (Weighing(litres(1.0), 0.5, 0.4), "not heavier than empty"),
        (Weighing(litres(1.0), 0.0, 1.2), "heavier than its solution"),
        (Weighing(1.0, 0.0, 0.8), "too light for foam"),
        (Weighing(litres(1.0), 0.0, 0.08, fill_time=0.0), "fill time"),
        (Weighing(math.nan, 0.0, 0.08), "not a number"),
        (Weighing(litres(1.0), math.nan, 0.08), "not a number"),
        (Weighing(litres(1.0), 0.0, math.inf), "not a number"),
        (Weighing(litres(1.0), 0.0, 0.08, fill_time=math.nan), "not a number"),
        (Weighing(litres(1.0), 0.0, 0.08, drained=((60.0, math.nan),)), "not a number"),
        (Weighing(litres(1.0), 0.0, 0.08, drained=((60.0, -5e-6),)), "less than 0"),
        (Weighing(litres(1.0), 0.0, 0.08, drained=((60.0, 5e-6), (60.0, 6e-6))), "rise"),
        (Weighing(litres(10.0), 0.0, 0.7, drained=((60.0, 5e-3),)), "5000 mL drained from foam that holds 702 mL"),
        (Weighing(litres(1.0), 0.0, 0.08, u_mass=-1e-3), "uncertainty"),
        (Weighing(litres(1.0), 0.0, 0.08, gas_density=1204.0), "kg/m3"),
    ],
)
def test_readings_that_cannot_be_are_named(weighing, match):
    with pytest.raises(InputError, match=match):
        evaluate(weighing)


def test_three_samples_that_agree_and_three_that_do_not():
    close = combine([Estimate.normal(v, 0.5, "kg/m3") for v in (79.8, 80.1, 80.4)])
    apart = combine([Estimate.normal(v, 0.5, "kg/m3") for v in (70.0, 80.0, 90.0)])
    assert "agree" in close.words
    assert "changing" in apart.words
    # Student's t for 95 % and 2 degrees of freedom is 4.303 in any table; 20 times what was stated, it is the scatter
    assert apart.mean.upper - 80 == pytest.approx(4.303 * 10 / math.sqrt(3), rel=0.1)


def test_three_samples_that_agree_by_chance_are_known_no_better_than_they_were_weighed():
    lucky = combine([Estimate.normal(80.0, 0.9, "kg/m3")] * 3)
    assert lucky.mean.standard_uncertainty >= 0.9 / math.sqrt(3)


def test_more_samples_of_one_bucket_do_not_measure_the_bucket():
    """JCGM 100:2008, F.1.2.3: an error that all readings have alike stays in their mean. Of a bucket known to 1 % and two
    weighings of 0.6 g at 800 g the mean of n has the relative uncertainty sqrt(0.01^2 + 2 (0.6/800)^2/n); of buckets of
    three volumes each 1 % is another's."""
    one = [evaluate(Weighing(litres(10.0), 0.0, 0.8)) for _ in range(50)]
    three = [evaluate(Weighing(litres(v), 0.0, v * 0.08)) for v in (9.0, 10.0, 11.0)]
    many = combine([s.density for s in one], [s.shared["density"] for s in one]).mean
    by_hand = math.hypot(0.01, math.sqrt(2) * 0.6e-3 / 0.8 / math.sqrt(50))
    assert many.standard_uncertainty / many.value == pytest.approx(by_hand, rel=1e-3)
    other = combine([s.density for s in three], [s.shared["density"] for s in three]).mean
    assert other.standard_uncertainty / other.value == pytest.approx(0.01 / math.sqrt(3) * widening(0.0, 2), rel=0.01)


def test_an_anemometer_that_all_samples_share_is_no_better_known_after_many():
    """The share of the air is inversely as the air: 5 % of it stay 5 % (JCGM 100:2008, F.1.2.3)."""
    air = Estimate.normal(60e-3 / 60, 3e-3 / 60, "m3/s")
    weighing = Weighing(litres(10.0), 0.0, 0.8, fill_time=12.0, u_container_volume=0.0)
    taken = [evaluate(weighing, air)] * 100
    mean = combine([s.capture for s in taken], [s.shared["capture"] for s in taken]).mean
    assert mean.standard_uncertainty / mean.value == pytest.approx(math.hypot(0.05, 0.3 / 12 / 10), rel=0.01)


def test_an_empty_container_in_kilograms_is_asked_back_and_a_zeroed_scale_is_not():
    """0.184 typed where grams are meant: the foam would weigh 165 kg/m³ in place of 73.5."""
    with pytest.raises(InputError, match=r"sample: empty: no container weighs 0\.184 g. Check the unit; give 0 g"):
        evaluate(Weighing(2e-3, 0.184e-3, 0.331))
    assert evaluate(Weighing(2e-3, 0.0, 0.147)).density.value == pytest.approx(
        evaluate(Weighing(2e-3, 0.184, 0.331)).density.value
    )
    with pytest.raises(InputError, match=r"147 g in 2000 L, 0\.0735 kg/m3, is too light for foam"):
        evaluate(Weighing(2.0, 0.184, 0.331))
