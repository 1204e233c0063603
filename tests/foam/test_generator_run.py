"""Run time and solution of a run that is interrupted by refills, by hand arithmetic; batch and plan agree."""

import dataclasses
import math

import pytest

from frothline.bench.pour_planning import plan_pour
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.concrete_batch import mix_batch
from frothline.foam.generator_run import MOST_FILLINGS, generator_run
from frothline.formatting import three_figures
from frothline.pours.plan_density import finished_density
from frothline.pours.plan_rows import EACH_MIX, PACE, facts
from frothline.report.batch import batch_data, batch_rows
from frothline.units import METRIC

# 60 L/min of 75 kg/m³, 4 s without foam: each start draws 4 s x 1 L/s x 75/998.2 = 0.3005 L. A reservoir of 2 L gives
# 1.8 L to a tenth of it: 1.4995 L of each filling become foam.
GIVEN = {"volume": "1 m3", "density": "600", "foam-density": "75", "output": "60 L/min", "survival": "90 %"}


def foam(reservoir=2e-3, u_start=0.0, **more):
    start = Estimate.normal(4.0, u_start, "s")
    known = Estimate.normal(75.0, 0.0, "kg/m3"), Estimate.normal(1e-3, 0.0, "m3/s"), Estimate.normal(0.9, 0.0, "1")
    return MeasuredFoam(*known, **{"start_up": start, "reservoir": reservoir} | more)


@pytest.mark.parametrize(
    ("litres", "reservoir", "refills"), [(53.1, 2e-3, 2), (97.0, 2e-3, 4), (53.1, 20e-3, 0), (19.9, 2e-3, 0), (20.0, 2e-3, 1)]
)  # fmt: skip
def test_each_start_after_a_refill_costs_its_time_and_its_solution(litres, reservoir, refills):
    """53.1 L: 3.990 L / 1.4995 L = 2.66 fillings, 3 starts; 97.0 L: 7.288/1.4995 = 4.86, 5 starts; 19.957 L fill one."""
    run = generator_run(litres * 1e-3, foam(reservoir))
    assert (run.refills, run.starts) == (refills, refills + 1)
    assert run.seconds.value == pytest.approx(litres + 4.0 * (refills + 1))
    assert run.drawn * 1e3 == pytest.approx((litres + 4.0 * (refills + 1)) * 75.0 / 998.2, rel=1e-4)
    assert run.drawn <= 0.9 * reservoir * (refills + 1)


def test_a_rest_of_the_air_source_is_a_start_too():
    """3.990 L and 2 x 0.3005 L of starts after rests: 4.591/1.4995 = 3.06, 4 fillings: 6 starts."""
    run = generator_run(53.1e-3, foam(), rests=2)
    assert (run.refills, run.starts) == (3, 6)
    assert run.seconds.value == pytest.approx(53.1 + 24.0)


def test_the_errors_of_all_starts_add_up():
    assert generator_run(53.1e-3, foam(u_start=1.0)).seconds.standard_uncertainty == pytest.approx(3.0)


def test_a_reservoir_that_a_start_empties_is_refused():
    for reservoir in (0.33e-3, 0.3005e-3 / 0.9 * (1 + 1e-12)):
        with pytest.raises(InputError, match=r"0\.301 L are drawn at each start") as raised:
            generator_run(53.1e-3, foam(reservoir))
        assert raised.value.where == "batch: reservoir"
    assert generator_run(MOST_FILLINGS * 1.49e-3 * 998.2 / 75, foam()).refills == 993  # 1490/1.4995 = 993.7
    with pytest.raises(InputError, match="too small"):
        generator_run(MOST_FILLINGS * 1.51e-3 * 998.2 / 75, foam())


def test_a_batch_with_refills_runs_for_as_long_as_its_starts_and_its_foam():
    """120 L of 600 kg/m³: 97.0 L of foam and 5 starts of 4 s are 117 s; refilled each 1.8 L/(75/998.2 L/s) = 23.96 s."""
    batch = mix_batch(BatchOrder(600, 0.12), foam())
    assert batch.foam_volume * 1e3 == pytest.approx(97.0, abs=0.05)
    assert batch.run_time.value == pytest.approx(117.0, abs=0.1)
    assert batch.refills.times == pytest.approx([23.96, 47.91, 71.87, 95.83], abs=0.01)
    assert "at each of 5 starts" in batch.dosing.words
    assert batch.run_time_of(0.5).value == pytest.approx(48.5 + 3 * 4.0, abs=0.05)  # 3.64 L: 3 fillings


def test_one_bag_draws_the_solution_of_its_own_starts():
    """By hand: 120 L draw (97.0 + 5 x 4) s x 75.14 mL/s = 8.79 L, one of 2.4 bags of 25 kg (97.0/2.4 + 3 x 4) s x
    75.14 mL/s, each with 15 % in reserve; a share of 1/2.4 of the batch would lack the solution of 0.92 starts."""
    batch = mix_batch(BatchOrder(600, 0.12, bag=20.0), foam())
    drawn = 75.0 / 998.2  # L/s
    assert batch.solution * 1e3 == pytest.approx((97.0 + 5 * 4.0) * drawn * 1.15, rel=1e-3)
    starts = generator_run(batch.foam_volume / batch.bags, foam()).starts
    one = (97.0 / batch.bags + starts * 4.0) * drawn * 1.15
    assert starts / 1.0 > 5 / batch.bags
    assert batch.per_bag["solution"] * 1e3 == pytest.approx(one, rel=1e-3)
    assert batch.per_bag["solution"] > 1.02 * batch.solution / batch.bags
    assert batch.per_bag["agent"] + batch.per_bag["solution_water"] == pytest.approx(batch.per_bag["solution"])
    assert batch.per_bag["agent"] / batch.per_bag["solution"] == pytest.approx(batch.agent / batch.solution)
    litres = f"{three_figures(one)} L"
    rows = {row[0]: row[2] for row in batch_rows(batch)}
    assert rows["foam solution"] == litres
    assert rows["agent"] == f"{three_figures(1e3 * batch.per_bag['agent'])} L"
    assert rows["water"] == f"{three_figures(1e3 * batch.per_bag['solution_water'])} L"
    table = batch.table()
    assert table["solution"].iloc[1] == pytest.approx(one * 1e-3, rel=1e-3)
    assert table["agent"].iloc[1] == pytest.approx(batch.per_bag["agent"])
    assert batch_data(batch, foam())["per_bag"]["solution"] == batch.per_bag["solution"]
    whole = mix_batch(BatchOrder(600, 0.12, bag=batch.mix.cement), foam())
    assert whole.per_bag["solution"] == pytest.approx(whole.solution, rel=1e-12)


def test_a_batch_and_a_plan_of_the_same_mix_run_equally_long():
    plan = plan_pour(given=GIVEN | {"reservoir": "2 L"})
    assert plan.batch.foam_volume * 1e3 == pytest.approx(53.1, abs=0.05)
    assert plan.seconds.value == pytest.approx(65.1, abs=0.1)
    assert plan.seconds == plan.batch.run_time
    assert dict(facts(plan, METRIC)[EACH_MIX])["foam by time, from air on"].endswith(", in 3 starts")
    one = plan.schedule.mixes[0]
    assert one.foamed - one.foam == pytest.approx(plan.seconds.value + 2 * 180.0)  # two refills of 3 min


def test_the_fillings_of_a_plan_hold_what_is_drawn():
    """16 mixes: 2 refills in each and one before each but the first are 47; 48 x 1.8 L are 86.4 L, and 78.3 L are
    drawn: 16 x (53.1 + 12) s x 75/998.2 g/s."""
    plan = plan_pour(given=GIVEN | {"reservoir": "2 L"})
    assert plan.mixes == 16
    assert plan.refills.count(16) == 47
    assert plan.solution / 1.15 == pytest.approx(78.3e-3, abs=0.1e-3)
    assert all(mix.refill for mix in plan.schedule.mixes[1:])
    said = dict(facts(plan, METRIC)[PACE])["refills of the reservoir"]
    assert said == "47 times a lift, before every further mix, and 2 times in each mix"
    large = plan_pour(given=GIVEN | {"reservoir": "20 L"})
    assert plan.solution - large.solution == pytest.approx(1.15 * 16 * 2 * 0.3005e-3, rel=1e-3)  # two starts a mix less


def test_rests_and_refills_of_a_mix_are_in_its_run():
    """On for 24 s: 57.1 s and two refills are 65.1 s, (65.1 - 24)/20 = 2.06, 3 rests; 4.89 L of solution are then 4
    fillings, 69.1 s on, still 3 rests: 7 starts."""
    plan = plan_pour(given=GIVEN | {"reservoir": "2 L", "duty": "24 s on, 1 min rest"})
    assert plan.schedule.mixes[0].rests == 3
    assert plan.starts == 7
    assert plan.seconds.value == pytest.approx(53.1 + 28.0, abs=0.1)
    assert plan.schedule.mixes[0].foamed - plan.schedule.mixes[0].foam == pytest.approx(
        plan.seconds.value + 3 * 60.0 + 3 * 180.0
    )


def test_more_starts_widen_the_density_of_foam_by_time():
    """u(V) is n Q u(t0) alone: 3 starts are three times as uncertain as one, and one has the value of no error."""
    few, many = foam(0.1, u_start=0.2), foam(u_start=0.2)
    batch = mix_batch(BatchOrder(600, 0.0657), few)
    wide = mix_batch(BatchOrder(600, 0.0657), many)
    assert (batch.starts, wide.starts) == (1, 3)
    known = [finished_density(one, one.foam, "time").mix for one in (batch, wide)]
    assert known[1].value == pytest.approx(600.0, rel=2e-3)
    assert known[1].standard_uncertainty == pytest.approx(3 * known[0].standard_uncertainty, rel=0.05)
    assert wide.dosing.u_volume == pytest.approx(3 * batch.dosing.u_volume)
    by_scale = [finished_density(batch, few, "scale", starts=n).mix.standard_uncertainty for n in (1, 4)]
    assert by_scale[1] == pytest.approx(2 * by_scale[0], rel=0.05)
    untimed = mix_batch(BatchOrder(600, 0.0657), dataclasses.replace(many, output=None))
    assert untimed.run_time is None
    assert untimed.starts == 3  # 3.99 L / 1.8 L are 2.2 fillings


@pytest.mark.parametrize(("reservoir", "starts"), [(None, 1), (20e-3, 1), (2e-3, 5)])
def test_the_solution_of_a_batch_counts_what_each_start_loses(reservoir, starts):
    """97.0 L x 75/998.2 are 7.288 L, and 0.3005 L at each start; 15 % in reserve; one part of agent in 41 (1+40)."""
    batch = mix_batch(BatchOrder(600, 0.12), foam(reservoir))
    drawn = 7.288 + starts * 0.3005
    assert batch.solution * 1e3 == pytest.approx(drawn * 1.15, abs=0.005)  # 8.73 L with one start
    assert batch.agent * 1e3 == pytest.approx(drawn * 1.15 / 41, abs=0.001)
    assert batch.solution_water == pytest.approx(batch.solution - batch.agent)


def test_the_solution_of_a_batch_is_that_of_a_plan_of_one_mix():
    """The loss is there too where the foam is measured by the bucket: 65.6 L of concrete at 12 times the output."""
    for output in ("60 L/min", "720 L/min"):
        plan = plan_pour(given=GIVEN | {"volume": "60 L", "reservoir": "20 L", "output": output})
        assert plan.mixes == 1
        batch = plan.batch
        assert batch.dosing.by == ("time" if output == "60 L/min" else "bucket")
        assert batch.solution == pytest.approx(plan.solution, rel=1e-12)
        assert batch.agent == pytest.approx(plan.agent, rel=1e-12)
        assert batch.solution / 1.15 > batch.mix.foam_water / 998.2 + 0.29e-3


def test_the_agent_that_a_start_loses_is_not_counted_to_the_cement():
    """The loss is not in the concrete: the dose to the cement is that of the foam, with and without many starts."""
    said = [mix_batch(BatchOrder(600, 0.12), foam(one, agent_parts=30)).cautions for one in (None, 2e-3)]
    assert said[0] == said[1]
    assert any("The agent is 0.56 % of the cement's mass" in one for one in said[0])  # 7.288 x 1.15/31/48.0


def test_the_density_of_a_plan_is_less_sure_with_every_start():
    """u(V) is 2.31 s x 1 L/s for one start and 3 or 7 times that with refills and rests, beside 2.5 % of 53.1 L."""
    given = GIVEN | {"survival": "90 % (89.9 to 90.1)", "foam-density": "75 (74.9 to 75.1)", "dose": "time"}
    plans = [plan_pour(given=given | {"reservoir": one}) for one in ("20 L", "2 L")]
    plans.append(plan_pour(given=given | {"reservoir": "2 L", "duty": "24 s on, 1 min rest"}))
    assert [one.starts for one in plans] == [1, 3, 7]
    u = [one.density.mix.standard_uncertainty for one in plans]
    by_hand = [math.hypot(n * 2.31, 0.025 * 53.1) for n in (1, 3)]
    assert u[1] / u[0] == pytest.approx(by_hand[1] / by_hand[0], rel=0.15)  # 2.64; the model is not quite linear
    assert u[2] > 1.5 * u[1]
    assert [one.densities["time"].standard_uncertainty for one in plans] == pytest.approx(u, rel=0.1)
