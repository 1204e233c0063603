"""A pour with an air source that must rest: the timetable has its rests, and a mix that is too long for it is said.

Worked by hand, and against ``curve.duty_cycle``, which the plan does not use.
"""

import itertools
import math

import pytest

import frothline as fl
from frothline.bench.pour_planning import plan_pour
from frothline.curve.duty_cycle import duty_run
from frothline.errors import InputError
from frothline.foam.batch_order import BatchOrder
from frothline.foam.concrete_batch import RESERVE
from frothline.foam.generator_run import GeneratorRun
from frothline.pours.duty import Duty
from frothline.pours.plan_entries import read_duty, read_entries
from frothline.pours.plan_order import PlanOrder, WorkTimes
from frothline.pours.plan_rows import PACE, facts, times_rows
from frothline.pours.plan_times import GENERATOR, plan_refills, timetable
from frothline.units import METRIC

TEN_TWENTY = Duty(600.0, 1200.0)
TIMES = WorkTimes(weigh=0.0, load=60.0, slurry=60.0, fold=60.0, empty=60.0, place=0.0, refill=180.0)
ORDER = PlanOrder(1.0, BatchOrder(600.0, 1.0), helpers=50, times=TIMES)


def test_the_third_mix_of_four_minutes_waits_for_a_rest_of_twenty():
    """By hand: air on at 120 and 600 s, 8 of 10 min used; the third would be 12. Air off at 840 s, so on again at 2040."""
    found = timetable(ORDER, 240.0, 0.0, 5, None, TEN_TWENTY).mixes
    assert [one.foam for one in found] == [120.0, 600.0, 2040.0, 2520.0, 3960.0]
    assert [one.foamed for one in found] == [360.0, 840.0, 2280.0, 2760.0, 4200.0]
    assert [one.rest for one in found] == [0.0, 0.0, 1200.0, 0.0, 1200.0]
    assert {one.rests for one in found} == {0}
    free = timetable(ORDER, 240.0, 0.0, 5, None).mixes
    assert [one.foam for one in free] == [120.0, 600.0, 1080.0, 1560.0, 2040.0]


def test_a_pause_of_a_whole_rest_between_two_mixes_is_a_rest():
    """Air is off for 240 s between two mixes: 60 s each to fold, empty, load and mix the slurry."""
    enough, short = (timetable(ORDER, 240.0, 0.0, 3, None, Duty(300.0, rest)).mixes for rest in (240.0, 241.0))
    assert [one.rest for one in enough] == [0.0, 0.0, 0.0]
    assert [one.rest for one in short] == [0.0, 241.0, 241.0]
    assert [one.foam - other.foam for one, other in zip(short, enough, strict=True)] == [0.0, 1.0, 2.0]


@pytest.mark.parametrize("minutes", [5, 10, 10.5, 20, 25, 47])
def test_a_mix_of_twenty_minutes_is_not_foamed_on_end(minutes):
    run = 60.0 * minutes
    (mix,) = timetable(ORDER, run, 0.0, 1, None, TEN_TWENTY).mixes
    known = duty_run(run, 600.0, 1200.0)
    assert mix.rests == known.rests
    assert mix.foamed - mix.foam == pytest.approx(known.elapsed)
    assert mix.rest == 0.0  # it begins rested


def test_each_start_after_a_rest_costs_its_time_without_foam():
    """1500 s with 10 s before the first foam: 600, then 590 of foam in each further 600: two rests, 20 s of starts."""
    (mix,) = timetable(ORDER, 1500.0, 10.0, 1, None, TEN_TWENTY).mixes
    assert mix.rests == 2
    assert mix.foamed - mix.foam == pytest.approx(1500.0 + 2 * (1200.0 + 10.0))
    # 1189 s: 600 and 589 of the 590 that are left after the start; 1191 s: one rest more
    assert [timetable(ORDER, run, 10.0, 1, None, TEN_TWENTY).mixes[0].rests for run in (1189.0, 1191.0)] == [1, 2]
    with pytest.raises(InputError, match="foam comes after 10 s"):
        timetable(ORDER, 60.0, 10.0, 1, None, Duty(8.0, 60.0))


@pytest.mark.parametrize(
    ("run", "duty", "pause"),
    list(itertools.product([45.0, 240.0, 599.0, 1300.0], [Duty(600.0, 1200.0), Duty(300.0, 90.0)], [0.0, 400.0])),
)
def test_no_source_runs_longer_than_it_may_between_two_whole_rests(run, duty, pause):
    """Counted from the table alone: stretches with air on, added up until a pause of a whole rest."""
    order = PlanOrder(1.0, BatchOrder(600.0, 1.0), helpers=50, times=WorkTimes(0.0, 60.0, pause, 60.0, 60.0, 0.0, 0.0))
    found = timetable(order, run, 0.0, 12, None, duty).mixes
    total, end = 0.0, -math.inf
    for mix in found:
        if mix.foam - end >= duty.rest - 1e-6:
            total = 0.0
        assert mix.foamed - mix.foam == pytest.approx(run + mix.rests * duty.rest)
        if mix.rests:  # whole stretches, each followed by a whole rest, and what is left
            assert total == 0.0
            total = run - mix.rests * duty.on
            assert total > 0.0
        else:
            total += run
        assert total <= duty.on + 1e-6
        end = mix.foamed
    table = timetable(order, run, 0.0, 12, None, duty)
    assert table.busy[GENERATOR] == pytest.approx(
        (12 * run + sum(one.rest + one.rests * duty.rest for one in found)) / 12
    )


def test_a_refill_takes_place_during_the_rest():
    refills = plan_refills(GeneratorRun(1, 0, None, 0.004, 0.0), 0.01, 3)  # two mixes a filling
    found = timetable(ORDER, 300.0, 0.0, 3, refills, TEN_TWENTY).mixes
    assert found[2].refill
    assert found[2].foam == found[1].foamed + 1200.0


def plan(**more):
    return plan_pour(
        None, {"volume": "200 L", "foam-density": "75 kg/m3", "output": "12 L/min", "reservoir": "20 L", **more}
    )


def test_the_plan_warns_where_a_mix_is_longer_than_the_source_may_run():
    found = plan(duty="3 min on, 20 min rest")
    foaming = found.batch.foam_volume / found.foam.output.value
    rests = duty_run(foaming, 180.0 - found.foam.start_up.value, 1200.0).rests
    assert found.seconds.value == pytest.approx(foaming + (1 + rests) * found.foam.start_up.value)
    assert found.schedule.mixes[0].rests == rests
    (said,) = [one for one in found.warnings if "air source" in one]
    assert "may run for 3 min" in said
    assert f"it rests {rests} time" in said
    assert f"air source rests {rests} time" in times_rows(found)[0][-1]
    assert dict(facts(found, METRIC)[PACE])["rests of the air source"].endswith("it runs 3 min at most")
    free = plan()
    assert not [one for one in free.warnings if "air source" in one]
    assert "rests of the air source" not in dict(facts(free, METRIC)[PACE])
    loss = found.start_loss * found.mixes * rests
    assert (found.solution - free.solution) / (1 + RESERVE) == pytest.approx(loss, rel=1e-9)
    easy = plan(duty="10 h on, 1 min rest")
    assert dict(facts(easy, METRIC)[PACE])["rests of the air source"] == "none needed; it runs 10 h at most"
    assert easy.schedule.duration == free.schedule.duration


def test_of_two_sources_the_one_with_rests_may_lose_although_it_makes_more_foam():
    one = plan(source="inflator: 14 L/min, 3 min on, 60 min rest")
    assert one.source == "foam as measured"
    assert one.paces["inflator"] > one.paces["foam as measured"]
    other = plan(source="inflator: 14 L/min")
    assert other.source == "inflator"
    table = plan(source={"inflator": "14 L/min (13 to 15), 3 min on, 60 min rest"})
    assert table.paces["inflator"] == pytest.approx(one.paces["inflator"], rel=1e-9)
    assert table.order.duties == {"inflator": Duty(180.0, 3600.0)}


@pytest.mark.parametrize(
    ("text", "on", "rest"),
    [("10 min on, 20 min rest", 600, 1200), ("90 s on 0.5 h rest", 90, 1800), ("1,5 min on, 20 min rest", 90, 1200)],
)
def test_a_duty_cycle_is_read_as_it_is_written_on_a_pump(text, on, rest):
    assert read_duty(text) == Duty(on, rest)
    values, wrong = read_entries({"source": f"inflator: 12,5 L/min, {text}"})
    output, duty = values["source"]["inflator"]
    assert duty == Duty(on, rest)
    assert output.value == pytest.approx(12.5e-3 / 60)
    assert "source" not in wrong


@pytest.mark.parametrize(
    "text", ["10 min", "10 on, 20 rest", "0 s on, 20 min rest", "10 min on", "x on, y rest", "9" * 500]
)
def test_a_duty_cycle_that_cannot_be_read_is_named_at_its_entry(text):
    values, wrong = read_entries({"duty": text})
    assert "duty" in wrong
    assert "duty" not in values
    with pytest.raises(InputError, match=r"foam.duty"):
        fl.pour_plan(volume="200 L", foam_density="75 kg/m3", output="12 L/min", duty=text)
