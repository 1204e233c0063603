"""A plan file, and what is proposed from the trials beside it."""

import pytest
from builds import FIRST
from test_trial_effects import trial

from frothline.bench.notebook_plan import next_of, planned_sheet_changes, read_plan
from frothline.bench.sheet import edit_sheet, examine, write_sheet
from frothline.errors import InputError

PLAN = """
reference = "first.toml"
batches = 2

[factors]
"packing.length" = ["150 mm", "100 mm", "200 mm"]
"tube.rows" = [4, 6, 8]
solution.dilution = ["1+20", "1 in 31"]

[along]
"packing.mass" = "packing.length"
"tube.under_liquid" = "tube.rows"

[[wish]]
response = "density"
low = "60 kg/m3"
high = 70
"""


@pytest.fixture
def plan(tmp_path):
    def write(text=PLAN):
        (tmp_path / "first.toml").write_text(write_sheet(FIRST))
        path = tmp_path / "plan.toml"
        path.write_text(text)
        return read_plan(path)

    return write


def test_parts_at_hand_are_read_as_on_the_sheet_in_si_and_in_order(plan):
    found = plan()
    assert {f.name: f.levels for f in found.factors} == {
        "packing.length": pytest.approx((0.10, 0.15, 0.20)),
        "tube.rows": (4, 6, 8),
        "solution.dilution": pytest.approx((1 / 31, 1 / 21)),  # 1+30 and 1 in 31 are the same solution
    }
    assert (found.wishes[0].low, found.wishes[0].high) == (60.0, 70.0)


def test_what_goes_along_goes_in_proportion(plan):
    build = plan().build({"packing.length": 0.20, "tube.rows": 8, "solution.dilution": 1 / 21})
    # the reference has 80 g in 150 mm and 36 of its holes under liquid at 6 rows
    assert build.packing.mass == pytest.approx(0.080 * 200 / 150)
    assert build.tube.under_liquid == 48
    assert str(build.solution.dilution) == "1+20"


def test_the_planned_build_can_be_written_into_the_sheet(plan, tmp_path):
    found = plan()
    settings = {"packing.length": 0.20, "tube.rows": 8, "solution.dilution": 1 / 21}
    text = edit_sheet((tmp_path / "first.toml").read_text(), planned_sheet_changes(found, settings))
    sheet = examine(text)
    assert sheet.build is not None, sheet.problems
    assert sheet.build.tube == found.build(settings).tube
    assert sheet.build.packing.mass == pytest.approx(found.build(settings).packing.mass)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"tube.rows" = [4, 6, 8]', '"tube.row" = [4, 6]', "tube.row"),
        ("[4, 6, 8]", '"4"', "are a list"),
        ('response = "density"', 'response = "beauty"', "no figure to wish for"),
        ('low = "60 kg/m3"', 'low = "60 mm"', "60 mm"),
        ('low = "60 kg/m3"', 'low = "90 kg/m3"', "low below its high"),
        ('= "packing.length"\n', '= "outlet.bore"\n', "that is no factor"),
        ("batches = 2", "batches = 0", "batches"),
        ('reference = "first.toml"', 'reference = "lost.toml"', "lost.toml"),
        ("batches = 2", "bathces = 2", "bathces"),
        ("[factors]", "[factors", "cannot be read"),
    ],
)
def test_a_plan_that_is_wrong_says_where(plan, old, new, said):
    assert old in PLAN
    with pytest.raises(InputError) as caught:
        plan(PLAN.replace(old, new))
    assert said in str(caught.value)


def test_without_trials_the_first_runs_are_drawn_by_lot_with_the_reference_in_every_batch(plan):
    found = next_of(plan(), [])
    assert found.proposal is None
    reference = {"packing.length": pytest.approx(0.15), "tube.rows": 6, "solution.dilution": pytest.approx(1 / 31)}
    for batch in (1, 2):
        assert sum(run.settings == reference for run in found.runs if run.batch == batch) == 1
    assert next_of(plan(), []).runs == found.runs  # the same lot again
    assert any(next_of(plan(), [], seed=k).runs != found.runs for k in range(1, 5))


def made(plan_file, number, density, length, rows, dilution):
    settings = {"packing.length": length, "tube.rows": rows, "solution.dilution": dilution}
    return trial(number, density, plan_file.build(settings))


def test_once_the_trials_tell_the_factors_apart_it_is_one_run_at_a_time(plan):
    p = plan()
    trials = [
        made(p, 1, 95.0, 0.10, 4, 1 / 31),
        made(p, 2, 80.0, 0.20, 4, 1 / 31),
        made(p, 3, 92.0, 0.10, 8, 1 / 31),
        made(p, 4, 93.0, 0.10, 4, 1 / 21),
    ]
    found = next_of(p, trials)
    assert found.runs == ()
    # a longer packing brought 15 of the 25 to 35 kg/m3 that are wanted, the others a little: all together is the
    # direction that any reader of the four figures would take
    assert found.proposal.settings["packing.length"] == pytest.approx(0.20)
    assert found.reason.count(". ") == 0  # one sentence
    assert "the chance that every wish is met" in found.reason
    assert found.build.packing.length == pytest.approx(0.20)


def test_trials_that_do_not_belong_are_left_out_and_named(plan):
    p = plan()
    odd = FIRST.with_entry("outlet.bore", 0.026)
    found = next_of(p, [trial(1, 90.0), trial(2, 85.0), trial(3, 80.0, odd), trial(4, 70.0, source="blower")])
    assert found.used == ("t1", "t2")
    said = " ".join(found.left_out)
    assert "outlet bore differ from the reference" in said
    assert "another air source (blower)" in said


def test_a_wish_that_is_met_is_said(plan):
    p = plan()
    found = next_of(p, [made(p, 1, 65.0, 0.10, 4, 1 / 31), made(p, 2, 80.0, 0.20, 8, 1 / 21)])
    assert found.met == ("t1",)
    assert found.reason.startswith("Every wish is met already by t1")
