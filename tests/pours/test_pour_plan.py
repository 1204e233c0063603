"""A pour plan against a case worked by hand, the law of propagation, and statics; and what bad entries get."""

import dataclasses
import math
import random

import pytest

from frothline.bench.pour_planning import plan_pour
from frothline.errors import FrothlineError, InputError
from frothline.estimate import Estimate
from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.concrete_batch import mix_batch
from frothline.foam.generator_run import GeneratorRun
from frothline.pours.plan import make_plan
from frothline.pours.plan_density import finished_density
from frothline.pours.plan_entries import ENTRIES
from frothline.pours.plan_order import PlanOrder, WorkTimes
from frothline.pours.plan_rows import facts
from frothline.pours.plan_times import MIXER, PEOPLE, plan_refills, timetable
from frothline.units import METRIC


def exact(value, unit):
    return Estimate(value, 0.0, value, value, unit)


# 1 m³ at 600 kg/m³, w/c 0.50, foam of 50 kg/m³ that loses nothing. Worked by absolute volumes, per m³: cement 400 kg,
# water into the mixer 164.58 kg, foam 708.44 L with 35.42 kg of water, slurry 1936.4 kg/m³.
FOAM = MeasuredFoam(
    exact(50.0, "kg/m3"), exact(1e-3, "m3/s"), survival=exact(1.0, "1"), start_up=exact(5.0, "s"), reservoir=0.02
)
ORDER = PlanOrder(1.0, BatchOrder(600.0, 1.0), height=1.0, waste=0.0, lift=0.5, mixer=0.5, fill=0.5, helpers=2)


@pytest.fixture(scope="module")
def plan():
    return make_plan(ORDER, FOAM)


def test_a_cubic_metre_in_a_mixer_that_takes_a_quarter_is_as_worked_by_hand(plan):
    assert (plan.lifts, plan.per_lift, plan.mixes) == (2, 2, 4)  # two lifts of 0.5 m; slurry and foam fill 250 L
    assert plan.batch.order.volume == pytest.approx(0.25)
    assert plan.batch.mix.cement == pytest.approx(100.0)
    assert plan.batch.mix.mixer_water == pytest.approx(41.145, abs=0.002)
    assert plan.batch.foam_volume == pytest.approx(0.17711, abs=5e-6)
    assert plan.batch.dosing.buckets == pytest.approx(17.71, abs=0.005)  # of 10 L
    assert plan.drop == pytest.approx(8.856, abs=0.001)  # 35.42 kg / 4
    assert plan.seconds.value == pytest.approx(5.0 + 177.11, abs=0.01)  # t0 + V/Q
    assert plan.start_loss == pytest.approx(5.0 * 1e-3 * 50.0 / 1000.0, rel=0.003)  # Q ρ_f t0, as solution


def test_without_uncertainty_every_mix_has_the_target_density(plan):
    for found in (plan.density.mix, plan.density.pour, plan.densities["time"]):
        assert found.value == pytest.approx(600.0, abs=0.01)
        assert found.standard_uncertainty < 0.01


def test_the_masses_of_all_mixes_add_up_to_the_density_times_the_volume(plan):
    mix = plan.batch.mix
    assert plan.mixes * (mix.cement + mix.mixer_water + plan.drop) == pytest.approx(600.0, rel=1e-6)


def test_a_form_is_pressed_as_by_a_liquid(plan):
    """p = ρ g h and F = ½ ρ g h² (ACI 347 for concrete that flows): 600 kg/m³, 0.5 m, 9.80665 m/s²."""
    assert plan.pressure == pytest.approx(2942.0, abs=0.1)
    assert plan.force == pytest.approx(735.5, abs=0.1)
    assert plan.unset_pressure == pytest.approx(2 * plan.pressure)


def test_the_core_can_warm_as_much_as_the_cement_s_heat_allows(plan):
    """Paste of w/c 0.5 holds 1.89 kJ/(kg K) (Bentz 2007); 349 kJ for each of 2/3 kg of cement in 1 kg of paste."""
    assert plan.heat_rise == pytest.approx(349.0 / 1.5 / 1.89, rel=0.003)


def test_waste_is_poured_too():
    more = make_plan(dataclasses.replace(ORDER, waste=0.10), FOAM)
    assert more.mixes * more.batch.order.volume == pytest.approx(1.10)
    assert more.mixes == 6  # three for each lift of 550 L


def test_foam_that_dies_in_the_mixer_still_has_to_fit_into_it():
    """With 80 % survival more foam is put in than stays: four mixes of a quarter would overflow."""
    lossy = dataclasses.replace(FOAM, survival=exact(0.8, "1"))
    found = make_plan(ORDER, lossy)
    assert found.mixes == 6
    assert found.batch.mix.base_volume + found.batch.foam_volume <= ORDER.usable


# --- pace -------------------------------------------------------------------------------------------------------------

MINUTES = WorkTimes(weigh=240, load=120, slurry=180, fold=120, empty=180, place=240, refill=180)


def test_two_people_wait_for_the_mixer_and_one_keeps_it_waiting():
    """Foam 100 s. Mixer: 2 + 3 + 1:40 + 2 + 3 min = 700 s. People: 4 + 2 + 1:40 + 2 + 3 + 4 min = 1000 s for one."""
    order = dataclasses.replace(ORDER, times=MINUTES)
    two = timetable(order, 100.0, 5.0, 3, None)
    assert two.busy == pytest.approx({MIXER: 700.0, "foam generator": 100.0, PEOPLE: 500.0})
    assert two.bottleneck == MIXER
    assert [one.load for one in two.mixes] == [0.0, 700.0, 1400.0]
    assert two.duration == 2100.0 + 120.0  # the last mix is placed by two
    alone = timetable(dataclasses.replace(order, helpers=1), 100.0, 5.0, 3, None)
    assert alone.bottleneck == PEOPLE
    assert [one.load for one in alone.mixes] == [0.0, 1000.0, 2000.0]


def test_a_slow_generator_limits_the_pace_only_when_it_refills_longer_than_the_mixer_works():
    """18 L of 20 L are used (a tenth stays): 9 L a mix are two mixes, so it is refilled before the third."""
    refills = plan_refills(GeneratorRun(1, 0, None, 0.009, 0.0), 0.02, 5)
    assert refills.before == (3, 5)
    assert plan_refills(GeneratorRun(1, 0, None, 0.018, 0.0), 0.02, 3).before == (2, 3)
    large = plan_refills(GeneratorRun(3, 2, None, 0.040, 0.0), 0.02, 3)  # 18 + 18 + 4 L
    assert (large.within, large.before, large.count(3)) == (2, (2, 3), 8)
    assert plan_refills(GeneratorRun(1, 0, None, 0.009, 0.0), None, 5) is None
    long = dataclasses.replace(ORDER, times=dataclasses.replace(MINUTES, refill=3600.0))
    found = timetable(long, 100.0, 5.0, 5, refills)
    assert found.mixes[2].foam == found.mixes[1].foamed + 3600.0
    assert found.bottleneck == "people" if found.busy["people"] > found.busy["foam generator"] else "foam generator"


def test_a_lift_that_outlasts_the_setting_and_foam_that_outlives_its_use_are_named():
    slow = dataclasses.replace(ORDER, times=dataclasses.replace(MINUTES, setting=600.0), life=200.0)
    said = " ".join(make_plan(slow, FOAM).warnings)
    assert "cement may set from 10 min" in said
    assert "The pace is limited by the mixer" in said
    assert "is 4 min 57 s old" in said
    assert "within 3 min 20 s (as entered)" in said
    assert "cement may set" not in " ".join(make_plan(ORDER, FOAM).warnings)


def test_the_source_that_pours_a_lift_soonest_is_chosen():
    """The leaf blower makes four times the foam: 177 s become 44 s."""
    found = make_plan(dataclasses.replace(ORDER, sources={"leaf blower": exact(4e-3, "m3/s")}), FOAM)
    assert found.source == "leaf blower"
    assert found.seconds.value == pytest.approx(5.0 + 177.11 / 4, abs=0.01)
    assert found.paces["leaf blower"] < found.paces["foam as measured"]
    slower = make_plan(dataclasses.replace(ORDER, sources={"inflator": exact(1e-4, "m3/s")}), FOAM)
    assert slower.source == "foam as measured"


def test_without_a_foam_output_there_are_masses_and_buckets_and_no_timetable():
    found = make_plan(ORDER, dataclasses.replace(FOAM, output=None))
    assert found.schedule is None
    assert found.method == "bucket"
    assert "foam output is not known" in found.warnings[0]
    assert math.isnan(found._observations().rows[0]["load"])
    with pytest.raises(InputError, match="foam output"):
        found.plot()
    with pytest.raises(InputError, match="without its output"):
        make_plan(dataclasses.replace(ORDER, dose="time"), dataclasses.replace(FOAM, output=None))


# --- density ----------------------------------------------------------------------------------------------------------


def uncertain(**more):
    given = {
        "density": Estimate.normal(50.0, 1.0, "kg/m3"),
        "output": Estimate.normal(1e-3, 2e-5, "m3/s"),
        "survival": Estimate.normal(0.9, 0.01, "1"),
        "start_up": Estimate.normal(5.0, 0.5, "s"),
    }
    return dataclasses.replace(FOAM, **{**given, **more})


@pytest.mark.parametrize("method", ["time", "bucket"])
def test_the_simulated_density_agrees_with_the_law_of_propagation(method):
    """JCGM 100 eq. 10 against JCGM 101, where the model is nearly linear; 10,000 draws know u to 0.7 %."""
    foam = uncertain() if method == "time" else uncertain(output=None)
    batch = mix_batch(BatchOrder(600.0, 0.25), foam)
    assert batch.dosing.by == method
    found = finished_density(batch, foam, method).mix
    assert found.standard_uncertainty == pytest.approx(batch.cast_density.standard_uncertainty, rel=0.04)
    assert found.value == pytest.approx(batch.cast_density.value, rel=0.003)
    assert found.lower == pytest.approx(batch.cast_density.lower, rel=0.01)


def test_foam_by_the_scale_is_as_sure_as_the_scale_and_the_foam_s_density():
    """By mass the volume is m/ρ_f. With a mass error of 0.02 kg and 0.5 s in 8.9 kg the density of the foam rules."""
    foam = uncertain(survival=exact(0.9, "1"))
    batch = mix_batch(BatchOrder(600.0, 0.25), foam)
    u = finished_density(batch, foam, "scale").mix.standard_uncertainty
    mass, air = 150.0, batch.foam_volume * 0.9  # D = m/V, V changes by the air: u(D)/D = u(ρ_f)/ρ_f · air/V
    assert u == pytest.approx(mass / 0.25 * 0.02 * air / 0.25, rel=0.08)


def test_no_draw_has_more_air_than_was_put_in():
    foam = uncertain(
        survival=Estimate(0.97, 0.05, 0.86, 1.0, "1"), output=exact(1e-3, "m3/s"), density=exact(50.0, "kg/m3")
    )
    foam = dataclasses.replace(foam, start_up=exact(5.0, "s"))
    batch = mix_batch(BatchOrder(600.0, 0.25), foam)
    lightest = 600.0 * 0.25 / (batch.mix.base_volume + batch.foam_volume)
    assert finished_density(batch, foam, "time").mix.lower >= lightest - 1e-6


def test_the_mean_of_many_mixes_is_surer_than_any_one():
    foam = uncertain(survival=Estimate.normal(0.9, 0.03, "1"))
    batch = mix_batch(BatchOrder(600.0, 0.25), foam)
    found = finished_density(batch, foam, "time", 12)
    assert found.pour.standard_uncertainty < 0.9 * found.mix.standard_uncertainty
    uneven = finished_density(batch, dataclasses.replace(foam, scatter=0.02), "time", 12)
    even = finished_density(batch, dataclasses.replace(foam, scatter=0.005), "time", 12)
    assert uneven.pour.standard_uncertainty < 0.9 * even.pour.standard_uncertainty  # what differs evens out
    assert uneven.mix.standard_uncertainty == pytest.approx(even.mix.standard_uncertainty, rel=0.04)
    assert found == finished_density(batch, foam, "time", 12)  # the same seed
    assert found != finished_density(batch, foam, "time", 12, seed=1)


# --- entries ----------------------------------------------------------------------------------------------------------

GIVEN = {"volume": "400 L", "foam-density": "75 kg/m3 (73 to 77)", "output": "60 L/min (55 to 65)"}


def problems(**given):
    with pytest.raises(InputError) as raised:
        plan_pour(given=GIVEN | {name.replace("_", "-"): text for name, text in given.items()})
    return str(raised.value)


def test_everything_that_is_wrong_is_said_at_once():
    said = problems(helpers="0", density="2400", fill="60", waste="much", output="60 L/min (70 to 80)", load="2")
    for words in (
        "6 entries cannot be used",
        "team.helpers: “0” must be 1 or more: somebody has to run the mixer",
        "concrete.density: 2400 kg/m³ is not lighter than the slurry without foam, 1835 kg/m³",
        "mixer.fill: “60” can be read two ways: write “60 %”",
        "form.waste: “much” is not a number",
        "foam.output: “60 L/min (70 to 80)”: the value is not inside its interval",
        "times.load: “2” is not a time with its unit",
    ):
        assert words in said


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"mixer": "10 L"}, "the mixer takes 6 L, less than one bucket of foam (10 L)"),
        ({"mixer": "20 L", "volume": "40 m³"}, "more than 300 mixes"),
        ({"length": "2 m", "width": "1 m", "height": "1 m"}, "volume is 400 L, and length × width × height are 2000 L"),
        ({"volume": "", "length": "2 m"}, "width and height missing"),
        ({"volume": ""}, "the volume is missing"),
        ({"foam-density": ""}, "the foam density is not known"),
        ({"density": "100 kg/m³"}, "not plausible"),
        ({"basis": "wet"}, "write cast or dry"),
        ({"source": "leaf blower 240 L/min"}, "is not a source"),
        ({"survival": "110 %"}, "not plausible"),
        ({"helpers": "2.5"}, "not a whole number"),
        ({"colour": "red"}, "“colour” is not known here"),
    ],
)
def test_an_impossible_plan_is_asked_back_with_its_remedy(given, words):
    assert words in problems(**given)


def test_the_interval_of_the_output_is_the_stated_one():
    found = plan_pour(given=GIVEN).foam.output
    assert (found.lower * 6e4, found.upper * 6e4) == pytest.approx((55.0, 65.0))
    assert found.standard_uncertainty * 6e4 == pytest.approx(10.0 / 3.92, rel=1e-3)


ODD = "0|-1|1e308|nan|inf|½|1,200|5 furlongs|𝟜|%|(1 to 2)|: ; :|x" + "y" * 99


@pytest.mark.parametrize("times", [60, pytest.param(3000, marks=pytest.mark.exhaustive)])
def test_whatever_is_typed_gives_a_plan_or_words(times):
    rng = random.Random(3)
    for _ in range(times):
        given = dict(GIVEN)
        for _ in range(rng.randint(1, 4)):
            given[rng.choice(ENTRIES).name] = rng.choice([*ODD.split("|"), True, None, [], {}, 3.7, 10**400])
        try:
            found = plan_pour(given=given)
        except FrothlineError:
            continue
        assert facts(found, METRIC)
        repr(found)


def test_a_stated_survival_of_all_the_air_keeps_its_doubt_on_one_side():
    """100 % with u = 5 %: no draw is above it, so the half-normal mean is 1 - 0.8 u, and the concrete is heavier."""
    foam = uncertain(
        survival=Estimate(1.0, 0.05, 0.9, 1.0, "1"), output=exact(1e-3, "m3/s"), density=exact(50.0, "kg/m3")
    )
    foam = dataclasses.replace(foam, start_up=exact(5.0, "s"))
    batch = mix_batch(BatchOrder(600.0, 0.25), foam)
    found = finished_density(batch, foam, "time").mix
    air = batch.foam_volume / 0.25 * 0.95  # of the volume
    assert found.value == pytest.approx(600.0 * (1 + 0.8 * 0.05 * air), rel=0.01)
    assert found.standard_uncertainty > 0.4 * 600.0 * 0.05 * air
    assert found.lower >= 599.9


def test_a_volume_that_nearly_is_that_of_the_form_is_taken_as_given():
    sizes = {"length": "2 m", "width": "200 mm", "height": "1 m"}
    assert plan_pour(given=GIVEN | sizes | {"volume": "405 L"}).order.volume == pytest.approx(0.405)
    assert "leave one out" in problems(**sizes, volume="410 L")


def test_the_size_of_a_pour_has_a_limit_of_300_mixes():
    assert plan_pour(given=GIVEN | {"volume": "19 m³", "mixer": "120 L"}).mixes > 290
    assert "more than 300" in problems(volume="21.6 m³", mixer="120 L")


def test_an_unsure_start_makes_the_density_unsure_by_the_foam_of_its_seconds():
    """u(t0) = 5 s of 177 s: u(D)/D = u(V)/V times the air's share of the volume."""
    foam = dataclasses.replace(FOAM, start_up=Estimate(10.0, 5.0, 0.0, 20.0, "s"))
    batch = mix_batch(BatchOrder(600.0, 0.25), foam)
    expected = 600.0 * 5.0 / 177.11 * batch.foam_volume * 0.95 / 0.25
    assert finished_density(batch, foam, "time").mix.standard_uncertainty == pytest.approx(expected, rel=0.04)


def test_the_shopping_list_has_the_solution_of_every_start_and_a_reserve():
    """4 mixes of 8.856 L and 0.25 L at the start, 15 % more: 41.89 L; at 1+40 1.022 L of agent, 40.86 L of water."""
    found = {one.name: one.amount for one in make_plan(ORDER, FOAM).shopping}
    assert found["cement"] == pytest.approx(400.0)
    assert found["agent"] == pytest.approx(1.022e-3, rel=2e-3)
    assert found["water"] == pytest.approx((4 * 41.145 + 40.86) * 1e-3, rel=3e-3)  # 998 or 1000 kg/m³
    assert "sand" not in found


def test_between_two_lifts_there_is_one_wait():
    found = make_plan(dataclasses.replace(ORDER, times=dataclasses.replace(MINUTES, wait=86400.0)), FOAM)
    rows = dict(facts(found, METRIC)["Pace"])
    whole = 2 * found.schedule.duration + 86400.0
    assert rows["all lifts, with waiting"] == f"{int(whole // 3600)} h {round(whole % 3600 / 60)} min"
