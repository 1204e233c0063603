"""The drainage curve against published curves and models of other form."""

import math
from pathlib import Path

import numpy as np
import pytest
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.errors import InputError
from frothline.foam.drainage_curve import fit_drainage
from frothline.foam.sample import Weighing, evaluate
from frothline.physics.foam import drainage_time
from frothline.trials.notebook import open_notebook

ML = 1e-6


def kinematic(t, t_star, power):
    """Drained share of free drainage by kinematic waves from even foam (from Koehler, Hilgenfeldt and Stone, Langmuir 16,
    2000, from memory; worked from their flux law): a constant rate until 1/2 (channel, 2) or 2/3 (node, 3/2) has drained
    at t*, then 1 - (1/2)(t*/t), or 1 - (1/3)(t*/t)².
    """
    if power == 2:
        return np.where(t < t_star, 0.5 * t / t_star, 1 - 0.5 * t_star / t)
    return np.where(t < t_star, 2 / 3 * t / t_star, 1 - (t_star / t) ** 2 / 3)


def test_the_prompt_gives_the_rate_in_the_reader_s_unit(capsys):
    """190 mm over a quarter time t are 190 * 3600 / t mm/h, and 1/25.4 of that in in/h."""
    readings = ["60s=4mL", "120s=9mL", "240s=22mL", "480s=48mL", "--solution", "147 g", "--depth", "190 mm"]
    for units, symbol in (("metric", "mm/h"), ("inch-pound", "in/h")):
        assert cli.main(["drainage", *readings, "--units", units]) == 0
        assert symbol in capsys.readouterr().out


def test_no_time_is_before_a_reading_that_had_drained_less():
    """25 mL of 147 mL after 300 s are 17 %: neither 25 % nor 50 % can have drained by then."""
    found = fit_drainage([(60.0, 4 * ML), (120.0, 9 * ML), (300.0, 25 * ML)], solution=147 * ML)
    assert found.quarter.lower >= 300.0
    assert found.half.lower >= 300.0
    ended = fit_drainage([(60.0, 4 * ML), (120.0, 4.5 * ML), (300.0, 5 * ML)], solution=147 * ML)
    if not ended.quarter.known:
        assert not any("25 %" in words for words in ended.words)


def test_the_published_sigmoid_is_found_again():
    """V = 20, n = 1.5, c = 3000 s^1.5: half time 3000^(2/3) = 208.0 s, of the paper on overrun and drainage of foam."""
    t = np.array([60.0, 120, 240, 480, 960])
    v = 20 * t**1.5 / (3000 + t**1.5) * ML
    one = fit_drainage(list(zip(t, v, strict=True)), u_volume=0.1 * ML)
    assert one.half_time == pytest.approx(208.0, rel=1e-3)
    assert one.steepness == pytest.approx(1.5, rel=1e-3)
    assert one.final == pytest.approx(20 * ML, rel=1e-3)
    assert one.half.value == pytest.approx(208.0, rel=1e-3)
    assert one.residual < 1e-9


@pytest.mark.parametrize(
    ("times", "least"),
    [
        ([60, 120, 204, 212, 480, 960], 0.03),  # next to a reading
        ([60, 120, 520, 700, 960], 0.03 + 0.19 * math.log(208 / 120)),  # between two
        ([20, 40, 60, 80, 104], 0.03 + 0.34 * math.log(2.0)),  # after the last one
    ],
)
def test_no_foam_drains_exactly_like_the_curve(times, least):
    """The judgement of the module: exact readings of the curve itself still leave this much of the half time open."""
    t = np.array(times, float)
    v = 20 * t**1.5 / (3000 + t**1.5) * ML
    half = fit_drainage(list(zip(t, v, strict=True)), solution=20 * ML, u_volume=0.001 * ML).half
    assert half.standard_uncertainty / half.value >= least
    assert half.lower < 208 < half.upper


def test_the_worked_example_of_the_fire_services():
    """NFPA 11, annex (from memory): 180 g of foam, 10 mL each half minute; 25 % are 45 mL, reached after 2.25 min."""
    t = np.arange(1, 7) * 30.0
    one = fit_drainage([(a, a / 30 * 10 * ML) for a in t], solution=180 * ML, depth=0.2)
    assert one.quarter.lower < 135 < one.quarter.upper
    assert one.quarter.value == pytest.approx(135, rel=0.04)
    assert not one.quarter.extrapolated
    assert one.half.extrapolated
    assert one.rate.value == pytest.approx(0.2 / one.quarter.value)
    by_readings = drainage_time(list(t), [a / 30 * 10 * ML for a in t], 180 * ML)
    assert by_readings.time == pytest.approx(135)


def test_a_stable_foam_is_extrapolated_and_says_so():
    """12 % after 300 s at a constant rate is 25 % after 625 s: the criterion for concrete foam in plain words."""
    t = np.arange(1, 6) * 60.0
    one = fit_drainage([(a, 0.12 * a / 300 * 100 * ML) for a in t], solution=100 * ML)
    assert one.quarter.extrapolated
    assert one.quarter.lower < 625 < one.quarter.upper
    assert any("25 % time is after the last reading" in said for said in one.words)


@pytest.mark.parametrize("power", [2, 1.5])
@pytest.mark.parametrize("last", [0.6, 1.2, 3.0])
def test_curves_of_the_network_models_lie_within_the_intervals(power, last):
    """Channel and node drainage are not sigmoids; seven readings, of a fine glass. Up to 0.6 t* half is extrapolated."""
    t_star = 400.0
    start = 0.25 * t_star * (2 if power == 2 else 1.5)
    half = t_star if power == 2 else 0.75 * t_star
    held = 0
    for seed in range(6):
        rng = np.random.default_rng(seed)
        t = np.linspace(0.15, last, 7) * t_star
        v = np.maximum.accumulate(200 * ML * kinematic(t, t_star, power) + rng.normal(0, 0.2 * ML, 7)).clip(0)
        one = fit_drainage(list(zip(t, v, strict=True)), solution=200 * ML, u_volume=0.2 * ML)
        assert one.half.extrapolated == (half > t[-1])
        held += (one.quarter.lower < start < one.quarter.upper) + (one.half.lower < half < one.half.upper)
    assert held >= 11


@pytest.mark.parametrize("power", [2, 1.5])
@pytest.mark.parametrize("ends", [(0.2, 0.6), (0.1, 1.6), (0.3, 1.1)])
def test_three_exact_readings_do_not_make_a_curve_exact(power, ends):
    """The curve passes through three readings whatever the foam does between and after them."""
    t_star = 400.0
    t = np.linspace(*ends, 3) * t_star
    one = fit_drainage(
        list(zip(t, 200 * ML * kinematic(t, t_star, power), strict=True)), solution=200 * ML, u_volume=0.1 * ML
    )
    start, half = (0.5 * t_star, t_star) if power == 2 else (0.375 * t_star, 0.75 * t_star)
    assert one.quarter.lower < start < one.quarter.upper
    assert one.half.lower < half < one.half.upper


def test_three_readings_are_enough_and_more_are_narrower():
    t = np.linspace(60, 600, 10)
    v = 100 * ML / (1 + (300 / t) ** 1.5)
    few = fit_drainage([(t[k], v[k]) for k in (1, 4, 9)], solution=110 * ML)
    many = fit_drainage(list(zip(t, v, strict=True)), solution=110 * ML)
    assert few.half.lower < many.half.value < few.half.upper
    assert few.half.standard_uncertainty > many.half.standard_uncertainty
    assert few.rate is None


def test_without_the_weighed_solution_shares_are_of_the_end_of_the_curve():
    t = np.array([30.0, 60, 120, 240, 480, 900])
    one = fit_drainage([(a, 50 * ML / (1 + (100 / a) ** 2)) for a in t])
    assert one.half.value == pytest.approx(100, rel=0.02)
    assert any("not weighed" in said for said in one.words)


@pytest.mark.parametrize(
    ("readings", "solution", "words"),
    [
        ([(60, 5)], 100, "1 reading after the start"),
        ([], 100, "0 readings"),
        ([(60, 5), (30, 9), (90, 12)], 100, "reading 2: 30 s comes after 60 s"),
        ([(60, 5), (60, 9), (90, 12)], 100, "comes after"),
        ([(60, 25), (90, 9), (120, 30)], 100, "goes down from 25 to 9 mL"),
        ([(60, 5), (90, 9), (120, 300)], 100, "300 mL drained from foam that holds 100"),
        ([(60, 0), (90, 0), (120, 0)], 100, "nothing has drained"),
        ([(60, 5), (90, math.nan), (120, 10)], 100, "numbers of 0 or more"),
        ([(60, 5), (90, 9), (120, 12)], -1, "greater than 0"),
    ],
)
def test_readings_that_contradict_themselves_are_asked_back(readings, solution, words):
    with pytest.raises(InputError) as error:
        fit_drainage([(a, b * ML) for a, b in readings], solution=solution * ML)
    assert words in str(error.value)
    assert error.value.remedy


def test_a_small_step_back_within_the_reading_is_no_error():
    one = fit_drainage([(60, 5 * ML), (90, 12 * ML), (120, 11 * ML), (300, 30 * ML)], solution=100 * ML)
    assert one.quarter.known


def test_more_than_the_curve_reaches_is_unknown():
    t = np.array([30.0, 60, 120, 240, 480, 1200])
    one = fit_drainage([(a, 40 * ML / (1 + (60 / a) ** 3)) for a in t], solution=100 * ML)
    assert one.quarter.known
    assert not one.half.known or one.half.upper > 5000


def test_the_samples_of_the_season_give_the_same_quarter_by_curve_and_by_readings():
    from frothline.trials.trial import samples_noted

    notebook = open_notebook(Path(__file__).parents[2] / "recordings" / "season")
    compared = 0
    for entry in notebook.catalogue:
        for one in samples_noted(entry) if entry.kind == "run" else ():
            w = one.noted.weighing
            times = [a for a, _ in w.drained]
            if len(times) < 4 or not one.counts:
                continue
            by_readings = drainage_time(times, [b for _, b in w.drained], w.solution, 0.25, w.u_drained)
            if by_readings.reached:
                found = fit_drainage(w.drained, solution=w.solution).quarter
                assert found.lower - by_readings.standard_uncertainty < by_readings.time
                assert found.upper + by_readings.standard_uncertainty > by_readings.time
                compared += 1
    assert compared >= 3


def test_a_sample_has_the_half_time_of_its_curve_where_three_readings_are_there():
    readings = ((60.0, 10 * ML), (120.0, 25 * ML), (300.0, 60 * ML))
    three = evaluate(Weighing(2e-3, 0.184, 0.331, drained=readings))
    assert three.half_drainage == fit_drainage(readings, solution=Weighing(2e-3, 0.184, 0.331).solution).half
    assert evaluate(Weighing(2e-3, 0.184, 0.331, drained=readings[:2])).half_drainage is None


def test_python_and_prompt_give_the_same(capsys):
    one = fl.drainage([("60 s", "10 mL"), ("2 min", "25 mL"), (300, 60e-6)], solution="147 g", depth="190 mm")
    assert repr(one).startswith("<DrainageCurve drainage: 25 % after")
    assert "50 % drainage time" in one._repr_html_()
    assert list(one.table()["drained"]) == pytest.approx([10e-6, 25e-6, 60e-6])
    assert len(one.plot().data) == 2
    given = ["60s=10mL", "2min=25mL", "300s=60mL", "--solution", "147 g", "--depth", "190 mm"]
    assert cli.main(["drainage", *given, "--json"]) == 0
    data = result_of(capsys.readouterr().out)
    assert data["quarter"]["value"] == pytest.approx(one.quarter.value)
    assert cli.main(["drainage", *given]) == 0
    assert "50 % drainage time" in capsys.readouterr().out
    for wrong in (["60s"], ["60s=10mL"], ["60s=much", "70s=20mL", "80s=30mL"]):
        assert cli.main(["drainage", *wrong]) == 2
    assert "like 60s=4mL" in capsys.readouterr().err


def test_more_liquid_than_the_foam_holds_is_said_where_the_readings_just_allow_it():
    curve = fit_drainage([(60, 4 * ML), (120, 9 * ML), (180, 14 * ML)], solution=11 * ML)
    assert curve.words[0].startswith("14 mL drained, but the foam holds 11 mL of solution by its weight")
    with pytest.raises(InputError, match="14 mL drained from foam that holds 9"):
        fit_drainage([(60, 4 * ML), (120, 9 * ML), (180, 14 * ML)], solution=9 * ML)


def test_a_half_time_that_is_hardly_known_is_not_written_as_nothing(capsys):
    """The interval of the 50 % time is 180 s to two weeks: half of it is 650,000 s, beside which 3,600 s vanished."""
    assert cli.main(["drainage", "60s=4mL", "120s=9mL", "180s=14mL", "--solution", "147mL"]) == 0
    said = capsys.readouterr().out
    assert "50 % drainage time 0 " not in said
    assert "3600 s" in said


@pytest.mark.parametrize("depth", [190.0, 1.9e-4, 0.0, -0.19, math.nan, math.inf])
def test_a_depth_that_no_container_has_is_asked_back_by_curve_and_sample(depth):
    """190 mm typed as 190 m, or as 0.19 mm: the foam's height over its time would be 4 km/h."""
    readings = [(60.0, 4 * ML), (120.0, 9 * ML), (240.0, 18 * ML)]
    with pytest.raises(InputError, match=r"must be greater than 0|not the depth of foam in a container"):
        fit_drainage(readings, solution=40 * ML, depth=depth)
    with pytest.raises(InputError, match=r"sample: depth: (.*like 190 mm|.*not a number)"):
        evaluate(Weighing(2e-3, 0.1, 0.25, depth=depth))
    for known in (0.005, 0.19, 3.0, None):
        assert fit_drainage(readings, solution=40 * ML, depth=known).quarter.value > 0
