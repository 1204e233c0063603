"""Foam and solution of a run against arithmetic of flows, the gas law's table and the truth of simulated samples."""

import math
from pathlib import Path

import numpy as np
import pytest
from builds import FIRST

from frothline.bench.live_run import LiveRun
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.prior import U_CAUGHT, U_RATIO, USUAL_CAUGHT, USUAL_EXPANSION, FoamPrior
from frothline.foam.properties import estimate_properties, observations_of
from frothline.foam.sample import Weighing, evaluate
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.sheet import read_sheet
from frothline.readings.resample import TICK, Resampler, Tick
from frothline.run.foam_balance import FoamBalance
from frothline.run.foam_figures import figures_of, rate_of_air
from frothline.run.reservoir_scale import ReservoirScale
from frothline.run.run import Run, slices
from frothline.run.state import DRY, FOAMING, PRIMING, THINNING
from frothline.run.watch.alarm_kinds import KINDS
from frothline.run.watch.alarms import Alarm, remaining
from frothline.sensors.series import Series

SEASON = Path(__file__).parents[2] / "recordings" / "season"

MINUTE = 60.0
LITRE = 1e-3


def fed(ledger, seconds, phase=FOAMING, *, start=0.0, air=60 * LITRE / MINUTE, pressure=10e3, mass=None, left=None):
    for k in range(round(seconds / TICK)):
        time = start + (k + 1) * TICK
        ledger.feed(
            Tick(time, pressure, math.nan, air, 310.0, 101325.0, math.nan if mass is None else mass(time)),
            phase,
            left,
        )
    return ledger


def made_up_sample():
    """60 L/min of air, 4 L/min of solution, three quarters caught: 49 L/min of foam at 82.59 kg/m3 (the two flows added
    by hand), of which a scale in air shows 1.204 less. A 10 L bucket is full in 12.245 s."""
    return evaluate(Weighing(10 * LITRE, 0.0, 0.8259 - 0.01204, fill_time=600 / 49))


def pumped():
    return FIRST.with_entry("reservoir.filling", "pump").with_entry("reservoir.flow", 4 * LITRE / MINUTE)


def test_the_foam_to_expect_of_an_air_flow_is_that_of_the_sample():
    """The made-up sample: 60 L/min of air make 49 L/min of foam, so 30 L/min make half of it; 5 % more doubt of the air is
    in the interval."""
    ledger = fed(FoamBalance(pumped()), 60)
    ledger.add_sample(made_up_sample(), 60 * LITRE / MINUTE)
    sharp = rate_of_air(ledger, Estimate.normal(30 * LITRE / MINUTE, 0.0, "m3/s"))
    assert sharp.value * 6e4 == pytest.approx(24.5, rel=0.02)
    blurred = rate_of_air(ledger, Estimate.normal(30 * LITRE / MINUTE, 0.05 * 30 * LITRE / MINUTE, "m3/s"))
    assert (blurred.standard_uncertainty / blurred.value) ** 2 == pytest.approx(
        (sharp.standard_uncertainty / sharp.value) ** 2 + 0.05**2
    )


def test_a_draw_that_no_second_shows_is_not_taken_for_the_draw():
    """A full reservoir is taken off in steps of 5 kg while 0.07 kg/s are drawn: the median of as many seconds of the one
    and of the other is in none of them."""
    for seconds in range(2, 5):
        scale, mass = ReservoirScale(), 60.0
        for number, fall in enumerate([0.0, *[0.07] * seconds, *[5.0] * seconds, 0.07, 0.07]):
            mass -= fall
            for k in range(11):
                scale.feed(number + 0.1 * k, mass)
            assert math.isnan(scale.rate) or scale.rate == pytest.approx(0.07, abs=0.2) or scale.rate > 4.0


def test_before_any_sample_the_figures_are_wide_and_say_why():
    output = figures_of(fed(FoamBalance(FIRST), 60), FOAMING)
    assert output.foam_rate.upper > 3 * output.foam_rate.lower
    assert any("no timed sample" in words for words in output.assumptions)
    assert output.foam_rate.assumptions
    low, high = output.foam_rate.lower * 6e4, output.foam_rate.upper * 6e4
    assert low < 60 * 1.07 * 0.35  # generators catch a third to all of the air: both ends are left open
    assert high > 60 * 0.95


def test_a_sample_brings_the_rate_of_the_made_up_run_and_narrows_every_figure():
    ledger = fed(FoamBalance(pumped()), 60)
    before = figures_of(ledger, FOAMING)
    ledger.add_sample(made_up_sample(), 60 * LITRE / MINUTE)
    after = figures_of(ledger, FOAMING)
    assert after.foam_rate.value * 6e4 == pytest.approx(49.0, rel=0.02)  # the wide guess still pulls a little
    assert after.density.value == pytest.approx(82.59 - 1.204, rel=0.02)
    assert after.capture.value == pytest.approx(0.75, rel=0.03)
    assert after.expansion.value == pytest.approx(12.25, rel=0.02)
    assert after.solution_rate.value * 6e4 == pytest.approx(4.0, rel=0.03)
    for name in ("foam_rate", "foam_total", "density", "density_in_line", "expansion", "capture", "solution_used"):
        wide, narrow = getattr(before, name), getattr(after, name)
        assert narrow.upper - narrow.lower < 0.6 * (wide.upper - wide.lower), name
        assert narrow.lower > 0


def test_more_samples_narrow_further_but_never_below_how_well_their_bucket_is_known():
    """How alike foam is from bucket to bucket (3 %) averages down with the root of their number, the volume of the one
    bucket (1 %) does not (JCGM 100:2008, F.1.2.3). Of the density: 12.25/13.25 of the ratio's."""
    ledger = fed(FoamBalance(FIRST), 60)
    halves = []
    for _ in range(60):
        ledger.add_sample(made_up_sample(), 60 * LITRE / MINUTE)
        output = figures_of(ledger, FOAMING)
        halves.append(0.5 * (output.density.upper - output.density.lower) / output.density.value)
    assert halves == sorted(halves, reverse=True)
    assert halves[0] == pytest.approx(1.96 * math.hypot(0.01, 12.25 / 13.25 * 0.03), rel=0.03)
    assert halves[-1] == pytest.approx(1.96 * math.hypot(0.01, 12.25 / 13.25 * 0.03 / math.sqrt(60)), rel=0.03)
    assert 0.5 * (output.foam_rate.upper - output.foam_rate.lower) / output.foam_rate.value > 1.96 * 0.01


def test_an_earlier_anemometer_stays_as_uncertain_after_many_samples():
    """Fifty samples of earlier runs, all with one anemometer that is good to 5 % (JCGM 100:2008, F.1.2.3)."""
    air = Estimate.normal(60 * LITRE / MINUTE, 3 * LITRE / MINUTE, "m3/s")
    earlier = evaluate(Weighing(10 * LITRE, 0.0, 0.8139, fill_time=600 / 49), air)
    known = estimate_properties([one for _ in range(50) for one in observations_of(earlier, None)])
    assert known.along((1.0, 0.0)) > 0.95 * math.hypot(0.05, 0.01)


def test_a_bucket_without_a_clock_leaves_the_caught_share_a_guess_and_it_is_still_said_to_be_one():
    ledger = fed(FoamBalance(FIRST), 60)
    ledger.add_sample(evaluate(Weighing(10 * LITRE, 0.0, 0.8139)), 60 * LITRE / MINUTE)
    output = figures_of(ledger, FOAMING)
    for figure in (output.foam_rate, output.foam_total, output.capture):
        assert any("timed" in words and "assumption" in words for words in figure.assumptions)
    assert output.foam_rate.upper > 2 * output.foam_rate.lower
    for figure in (output.density, output.expansion):
        assert not any("assumption" in words for words in figure.assumptions)
    assert any("no timed sample of this build" in words for words in output.assumptions)
    ledger.add_sample(made_up_sample(), 60 * LITRE / MINUTE)
    assert not any("assumption" in words for words in figures_of(ledger, FOAMING).assumptions)


def test_the_usual_share_is_below_one_and_no_share_of_the_air_is_above_it():
    output = figures_of(fed(FoamBalance(FIRST), 60), FOAMING)
    assert output.capture.upper <= 1.0
    assert USUAL_CAUGHT * math.exp(1.96 * U_CAUGHT) == pytest.approx(1.0, rel=1e-4)


@pytest.mark.parametrize(
    ("gauge", "ambient_density", "inside"), [(2e3, 98.26, 100.0), (10e3, 91.84, 100.0), (20e3, 84.92, 100.0)]
)
def test_foam_in_the_line_is_denser_by_the_gas_law(gauge, ambient_density, inside):
    """Isothermal table: 100 g/L inside the line becomes 98.26, 91.84 and 84.92 g/L outside at 2, 10 and 20 kPa (worked
    with E = 1000/density, the gas weightless; its mass and the density of water make 0.4 %)."""
    ledger = fed(FoamBalance(FIRST), 30, pressure=gauge)
    sample = evaluate(Weighing(10 * LITRE, 0.0, ambient_density * 10 * LITRE, u_mass=1e-6, u_container_volume=1e-9))
    for _ in range(60):  # so many that the guess does not count
        ledger.add_sample(sample, None)
    output = figures_of(ledger, FOAMING)
    assert output.density.value == pytest.approx(ambient_density, rel=0.002)
    assert output.density_in_line.value == pytest.approx(inside, rel=0.005)


def test_a_scale_gives_what_is_used_what_is_left_and_minutes_to_go():
    """20 kg at the start, 4 L/min for 2 min: 8 L used, 12 L left, 3 min to go; a reservoir of 20 L by the sheet."""
    rng = np.random.default_rng(1)
    flow = 4 * LITRE / MINUTE * 998.2

    def mass(t):
        return 22.5 - flow * t + 0.003 * rng.normal()

    output = figures_of(fed(FoamBalance(FIRST), 120, mass=mass), FOAMING)
    assert output.solution_used.value == pytest.approx(8 * LITRE, rel=0.02)  # the scale's first second is its zero
    assert output.solution_rate.value == pytest.approx(4 * LITRE / MINUTE, rel=0.01)
    assert output.solution_left.value == pytest.approx(12 * LITRE, rel=0.02)
    assert output.time_left.value == pytest.approx(180.0, rel=0.03)
    assert output.time_left.lower < 180.0 < output.time_left.upper
    with_tare = figures_of(fed(FoamBalance(FIRST, tare=2.5), 120, mass=mass), FOAMING)
    assert with_tare.solution_left.upper - with_tare.solution_left.lower < 0.3 * LITRE  # no guess of the load in it


def test_a_refill_is_no_negative_consumption():
    flow = 4 * LITRE / MINUTE * 998.2
    ledger = fed(FoamBalance(FIRST), 120, mass=lambda t: 22.5 - flow * t + (3.0 if t > 60 else 0.0))
    output = figures_of(ledger, FOAMING)
    assert output.solution_used.value == pytest.approx(8 * LITRE, rel=0.03)
    assert output.solution_left.value == pytest.approx(15 * LITRE, rel=0.02)  # 20 - 8 + 3 kg


def test_a_refill_that_would_not_fit_in_shows_that_the_reservoir_was_not_full_at_the_start():
    """20 L hold what was there and 15 kg more: 5 kg at most were there. 4 L/min are drawn, poured in after 6 s."""
    flow = 4 * LITRE / MINUTE * 998.2
    ledger = fed(FoamBalance(FIRST), 120, mass=lambda t: 7.0 - flow * t + (15.0 if t > 6 else 0.0))
    output = figures_of(ledger, FOAMING)
    left = 20 * LITRE - 4 * LITRE * 114 / 60  # full when it was poured in, drawn from for 114 s since
    assert output.solution_left.value == pytest.approx(left, rel=0.03)
    assert output.solution_left.lower == pytest.approx(15 * LITRE - 8 * LITRE, rel=0.05)  # or it was empty before
    assert output.foam_left.lower < 0.7 * output.foam_left.value
    assert output.solution_left.upper < 20 * LITRE
    assert output.time_left.value == pytest.approx(left / (4 * LITRE / MINUTE), rel=0.05)
    assert any("not full at the start" in words for words in output.solution_left.assumptions)
    assert ledger.left_by_scale == pytest.approx(left * 998.2, rel=0.03)


@pytest.mark.parametrize(("since", "until"), [(20.0, 50.0), (20.0, 100.0)])
def test_what_was_put_on_the_reservoir_and_taken_off_again_does_not_make_it_less_full(since, until):
    flow = 4 * LITRE / MINUTE * 998.2
    ledger = fed(FoamBalance(FIRST), 120, mass=lambda t: 22.5 - flow * t + (6.0 if since < t < until else 0.0))
    output = figures_of(ledger, FOAMING)
    assert output.solution_left.value == pytest.approx(12 * LITRE, rel=0.02)
    assert not any("not full" in words for words in output.solution_left.assumptions)
    begun = FoamBalance(FIRST, load=12.0)  # weighed: 8 kg more would have fitted in
    output = figures_of(fed(begun, 120, mass=lambda t: 14.5 - flow * t + (10.0 if t > 60 else 0.0)), FOAMING)
    assert output.solution_left.value == pytest.approx(14 * LITRE, rel=0.02)


def drawing(seconds, mass, rate=0.3, noise=0.003):
    """A scale that is read ten times a second; ``mass`` kg of what was poured or lifted by then."""
    rng = np.random.default_rng(8)
    scale = ReservoirScale()
    for k in range(round(seconds * 10)):
        t = 0.1 * (k + 1)
        scale.feed(t, 100.0 - rate * t + mass(t) + noise * rng.normal(), 0.01 * 0.1, True)
    return scale


def test_a_slow_refill_is_seen_and_what_is_drawn_meanwhile_goes_on():
    """20 kg poured at 0.5 kg/s from the 60th second on, 0.3 kg/s drawn all the while: 48 kg in 160 s (by hand)."""
    scale = drawing(160, lambda t: min(max(t - 60.0, 0.0) * 0.5, 20.0))
    assert scale.refilled == pytest.approx(20.0, abs=0.5)
    assert scale.used == pytest.approx(48.0, abs=0.7)  # its first second is its zero
    assert scale.rate == pytest.approx(0.3, rel=0.02)
    # and solution over air is that of the seconds without a pour, 0.3 kg/s over 10 L/s
    assert scale.steady_used / scale.steady_air == pytest.approx(30.0, rel=0.01)
    assert scale.steady_air < 0.01 * (160 - 36)


@pytest.mark.parametrize(("lifted", "seconds"), [(5.0, 4.0), (-3.0, 2.0), (5.0, 25.0)])
def test_a_reservoir_that_is_lifted_or_leant_on_has_not_been_drawn_from(lifted, seconds):
    """0.3 kg/s for 120 s are 36 kg, whatever stood on the scale or was taken off it for a while."""
    scale = drawing(120, lambda t: -lifted if 60.3 < t <= 60.3 + seconds else 0.0)
    assert scale.used == pytest.approx(36.0, abs=0.7)
    assert scale.refilled == pytest.approx(0.0, abs=0.3)
    assert scale.steady_used / scale.steady_air == pytest.approx(30.0, rel=0.01)


def test_a_draw_that_changes_is_no_refill():
    """0.3 kg/s for a minute, then 0.1: 18 and 6 kg."""
    scale = drawing(120, lambda t: 0.2 * max(t - 60.0, 0.0))
    assert scale.used == pytest.approx(24.0, abs=0.7)
    assert scale.refilled == pytest.approx(0.0, abs=0.3)
    assert scale.rate == pytest.approx(0.1, rel=0.05)


def test_a_scale_that_does_not_fall_is_left_out_and_said():
    rng = np.random.default_rng(2)
    output = figures_of(fed(FoamBalance(FIRST), 60, mass=lambda _: 22.5 + 0.003 * rng.normal()), FOAMING)
    assert output.solution_used is None
    assert "does not fall" in output.why["solution_used"]
    assert output.time_left is None
    assert any("scale does not fall" in words for words in output.assumptions)


def test_what_is_not_known_is_none_with_its_reason_and_never_nothing():
    waiting = figures_of(FoamBalance(), "waiting")
    assert waiting.foam_rate is None
    assert waiting.foam_total is None
    assert waiting.why["foam_rate"] == "no air yet"
    bare = figures_of(fed(FoamBalance(), 60), FOAMING)
    assert bare.solution_left is None
    assert "not known" in bare.why["solution_left"]
    dry = figures_of(fed(fed(FoamBalance(FIRST), 60), 5, DRY, start=60.0), DRY)
    assert dry.foam_rate is None
    assert dry.solution_left.value == 0.0
    blind = figures_of(fed(FoamBalance(FIRST), 60, air=math.nan), FOAMING)
    assert blind.foam_rate is None
    assert "neither the air flow nor" in blind.why["foam_rate"]


def test_air_that_stops_while_the_pump_runs_on_changes_nothing_of_what_was_made():
    """A pump of 18 L/min against 60 L/min of air, whose source is switched off: in seconds it flows ever less."""
    build = FIRST.with_entry("reservoir.filling", "pump").with_entry("reservoir.flow", 18 * LITRE / MINUTE)
    ledger = fed(FoamBalance(build), 60)
    before = figures_of(ledger, FOAMING)
    for k in range(100):
        air = 60 * LITRE / MINUTE * math.exp(-k * TICK / 0.3)
        ledger.feed(Tick(60.0 + (k + 1) * TICK, 10.0, math.nan, air, 310.0, 101325.0), FOAMING)
    after = figures_of(ledger, FOAMING)
    assert after.foam_total.value == pytest.approx(before.foam_total.value, rel=0.02)
    for name in ("density", "expansion", "capture"):
        assert getattr(after, name).value == pytest.approx(getattr(before, name).value, rel=0.02), name


def test_a_reservoir_that_foams_again_after_it_ran_dry_holds_nobody_knows_what():
    """20 L last for 300 s of 60 L/min. The second filling is not known, and the air it takes is not set against the
    first: what the first has told stays as it was."""
    ledger = fed(fed(FoamBalance(FIRST), 300), 5, DRY, start=300.0)
    first = figures_of(ledger, DRY)
    assert first.solution_left.value == first.foam_left.value == first.time_left.value == 0.0
    fed(ledger, 600, start=305.0)
    again = figures_of(ledger, FOAMING)
    for name in ("foam_left", "solution_left", "time_left"):
        assert getattr(again, name) is None, name
    assert "refilled amount is not known" in again.why["solution_left"]
    assert "refilled amount is not known" in again.why["time_left"]
    assert again.solution_rate.value == pytest.approx(20 * LITRE / 300, rel=0.02)
    assert figures_of(fed(ledger, 5, DRY, start=905.0), DRY).solution_left.value == 0.0
    rate = figures_of(fed(ledger, 5, start=910.0), FOAMING).solution_rate.value
    assert rate == pytest.approx(again.solution_rate.value, rel=1e-6)


def test_foam_to_go_holds_the_truth_as_often_as_it_says():
    """Monte Carlo (JCGM 101:2008): generators as the guess has them, reservoirs filled to 3 %. Every truth is reckoned by
    hand from its own share, ratio and load after two minutes of 60 L/min."""
    left = figures_of(fed(FoamBalance(FIRST), 120), FOAMING).foam_left
    rng = np.random.default_rng(7)
    n = 20_000
    caught = USUAL_CAUGHT * np.exp(U_CAUGHT * rng.standard_normal(n))
    ratio = (USUAL_EXPANSION - 1) * np.exp(U_RATIO * rng.standard_normal(n))
    load = 20 * LITRE * (1 + 0.03 * rng.standard_normal(n))
    truth = np.maximum(load - caught / ratio * 120 * LITRE, 0.0) * (1 + ratio)
    inside = np.mean((left.lower <= truth) & (truth <= left.upper))
    assert inside == pytest.approx(0.95, abs=0.015)


def test_priming_counts_as_between_nothing_and_all_and_thinning_widens():
    steady = figures_of(fed(FoamBalance(pumped()), 60), FOAMING).foam_total
    primed = figures_of(fed(fed(FoamBalance(pumped()), 30, PRIMING), 30, start=30.0), FOAMING).foam_total
    assert primed.value == pytest.approx(0.75 * steady.value, rel=0.02)
    thin = figures_of(fed(FoamBalance(pumped()), 60, THINNING), THINNING)
    assert thin.foam_rate.upper / thin.foam_rate.lower > 3
    assert any("runs out" in words for words in thin.assumptions)


def test_foam_still_in_the_hose_has_not_been_delivered():
    """5 m of the 31.4 mm outlet hold 3.87 L; expanding to ambient from a mean of 5 kPa makes that some 4 L."""
    long = pumped().with_entry("outlet.hose", 5.0)
    all_out, held = (figures_of(fed(FoamBalance(build), 60), FOAMING).foam_total.value for build in (pumped(), long))
    assert (all_out - held) / LITRE == pytest.approx(3.87 * (101325 + 5000) / 101325, rel=0.02)


def test_foam_in_the_cone_of_the_outlet_has_not_been_delivered_either():
    """A cone 300 mm long from 103.6 to 31.4 mm: pi/12 h (D^2 + D d + d^2) = 1.176 L by any handbook of solids."""
    long = pumped().with_entry("outlet.length", 0.3)
    none = pumped().with_entry("outlet.shape", "flat")
    all_out, held = (figures_of(fed(FoamBalance(build), 60), FOAMING).foam_total.value for build in (none, long))
    assert (all_out - held) / LITRE == pytest.approx(1.176 * (101325 + 5000) / 101325, rel=0.02)


def test_a_fit_of_one_observation_lies_between_guess_and_observation_by_their_weights():
    """Normal prior and normal observation (any text): precision-weighted mean. 82.59 kg/m3 observed to 3.2 %."""
    seen = observations_of(made_up_sample(), None)[0]
    known = estimate_properties([seen])
    prior, u_prior = math.log(14.0), math.log(2.0) / 1.959964
    u = math.hypot(seen.u, *seen.shared.values())
    assert u == pytest.approx(0.032, rel=0.1)
    weight = u_prior**2 / (u_prior**2 + u**2)
    assert known.mean[1] == pytest.approx(prior + weight * (seen.value - prior))
    assert known.covariance[1, 1] == pytest.approx(1 / (1 / u_prior**2 + 1 / u**2))


# --- the run as a whole ---------------------------------------------------------------------------------------------


def series(seconds=40.0, rate=100.0):
    t = np.arange(0.0, seconds, 1 / rate)
    rng = np.random.default_rng(3)
    ramp = np.minimum(t / 2.0, 1.0)

    def one(name, unit, value, time=t):
        return Series(name, unit, time, value, np.full(len(time), 1e-4), np.zeros(len(time), np.uint8))

    slow = np.arange(0.0, seconds, 1.0)
    return {
        "line_pressure": one("line_pressure", "Pa", 10e3 * ramp + 10 * rng.normal(size=len(t))),
        "standard_flow": one("standard_flow", "m3/s", 0.01 * ramp),
        "free_air_flow": one("free_air_flow", "m3/s", 0.0101 * ramp),
        "line_temperature": one("line_temperature", "K", np.full(len(slow), 310.0), slow),
    }


@pytest.mark.parametrize("length", [0.013, 0.1, 0.5, 7.0])
def test_what_a_run_says_does_not_depend_on_how_the_readings_were_cut(length):
    whole = Run(build=FIRST)
    whole.feed(series())
    cut = Run(build=FIRST)
    for batch in slices(series(), length):
        cut.feed(batch)
    assert cut.state.phase == whole.state.phase == FOAMING
    assert cut.state.output.air_used.value == pytest.approx(whole.state.output.air_used.value, rel=1e-9)
    assert cut.state.output.foam_total.value == pytest.approx(whole.state.output.foam_total.value, rel=1e-9)


def test_ticks_are_means_of_what_is_known_and_a_standing_rotor_is_no_flow():
    t = np.arange(0.0, 0.2, 0.01)
    value = np.where(t < 0.05, np.nan, 2.0)
    status = np.where(t < 0.05, 8, 0).astype(np.uint8)
    flow = Series("standard_flow", "m3/s", t, value, np.full(len(t), 0.1), status)
    pressure = Series("line_pressure", "Pa", t, np.arange(20.0), np.full(len(t), 1.0), np.zeros(len(t), np.uint8))
    ticks = Resampler().feed({"line_pressure": pressure, "standard_flow": flow})
    assert [tick.flow for tick in ticks] == [0.0, 2.0, 2.0]  # the fourth may still go on
    assert [tick.pressure for tick in ticks] == [2.0, 7.0, 12.0]
    assert [tick.time for tick in ticks] == pytest.approx([0.05, 0.10, 0.15])


def test_a_sample_takes_the_air_of_the_seconds_in_which_it_filled():
    run = Run(build=FIRST)
    run.feed(series())
    sample = run.add_sample(Weighing(10 * LITRE, 0.0, 0.7, fill_time=2.0))
    caught = (10 * LITRE / 2.0) * (1 - 1 / sample.expansion.value) / 0.0101
    assert sample.capture.value == pytest.approx(caught, rel=1e-6)
    assert run.state.samples[0].sample is sample
    with pytest.raises(InputError):
        run.add_sample(Weighing(10 * LITRE, 0.9, 0.7))
    assert len(run.state.samples) == 1


def test_a_stopped_run_keeps_its_figures_and_takes_no_more():
    run = Run(build=FIRST)
    run.feed(series())
    total = run.state.output.foam_total
    run.stop()
    run.feed(series())
    assert not run.state.running
    assert run.state.output.foam_total == total
    assert run.state.output.foam_rate is None
    assert run.state.output.why["foam_rate"] == "the run was stopped"


def test_foam_is_good_until_the_onset_of_the_first_alarm_that_spoils_it():
    """What a builder may pour: all that was made when it set in, and not what came before the alarm was raised."""
    run, totals = Run(build=FIRST), {}
    for batch in slices(series(30.0), 0.5):
        run.feed(batch)
        totals[run.state.time] = run.state.output.foam_total
    assert run.state.output.foam_good is None
    assert run.state.spoilt is None
    run.watch.state.alarms.say("clogging", 25.0, "seen")  # the foam is the same, less of it
    run.watch.state.alarms.say("thinning", 29.0, "seen", onset=20.0)
    run.watch.state.alarms.say("dry", 29.5, "seen", onset=29.4)
    for batch in slices(series(40.0), 0.5):
        if min(one.time[0] for one in batch.values()) > 30.0:
            run.feed(batch)
    state = run.state
    assert state.spoilt.code == "thinning"
    at = min(totals, key=lambda time: abs(time - 20.0))
    assert state.output.foam_good.value == pytest.approx(totals[at].value, rel=0.03)  # a quarter of a second of 20 s
    assert state.output.foam_total.value > 1.3 * state.output.foam_good.value
    run.add_sample(Weighing(10 * LITRE, 0.0, 0.7, fill_time=2.0))
    after = run.state.output  # the sample tells of all the foam, what was made before it too
    assert after.foam_good.upper / after.foam_good.lower < state.output.foam_good.upper / state.output.foam_good.lower


def test_a_load_below_nothing_is_refused():
    with pytest.raises(InputError, match="load"):
        Run(load=-1.0)


class Failing(Run):
    def feed(self, _):
        self.fed = getattr(self, "fed", 0) + 1
        if self.fed % 10 == 0:
            raise ValueError(f"in batch {self.fed}")
        raise ZeroDivisionError(f"in batch {self.fed}")


def test_a_run_that_fails_at_every_batch_is_logged_once_for_each_way_it_fails(caplog):
    running = LiveRun()
    running.start(Failing(build=FIRST))
    for _ in range(30):
        assert running.feed(series(1.0)) == []
    assert len(caplog.records) == 2
    assert running.state.trouble == "readings could not be processed: in batch 30"
    running.start(Failing(build=FIRST))  # another run tells its own
    running.feed(series(1.0))
    assert len(caplog.records) == 3


def lasting(code, size=None):
    kind = KINDS[code]
    words = (kind.severity, kind.place, kind.title, "", kind.means, kind.do)
    return Alarm(1, code, *words, 60.0, 60.0, size=None if size is None else Estimate.normal(size, 0.01, "1"))


def test_a_lost_packing_adds_at_most_half_of_the_usual_foam_and_no_rate_is_told():
    left = remaining([lasting("packing_blown")])
    known = [made_up_sample()] * 30  # so well that only what the fault leaves is open
    before, after = FoamBalance(pumped()), FoamBalance(pumped())
    for ledger in (before, after):
        for sample in known:
            ledger.add_sample(sample, 60 * LITRE / MINUTE)
        fed(ledger, 60)
    fed(after, 60, start=60.0, left=left)
    first, second = figures_of(before, FOAMING), figures_of(after, FOAMING)
    assert second.foam_rate is None
    assert "packing has left" in second.why["foam_rate"]
    more = (second.foam_total.lower - first.foam_total.value, second.foam_total.upper - first.foam_total.value)
    assert -0.1 * 49 * LITRE < more[0] < 0.1 * 49 * LITRE  # between nothing and half of the 49 L of a sound minute
    assert 0.45 * 49 * LITRE < more[1] < 0.75 * 49 * LITRE  # with the interval's own width
    assert second.air_used.value == pytest.approx(2 * 60 * LITRE, rel=1e-3)  # the air itself is counted whole


@pytest.mark.parametrize(("code", "words"), [("source_off", "no air"), ("joint_off_before", "almost no air arrives")])
def test_a_source_that_went_off_makes_no_foam_however_long_the_rotor_coasts(code, words):
    """The rotor still shows 60 L/min while it runs down. What it shows may be no air at all or all of it: a minute adds
    between nothing and the foam of a sound minute, and no foam rate is shown."""
    sound, off = FoamBalance(pumped()), FoamBalance(pumped())
    for ledger in (sound, off):
        for sample in [made_up_sample()] * 30:  # so well known that only what the fault leaves is open
            ledger.add_sample(sample, 60 * LITRE / MINUTE)
        fed(ledger, 60)
    fed(off, 60, start=60.0, left=remaining([lasting(code)]))
    first, second = figures_of(sound, FOAMING), figures_of(off, FOAMING)
    assert first.foam_rate.value == pytest.approx(49 * LITRE / MINUTE, rel=0.02)
    assert second.foam_rate is None
    assert words in second.why["foam_rate"]
    more = (second.foam_total.lower - first.foam_total.value, second.foam_total.upper - first.foam_total.value)
    assert -0.15 * 49 * LITRE < more[0] < 0.15 * 49 * LITRE
    assert 0.85 * 49 * LITRE < more[1] < 1.2 * 49 * LITRE


def test_air_that_leaks_after_the_anemometer_makes_no_foam():
    """A quarter more is measured than the build passes: of 60 L/min 48 go through."""
    sound, leaking = fed(FoamBalance(FIRST), 60, air=48 * LITRE / MINUTE), FoamBalance(FIRST)
    fed(leaking, 60, left=remaining([lasting("leak_after", 0.25)]))
    for name in ("foam_rate", "foam_total", "solution_rate", "solution_used"):
        assert getattr(figures_of(leaking, FOAMING), name).value == pytest.approx(
            getattr(figures_of(sound, FOAMING), name).value, rel=0.005
        ), name


def test_a_fault_before_the_anemometer_takes_nothing_from_what_it_measures():
    assert remaining([lasting("leak_before", -0.2)]).whole
    assert remaining([lasting("source_weak", -0.2), lasting("clogging", -0.2)]).whole
    assert not remaining([lasting("joint_off_after", -0.7)]).whole


def build_with(filling, under_liquid):
    build = read_sheet(SEASON / "builds" / "first-tube.toml")
    wet = build.with_entry("tube.under_liquid", under_liquid)
    return wet.with_entry("reservoir.filling", filling)


@pytest.mark.parametrize(
    ("filling", "under_liquid", "low"),
    [("batch", 40, 0.3), ("gravity", 0, 0.3), ("pump", 40, 0.3), ("pump", 0, 0.7), ("sprayed", 0, 0.7)],
)
def test_before_any_sample_pumped_solution_is_taken_to_catch_most_of_the_air(filling, under_liquid, low):
    """Common practice, no source. Solution pumped into a bath over the holes is no solution in the packing."""
    build = build_with(filling, under_liquid)
    known = FoamBalance(build).knowledge
    assert known.capture.lower == pytest.approx(low, rel=0.05)
    assert known.capture.upper == 1.0
    assert known.guesses_caught
    usual = FoamKnowledge.usual(build)
    assert usual.capture == pytest.approx(known.capture.value)
    assert f"{100 * low:.0f} to 100 %" in usual.assumptions[0]
    assert usual.prior


def test_a_run_begins_with_the_foam_that_other_builds_of_the_agent_gave():
    """The same figures as the generator page has before a sample, and a sample of this build outweighs them."""
    prior = FoamPrior(0.30, 0.45, ratio=11.0, u_ratio=0.15, builds=3)
    run = Run(build=FIRST, prior=prior)
    usual = FoamKnowledge.usual(FIRST, prior)
    known = run.ledger.knowledge
    assert known.capture.value == pytest.approx(usual.capture) == pytest.approx(math.sqrt(0.30 * 0.45))
    assert 1.0 + known.ratio == pytest.approx(usual.expansion) == pytest.approx(12.0)
    assert "learned from 3 other builds with this agent, range 30 to 45 %" in usual.assumptions[0]
    assert "learned from 3 other builds with this agent, within a factor of 1.3" in usual.assumptions[1]
    run.ledger.add_sample(evaluate(Weighing(0.010, 0.5, 0.5 + 0.6, fill_time=10.0), None), None)
    assert 1.0 + run.ledger.knowledge.ratio == pytest.approx(998.2 / 61.2, rel=0.06)
    assert not run.ledger.knowledge.guesses_ratio
