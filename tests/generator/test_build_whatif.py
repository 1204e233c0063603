"""Scaling to a measured line, what a change would do, and which size brings a wanted result.

Truths are mostly the model itself with factors the estimation does not know: does it find what is there, and does it
carry its stated errors through? Whether the model is right is asked of fluids here, and of another physical model in
test_build_against_simulated.py.
"""

from dataclasses import replace

import fluids
import numpy as np
import pytest
from builds import BARE, FIRST
from fluid_properties import humid_air
from scipy import optimize

from frothline.curve.blower import BlowerCurve
from frothline.curve.operating_point import NoCrossing
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError, NotIdentifiable, OutsideValidity, TooFewPoints
from frothline.foam.dilution import Dilution
from frothline.foam.properties import estimate_properties
from frothline.generator import size_search
from frothline.generator import what_if as generator_what_if
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.model_fit import fit_to_sweeps
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.prediction import predict
from frothline.generator.pressure_model import PressureModel
from frothline.generator.size_search import find_size
from frothline.generator.stock_sizes import DRILLS, PIPES
from frothline.generator.what_if import changed_build, what_if

# exhaust air of 35 °C, as in the figures by hand
DRY, WET = (replace(OperatingConditions.usual(wet=wet), line_temperature=308.15) for wet in (False, True))
TRUE = {"holes": 0.2, "packing": -0.3, "wetting": 0.5, "outlet": 0.1, "foam": -0.2, "hose": 0.1}


def source(shut_off, free, seed=1, noise=0.003):
    """The fitted curve of a source whose true pressures are p0 (1 - 0.3 x - 0.7 x²)."""
    rng = np.random.default_rng(seed)
    points = []
    for q in np.linspace(0.02, 0.95, 12) * free:
        p = shut_off * (1 - 0.3 * q / free - 0.7 * (q / free) ** 2)
        u = max(10.0, noise * p), noise * q
        measured = p + u[0] * rng.standard_normal(), q + u[1] * rng.standard_normal()
        points.append(SteadyPoint.from_parts(*measured, (*u, 0.0)))
    return BlowerCurve().fit(points)


SOURCE = source(20e3, 0.060)


def measured(generator, flows, rng, noise=0.005):
    points = []
    for q in flows:
        p = generator.pressure(q)
        u = max(5.0, noise * p), noise * q
        points.append(
            SteadyPoint.from_parts(p + u[0] * rng.standard_normal(), q + u[1] * rng.standard_normal(), (*u, 0.0))
        )
    return points


FLOWS = np.linspace(0.001, 0.012, 8)


@pytest.fixture(scope="module")
def scaled():
    rng = np.random.default_rng(3)
    dry = measured(PressureModel(FIRST, DRY).moved(TRUE), FLOWS, rng)
    wet = measured(PressureModel(FIRST, WET).moved(TRUE), FLOWS, rng)
    return fit_to_sweeps(PressureModel(FIRST, WET), dry, wet)


def test_a_scaled_model_gives_the_line_that_was_measured(scaled):
    for conditions, model in ((DRY, scaled.dry), (WET, scaled.wet)):
        truth = PressureModel(FIRST, conditions).moved(TRUE)
        for q in (0.003, 0.008, 0.014):  # the last one beyond what was measured
            assert model.pressure(q) == pytest.approx(truth.pressure(q), rel=0.02)


def test_scaling_narrows_the_line(scaled):
    before = float(PressureModel(FIRST, WET).line(0.015).pressure(0.010)[1])
    after = float(scaled.wet.line(0.015).pressure(0.010)[1])
    assert after < before / 10


def test_what_two_lines_settle_and_what_they_cannot(scaled):
    by = {item.key: item for item in scaled.parameters}
    assert by["holes"].settled  # three quarters of the dry line
    assert by["holes"].factor.lower < np.exp(0.2) < by["holes"].factor.upper
    said = "; ".join(scaled.words)
    assert "the measurement determines holes of the diffusion tube" in said
    assert not scaled.apart
    # wet, what the packing takes more the outlet takes less: two curves do not hold more
    assert any({"packing", "outlet"} <= set(group) for group in scaled.undivided["wet"])
    assert "wet, it cannot separate" in said
    # their sum is found, though neither part is
    truth = PressureModel(FIRST, WET).moved(TRUE).drops(1.2 * 0.008)
    found = {share.key: share.pressure for share in scaled.wet.shares(0.008)}
    both = found["packing"].value + found["outlet"].value
    assert both == pytest.approx(truth["packing"] + truth["outlet"], rel=0.05)
    for key in ("packing", "outlet"):
        assert found[key].lower < truth[key] < found[key].upper


def test_with_a_wet_line_alone_less_is_told_apart():
    wet = measured(PressureModel(FIRST, WET).moved(TRUE), FLOWS, np.random.default_rng(3))
    only = fit_to_sweeps(PressureModel(FIRST, WET), (), wet)
    assert only.dry is None
    assert not {item.key: item for item in only.parameters}["holes"].settled


def test_points_that_no_such_generator_gives_are_told():
    rng = np.random.default_rng(5)
    # the sheet says 2 mm holes, the bench has 3 mm: five times less resistance
    other = PressureModel(FIRST.with_entry("tube.hole", 0.003), DRY)
    wrong = fit_to_sweeps(PressureModel(FIRST, WET), measured(other, FLOWS, rng))
    assert any("check that part" in words and "holes" in words for words in wrong.words)


def test_nonsense_is_refused():
    falling = [SteadyPoint.from_parts(9e5 / (1 + k), 0.002 * (1 + k), (5.0, 1e-6, 0.0)) for k in range(6)]
    with pytest.raises(NotIdentifiable, match="fits the measured line"):
        fit_to_sweeps(PressureModel(FIRST, WET), falling)
    with pytest.raises(TooFewPoints, match="3 steady points through the generator"):
        fit_to_sweeps(PressureModel(FIRST, WET), falling[:2])


def standard_scores(count, seed):
    """Error over stated standard uncertainty of the wet pressure, for generators drawn from the model's own statement and
    measured dry and wet.
    """
    rng = np.random.default_rng(seed)
    first = PressureModel(FIRST, WET)
    found = []
    for _ in range(count):
        step = {key: u * rng.standard_normal() for key, u in first.uncertainties.items()}
        dry = measured(PressureModel(FIRST, DRY).moved(step), FLOWS, rng)
        wet = measured(first.moved(step), FLOWS, rng)
        model = fit_to_sweeps(first, dry, wet).wet
        value, u = model.line(0.012, 0.006).pressure(0.009)
        found.append((float(value) - first.moved(step).pressure(0.009)) / float(u))
    return np.array(found)


@pytest.mark.slow
@pytest.mark.exhaustive
def test_the_stated_errors_of_a_scaled_model_are_not_too_small_for_eight_generators():
    """The sum of eight squared scores is a chi-squared with 8 degrees of freedom: 0.5 % exceed 21.96 (tables of the
    distribution, from memory). Uncertainties of a fifth would do so here."""
    assert np.sum(standard_scores(8, 11) ** 2) < 21.96


@pytest.mark.exhaustive
def test_the_stated_errors_of_a_scaled_model_are_carried_through_to_its_pressure():
    """40 generators drawn from the model's own statement, measured dry and wet: the 95 % interval of the wet pressure
    holds them 35 to 40 times. That the statement is right is another question: see test_build_against_simulated.py.

    Of 40 honest intervals 34 or fewer hold with a probability of 1.4 % (binomial); the seed is fixed.
    """
    held = np.sum(np.abs(standard_scores(40, 11)) < 1.96)
    assert 35 <= held <= 40


# -- prediction ----------------------------------------------------------------------------------------------------


def meeting_flow(generator, blower):
    """Where the model itself and the curve meet, without any form between."""

    def gap(q):
        try:
            return float(blower.curve.value(q)) - generator.pressure(q)
        except OutsideValidity:
            return -1e6

    return optimize.brentq(gap, 1e-6, 0.05, rtol=1e-6)


def test_a_bare_tube_meets_a_source_where_fluids_says():
    """Orifices, contraction and air by fluids and CoolProp, the drilled hole by Idelchik's table of the thick edge."""
    W = humid_air("W", "T", 293.15, "P", 101325.0, "R", 0.5)

    def density(pressure):
        return 1.0 / humid_air("Vha", "T", 308.15, "P", pressure, "W", W)

    K = fluids.contraction_sharp(0.100, 0.050) + 1.0  # the jet's speed is lost
    C = (0.5 + 0.2436 + 1.0 + 0.03) ** -0.5  # 3 mm through 3 mm: τ = 1.4 x 10^-0.7595

    def asked(q):
        m = 1.2 * q
        behind = 101325.0 + K * (m / (np.pi / 4 * 0.050**2)) ** 2 / (2 * density(101325.0))

        def lack(before):
            Y = fluids.nozzle_expansibility(D=1.0, Do=1e-4, P1=before, P2=behind, k=1.4)
            return 40 * C * np.pi / 4 * 0.003**2 * Y * np.sqrt(2 * (before - behind) * density(before)) - m

        return optimize.brentq(lack, behind + 1e-3, behind + 60e3) - 101325.0, behind

    q = optimize.brentq(lambda x: float(SOURCE.curve.value(x)) - asked(x)[0], 0.005, 0.035)
    told = predict(PressureModel(BARE, DRY), SOURCE)
    assert told.point.flow.value == pytest.approx(q, rel=3e-3)
    assert told.point.pressure.value == pytest.approx(asked(q)[0], rel=3e-3)
    speed = 1.2 * q / density(asked(q)[1]) / (40 * np.pi / 4 * 0.003**2)
    assert told.hole_velocity.value == pytest.approx(speed, rel=5e-3)


@pytest.mark.parametrize("build", [BARE, FIRST, FIRST.with_entry("tube.under_liquid", 72)], ids=["bare", "half", "all"])
def test_the_meeting_point_is_the_models_own(build):
    generator = PressureModel(build, WET)
    prediction = predict(generator, SOURCE)
    q = meeting_flow(generator, SOURCE)
    assert prediction.point.flow.value == pytest.approx(q, rel=3e-3)
    assert prediction.point.flow.lower < q < prediction.point.flow.upper
    # free air of 20 °C, 101.325 kPa, half humid has 1.1993 kg/m³ (CoolProp)
    assert prediction.air_rate.value == pytest.approx(prediction.point.flow.value * 1.2 / 1.1993, rel=1e-4)


def test_the_stated_errors_of_a_sheet_are_carried_through_to_the_flow():
    """150 generators drawn from what is said of the coefficients (JCGM 101): 95 % of them, 134 to 149 (binomial, 3 σ).

    The propagation alone: whether the statement is right is asked in test_build_against_simulated.py.
    """
    rng = np.random.default_rng(5)
    generator = PressureModel(FIRST, WET)
    told = predict(generator, SOURCE).point.flow
    held = 0
    for _ in range(150):
        step = {key: u * rng.standard_normal() for key, u in generator.uncertainties.items()}
        held += told.lower < meeting_flow(generator.moved(step), SOURCE) < told.upper
    assert 134 <= held <= 149


def test_foam_rate_is_solution_plus_caught_air():
    pumped = replace(WET, solution_flow=10 / 6e4)
    known = FoamKnowledge(0.7, 0.03, 12.0, 0.5)
    prediction = predict(PressureModel(FIRST, pumped), SOURCE, known)
    caught = 0.7 * prediction.air_rate.value
    assert prediction.foam_rate.value == pytest.approx(caught + 10 / 6e4)
    assert prediction.air_to_solution.value == pytest.approx(caught / (10 / 6e4))
    assert prediction.foam_rate.assumptions == ()
    # without a known solution flow, by the expansion ratio: Q_f = η Q_a E/(E - 1)
    drawn = predict(PressureModel(FIRST, WET), SOURCE, known)
    assert drawn.foam_rate.value == pytest.approx(0.7 * drawn.air_rate.value * 12 / 11)
    assert drawn.air_to_solution is None


def test_without_a_sample_the_foam_rate_is_wide_and_says_so():
    usual = predict(PressureModel(FIRST, WET), SOURCE)
    sampled = predict(PressureModel(FIRST, WET), SOURCE, FoamKnowledge(0.8, 0.02, 15.0, 0.5))
    assert "no timed sample" in usual.foam_rate.assumptions[0]
    assert usual.foam_rate.standard_uncertainty > sampled.foam_rate.standard_uncertainty


def test_before_any_sample_what_is_usual_of_foam_is_that_of_the_run_and_no_more_than_all_air_is_caught():
    usual, of_run = FoamKnowledge.usual(), estimate_properties(())
    assert (usual.capture, usual.expansion - 1) == pytest.approx((of_run.caught, of_run.ratio))
    logs = usual.u_capture / usual.capture, usual.u_expansion / (usual.expansion - 1)
    assert logs == pytest.approx((of_run.along((1.0, 0.0)), of_run.along((0.0, 1.0))))
    # a generator and a source that are known: what is left is the share of the air that is caught
    pumped = replace(WET, solution_flow=10 / 6e4)
    sure = predict(replace(PressureModel(FIRST, pumped), errors=()), source(20e3, 0.060, noise=1e-4), usual)
    all_air = sure.air_rate.value / (10 / 6e4)
    assert sure.air_to_solution.upper == pytest.approx(all_air, rel=0.005)
    assert sure.air_to_solution.lower == pytest.approx(0.3 * all_air, rel=0.02)  # common practice: 0.3 to 1
    narrow = FoamKnowledge(0.9, 0.09, 12.0, 0.5)
    assert (
        predict(replace(PressureModel(FIRST, pumped), errors=()), SOURCE, narrow).air_to_solution.upper < 1.02 * all_air
    )


def test_a_source_too_weak_for_the_liquid_is_told_in_plain_words():
    deep = FIRST.with_entry("tube.under_liquid", 72).with_entry("tube.depth", 0.09)  # 883 Pa of head
    prediction = predict(PressureModel(deep, WET), source(600.0, 0.05, noise=0.002))
    assert isinstance(prediction.point, NoCrossing)
    assert "the source is too weak" in prediction.words[0]
    assert prediction.air_rate is prediction.foam_rate is None


def test_a_tube_too_narrow_for_its_holes_is_told():
    # 40 holes of 3 mm, 283 mm², on a bore of 16 mm, 201 mm²: the far holes get the regained pressure
    narrow = BARE.with_entry("tube.bore", 0.016)
    assert PressureModel(narrow, DRY).evenness(0.010) > 1.15
    assert any(
        "narrow" in words or "too large for the pipe" in words
        for words in predict(PressureModel(narrow, DRY), SOURCE).words
    )
    assert PressureModel(BARE, DRY).evenness(0.010) < 1.15


# -- what if -------------------------------------------------------------------------------------------------------


def test_a_wider_outlet_gives_more_air_and_the_change_is_surer_than_its_ends():
    result = what_if(PressureModel(FIRST, WET), FIRST.with_entry("outlet.bore", 0.0402), SOURCE)
    assert result.flow_change.value > 0
    assert result.pressure_change.value < 0
    ends = np.hypot(result.before.point.flow.standard_uncertainty, result.after.point.flow.standard_uncertainty)
    assert result.flow_change.standard_uncertainty < 0.6 * ends


@pytest.mark.parametrize(
    ("path", "value"), [("outlet.bore", 0.026), ("tube.hole", 0.0025), ("packing.length", 0.1), ("tube.rows", 4)]
)
def test_what_a_change_does_is_within_its_interval_for_random_generators(path, value):
    # the same specimen before and after: draws of the coefficients, their meeting points by root finding
    rng = np.random.default_rng(17)
    generator, build = PressureModel(FIRST, WET), FIRST.with_entry(path, value)
    if path == "tube.rows":
        build = build.with_entry("tube.under_liquid", 24)
    told = what_if(generator, build, SOURCE).flow_change
    true = []
    resized = {
        key: u for key, (paths, u) in generator_what_if._RESIZED.items() if path in paths
    }  # no part is quite the old one
    for _ in range(40):
        step = {key: u * rng.standard_normal() for key, u in generator.uncertainties.items()}
        again = {key: u * rng.standard_normal() for key, u in resized.items()}
        before, after = generator.moved(step), PressureModel(build, WET).moved(step).moved(again)
        true.append(meeting_flow(after, SOURCE) - meeting_flow(before, SOURCE))
    # first order against draws of factors up to e^±1.8: the middle within half a standard uncertainty, the half width
    # that holds two thirds of them within two fifths
    assert np.median(true) == pytest.approx(told.value, abs=0.5 * told.standard_uncertainty)
    assert np.diff(np.percentile(true, [16, 84]))[0] / 2 == pytest.approx(told.standard_uncertainty, rel=0.4)


def test_half_the_solution_is_twice_the_air_to_solution():
    pumped = replace(FIRST, reservoir=replace(FIRST.reservoir, filling="pump", flow=18 / 6e4))
    generator = PressureModel(pumped, OperatingConditions.of(pumped))
    result = what_if(generator, pumped.with_entry("reservoir.flow", 9 / 6e4), SOURCE)
    before, after = result.before, result.after
    assert before.air_to_solution.value == pytest.approx(0.548 * before.air_rate.value / (18 / 6e4), rel=1e-3)
    # less liquid in packing and outlet lets a little more air through; twice that over half the solution
    assert after.air_rate.value > before.air_rate.value
    ratio = after.air_to_solution.value / before.air_to_solution.value
    assert ratio == pytest.approx(2.0 * after.air_rate.value / before.air_rate.value)
    measured = what_if(generator, pumped.with_entry("reservoir.flow", None), SOURCE).after
    assert measured.air_to_solution is None


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("reservoir.filling", "gravity"),
        ("reservoir.volume", 0.030),
        ("tube.length", 0.320),
        ("body.length", 0.800),
        ("solution.dilution", Dilution(20, "1+N")),
        ("hose.pitch", 0.005),
    ],
)
def test_an_entry_that_moves_nothing_here_is_said_to(path, value):
    build = FIRST.with_entry("hose.kind", "smooth")  # which has no ripples
    result = what_if(PressureModel(build, WET), build.with_entry(path, value), SOURCE)
    assert result.unmoved == (path,)
    assert "moves no figure here" in result.words[0]
    assert path in result.words[0]
    assert result.flow_change is result.pressure_change is None
    assert not any("%" in words for words in result.words)
    # beside one that does move something both are told
    both = what_if(PressureModel(build, WET), build.with_entry(path, value).with_entry("outlet.bore", 0.026), SOURCE)
    assert both.unmoved == (path,)
    assert both.flow_change.value < 0
    assert len(both.words) == 2


def test_an_entry_that_matters_with_another_alone_is_not_said_to_move_nothing():
    beads = FIRST.with_entry("packing.kind", "beads").with_entry("packing.bead", 0.006)
    result = what_if(PressureModel(FIRST, WET), beads, SOURCE)
    assert result.unmoved == ()


def test_nothing_changed_is_no_change():
    result = what_if(PressureModel(FIRST, WET), FIRST, SOURCE)
    assert result.flow_change.value == 0.0
    assert result.flow_change.standard_uncertainty < 1e-9


def test_another_source_keeps_the_generator():
    result = what_if(PressureModel(FIRST, WET), FIRST, SOURCE, new_blower=source(10e3, 0.04, seed=4))
    assert result.flow_change.value < 0
    assert result.words[0].startswith("the air rate changes by −")


def test_what_was_learnt_stays_with_the_parts_that_stay(scaled):
    wider = changed_build(scaled.wet, FIRST.with_entry("outlet.bore", 0.026))
    assert wider.factors == scaled.wet.factors
    beads = FIRST.with_entry("packing.kind", "beads").with_entry("packing.bead", 0.006)
    other = changed_build(scaled.wet, beads)
    assert "packing" not in other.factors
    assert other.factors["holes"] == scaled.wet.factors["holes"]
    # and the new part has the uncertainty of its kind again
    shares = {s.key: s for s in other.shares(0.008)}
    learnt = {s.key: s for s in scaled.wet.shares(0.008)}
    relative = {k: s[k].pressure.standard_uncertainty / s[k].pressure.value for k, s in (("packing", shares),)}
    assert relative["packing"] > 0.5
    assert shares["holes"].pressure.standard_uncertainty < 1.5 * learnt["holes"].pressure.standard_uncertainty


def test_an_impossible_change_is_refused_with_the_entry():
    with pytest.raises(InputError, match="is not smaller than the body") as refusal:
        what_if(PressureModel(FIRST, WET), FIRST.with_entry("outlet.bore", 0.2), SOURCE)
    assert refusal.value.where == "outlet.bore"


# -- which size ----------------------------------------------------------------------------------------------------


def test_an_outlet_for_a_wanted_pressure_is_a_pipe_that_exists():
    result = find_size(PressureModel(FIRST, WET), SOURCE, "outlet.bore", "pressure", 17.5e3)
    assert {choice.value for choice in result.choices} <= {pipe.bore for pipe in PIPES}
    best, second = result.choices[:2]
    assert best.reached.lower < 17.5e3 < best.reached.upper
    assert result.met
    # the wanted figure lies between the two
    assert (best.reached.value - 17.5e3) * (second.reached.value - 17.5e3) < 0
    assert "bore" in best.words


def test_a_drill_for_a_wanted_air_rate_exists_and_brings_it():
    result = find_size(PressureModel(BARE, DRY), SOURCE, "tube.hole", "air_rate", 0.020)
    assert {round(choice.value, 6) for choice in result.choices} <= {round(drill, 6) for drill in DRILLS}
    assert result.choices[0].reached.value == pytest.approx(0.020, rel=0.05)  # a tenth of a millimetre is 5 % of area
    assert "drill" in result.choices[0].words


def test_holes_in_each_row_are_whole():
    result = find_size(PressureModel(BARE, DRY), SOURCE, "tube.holes_per_row", "air_rate", 0.020)
    assert all(isinstance(choice.value, int) for choice in result.choices)
    assert "holes in each of 4 rows" in result.choices[0].words


def test_a_packing_keeps_its_density_when_it_grows():
    result = find_size(PressureModel(FIRST, WET), SOURCE, "packing.length", "air_rate", 0.0135)
    build = result.choices[0].prediction.build
    assert build.packing.mass / build.packing.length == pytest.approx(FIRST.packing.mass / FIRST.packing.length)


def test_an_air_to_solution_ratio_is_brought_about_where_the_solution_is_pumped():
    generator = PressureModel(FIRST, replace(WET, solution_flow=20 / 6e4))
    result = find_size(generator, SOURCE, "outlet.bore", "air_to_solution", 25.0)
    assert result.met
    low, high = sorted(choice.reached.value for choice in result.choices)
    assert low <= 25.0 <= high
    with pytest.raises(InputError, match="flow of the solution"):
        find_size(PressureModel(FIRST, WET), SOURCE, "outlet.bore", "air_to_solution", 25.0)


def humped():
    """A source whose pressure rises from 7 to a top of 9.25 kPa at 15 L/s and falls to 1.4 kPa at 43 L/s."""
    rng = np.random.default_rng(6)
    points = []
    for q in np.linspace(0.001, 0.043, 16):
        p = 7000.0 + 3.0e5 * q - 1.0e7 * q**2
        u = 0.002 * p, 0.002 * q
        points.append(
            SteadyPoint.from_parts(p + u[0] * rng.standard_normal(), q + u[1] * rng.standard_normal(), (*u, 0.0))
        )
    return BlowerCurve().fit(points)


def test_a_pressure_that_only_sizes_in_the_middle_reach_is_found_on_a_source_with_a_hump():
    blower = humped()
    top = max(float(blower.curve.value(q)) for q in np.linspace(0.0, 0.04, 400))
    wanted = 0.995 * top
    result = find_size(PressureModel(FIRST, WET), blower, "outlet.bore", "pressure", wanted)
    assert result.range[1] > wanted
    assert not any("no size" in words for words in result.words)
    # every pipe that is sold, its meeting point found by itself: none comes nearer
    bores = {pipe.bore for pipe in PIPES if 0.018 < pipe.bore < FIRST.body.bore}
    flows = {bore: meeting_flow(PressureModel(FIRST.with_entry("outlet.bore", bore), WET), blower) for bore in bores}
    pressures = {bore: float(blower.curve.value(q)) for bore, q in flows.items()}
    best = min(pressures, key=lambda bore: abs(pressures[bore] - wanted))
    assert result.choices[0].value == best
    assert min(pressures.values()) < pressures[best] > 0.99 * wanted
    # narrower and wider ones alike give less
    assert max(pressures.values()) > max(pressures[min(bores)], pressures[max(bores)])


@pytest.mark.parametrize("change", ["outlet.bore", "tube.hole", "tube.holes_per_row", "packing.length"])
def test_a_search_asks_the_model_about_few_sizes_however_many_there_are(change, monkeypatch):
    asked = []
    known = size_search.meeting_flow
    monkeypatch.setattr(size_search, "meeting_flow", lambda *given: asked.append(1) or known(*given))
    find_size(PressureModel(FIRST, WET), SOURCE, change, "air_rate", 0.012)
    assert len(asked) < 120  # two milliseconds each


def test_what_no_size_can_reach_is_told_with_what_can():
    result = find_size(PressureModel(FIRST, WET), SOURCE, "outlet.bore", "pressure", 2e3)
    assert not result.met
    assert "no stock size reaches the target" in result.words[0]
    assert len(result.words) == 1  # and not that it lies between two of them
    assert result.range[0] > 2e3


def test_what_cannot_be_sought_is_refused():
    with pytest.raises(InputError, match="cannot be searched"):
        find_size(PressureModel(FIRST, WET), SOURCE, "hose.bore", "pressure", 1e4)
    with pytest.raises(InputError, match="is not a valid target"):
        find_size(PressureModel(FIRST, WET), SOURCE, "outlet.bore", "pressure", -5.0)
    for endless in (float("inf"), float("nan")):
        with pytest.raises(InputError, match="is not a valid target"):
            find_size(PressureModel(FIRST, WET), SOURCE, "outlet.bore", "pressure", endless)
