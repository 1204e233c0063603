"""Foam is used within the time in which 25 % of its liquid drains, where it was read; else within 5 min."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from builds import FIRST

from frothline.bench.batch_form import foam_of
from frothline.bench.pour_planning import plan_pour
from frothline.estimate import Estimate
from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.concrete_batch import mix_batch
from frothline.foam.life import FoamLife, in_minutes, life_by_drainage
from frothline.pours.plan import make_plan
from frothline.pours.plan_order import PlanOrder
from frothline.pours.plan_rows import facts
from frothline.trials.notebook import open_notebook
from frothline.trials.workshop_foam import foam_for_batch, foam_habits
from frothline.units import METRIC

SEASON = Path(__file__).parents[2] / "recordings" / "season"
GIVEN = {"volume": "100 L", "density": "600 kg/m3"}


def drained(seconds, u=10.0):
    return Estimate.normal(seconds, u, "s")


def trial(build=FIRST, seconds=240.0, *, simulated=False, title="May"):
    return SimpleNamespace(
        build=build, title=title, simulated=simulated, drainage=None if seconds is None else drained(seconds),
        drainage_depth=0.19, start_up=None, cups=(), jars=(), survival=None,
    )  # fmt: skip


def other(**solution):
    return replace(FIRST, tube=replace(FIRST.tube, hole=0.003), solution=replace(FIRST.solution, **solution))


def life(trials, build=FIRST):
    return foam_habits(build, trials).get("life")


def test_the_life_is_the_drainage_time_and_says_where_it_comes_from():
    found = life_by_drainage(drained(240.0), "trial “May”", 0.19)
    assert (found.time, found.measured) == (240.0, True)
    assert found.origin == "25 % of the liquid drains in 240 s (220 to 260, 95 %), at 190 mm of foam: trial “May”"
    assert life_by_drainage(None, "x") is None
    assert life_by_drainage(Estimate(float("nan"), float("nan"), float("nan"), float("nan"), "s"), "x") is None
    assert life_by_drainage(drained(4.0, 1.0), "x").time == 10.0
    assert life_by_drainage(drained(9000.0), "x").time == 7200.0
    assert (FoamLife().time, FoamLife().measured) == (300.0, False)
    assert [in_minutes(one) for one in (45.2, 119.0, 120.0, 250.0)] == ["45 s", "119 s", "2 min", "4 min 10 s"]


def test_the_newest_trial_of_the_build_comes_before_the_agent_s_and_real_ones_before_simulated():
    trials = [trial(seconds=200.0), trial(seconds=240.0), trial(seconds=None), trial(other(), 500.0)]
    assert life(trials).time == 240.0
    assert "(same build)" in life(trials).origin
    assert life(trials, other()).time == 500.0
    assert life(trials[:2], other()).time == 240.0
    assert "(another build, same agent)" in life(trials[:2], other()).origin
    assert life(trials[:2], other(agent="another soap")) is None
    assert life([trial(seconds=200.0), trial(seconds=400.0, simulated=True)]).time == 200.0
    assert "simulated" in life([trial(seconds=400.0, simulated=True)]).origin


def test_a_plan_of_a_trial_uses_its_drainage_and_an_entry_comes_first():
    """The first foam of the season drained 25 % in 390 s."""
    chosen = open_notebook(SEASON).trial("04-05-first-tube")
    found = plan_pour(given=GIVEN, trial=chosen)
    assert found.foam.life.time == pytest.approx(chosen.drainage.value)
    assert "First foam" in found.foam.life.origin
    rows = dict(row for group in facts(found, METRIC).values() for row in group)
    assert rows["foam is used within"].startswith(f"{in_minutes(chosen.drainage.value)}; 25 % of the liquid drains in")
    own = plan_pour(given=GIVEN | {"life": "4 min"}, trial=chosen)
    assert (own.foam.life.time, own.foam.life.origin) == (240.0, "as entered")
    plain = plan_pour(given=GIVEN | {"foam-density": "75 kg/m3", "output": "60 L/min"})
    assert (plain.foam.life.time, plain.foam.life.measured) == (300.0, False)


def test_a_plan_warns_by_the_drainage():
    """177.11 L at 1 L/s and 120 s to fold in are 297 s, see ``test_pour_plan``."""
    foam = MeasuredFoam(
        *(Estimate(v, 0.0, v, v, u) for v, u in ((50.0, "kg/m3"), (1e-3, "m3/s"), (1.0, "1"), (5.0, "s")))
    )
    order = PlanOrder(1.0, BatchOrder(600.0, 1.0), height=1.0, waste=0.0, lift=0.5, mixer=0.5, fill=0.5, helpers=2)
    short, enough = (replace(foam, life=life_by_drainage(drained(time), "trial “May”")) for time in (290.0, 305.0))
    assert any("4 min 57 s old" in one and "trial “May”" in one for one in make_plan(order, short).warnings)
    assert not any("is to be used" in one for one in make_plan(order, enough).warnings)


def test_a_batch_warns_where_its_first_foam_is_too_old_and_says_the_life():
    """708.44 L of foam a m³ at 1 L/s: 708 s without the start."""
    foam = MeasuredFoam(
        *(Estimate(v, 0.0, v, v, u) for v, u in ((50.0, "kg/m3"), (1e-3, "m3/s"), (1.0, "1"), (5.0, "s")))
    )
    order = BatchOrder(600.0, 1.0)
    short, enough = (replace(foam, life=life_by_drainage(drained(time), "trial “May”")) for time in (700.0, 712.0))
    assert any("11 min 48 s old" in one and "11 min 40 s" in one for one in mix_batch(order, short).warnings)
    assert not any("old when" in one for one in mix_batch(order, enough).warnings)
    assert any(one.startswith("Foam is used within 11 min 52 s: 25 %") for one in mix_batch(order, enough).said)
    assert not any("is to be used" in one or "is used within" in one for one in mix_batch(order, foam).said)


def test_a_batch_of_a_trial_and_of_a_run_under_way_have_the_drainage():
    book = open_notebook(SEASON)
    chosen = book.trial("04-12-narrow-outlet")
    assert foam_for_batch(chosen, book.trials).life.time == pytest.approx(chosen.drainage.value)
    sample = SimpleNamespace(drainage=drained(150.0), depth=0.2, container=0.005, shared={})
    output = SimpleNamespace(density=Estimate.normal(60.0, 1.0, "kg/m3"), foam_rate=None, why={})
    taken = [SimpleNamespace(sample=sample, counts=counts) for counts in (True, False)]
    run = SimpleNamespace(output=output, samples=taken[:1], alarms=(), state="", ended=None)
    habits = {"life": life_by_drainage(drained(400.0), "earlier")}
    dilution = FIRST.solution.dilution
    given = Estimate.normal(60.0, 1.0, "kg/m3"), Estimate.normal(1e-3, 1e-5, "m3/s")
    assert foam_of(*given, None, dilution, habits)[0].life.time == 400.0
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("frothline.bench.batch_form.no_foam_reason", lambda _: "")
        assert foam_of(*given, run, dilution, habits)[0].life.time == 150.0
        run.samples = taken[1:]
        assert foam_of(*given, run, dilution, habits)[0].life.time == 400.0
