"""What goes along with a changed entry, by one rule for page, prompt, size search and plan."""

import dataclasses
import shutil
from pathlib import Path

import pytest
from prompt_json import result_of
from waiting import until

from frothline import cli
from frothline.errors import InputError
from frothline.generator.linked_entries import RULES, along_entries, go_along
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.generator.sheet import edit_sheet, parse_sheet, read_sheet
from frothline.generator.size_search import find_size
from frothline.physics.packing import voidage_from_mass
from frothline.sweep.recorded_source import load_sweeps
from frothline.trials.notebook import open_notebook
from frothline.trials.plan_file import read_plan

SEASON = Path(__file__).parents[2] / "recordings" / "season"
SWEEP = SEASON / "03-29-sweep-shop-motor.froth"
FIRST = SEASON / "builds" / "first-tube.toml"
STEEL = 7850.0  # kg/m3: plain carbon steel, EN 10088 and any handbook of engineering


def first():
    return read_sheet(FIRST)


def voidage(build):
    """By hand: one less the share of the room that the wire fills."""
    area = 3.141592653589793 / 4 * build.body.bore**2
    return 1 - build.packing.mass / STEEL / (area * build.packing.length)


@pytest.mark.parametrize(
    ("path", "factor"), [("packing.length", 2.0), ("packing.length", 0.5), ("packing.length", 1.3), ("body.bore", 1.2)]
)
def test_more_of_the_same_wool_has_the_same_porosity(path, factor):
    build = first()
    part, _, name = path.partition(".")
    after, moved = go_along(build, build.with_entry(path, factor * getattr(getattr(build, part), name)))
    assert voidage(after) == pytest.approx(voidage(build), rel=1e-9)
    assert voidage_from_mass(after.packing.mass, STEEL, after.body.bore, after.packing.length) == pytest.approx(
        voidage_from_mass(build.packing.mass, STEEL, build.body.bore, build.packing.length), rel=1e-9
    )
    assert [one.path for one in moved] == ["packing.mass"]
    assert after.packing.mass == pytest.approx(build.packing.mass * factor ** (1 if part == "packing" else 2))


@pytest.mark.parametrize(("path", "after"), [("tube.rows", 8), ("tube.holes_per_row", 20), ("tube.rows", 1)])
def test_the_same_share_of_the_holes_is_under_liquid(path, after):
    build = first()
    assert build.tube.under_liquid
    changed, moved = go_along(build, build.with_entry(path, after))
    share = build.tube.under_liquid / build.tube.holes
    assert changed.tube.under_liquid == pytest.approx(share * changed.tube.holes, abs=0.5)
    assert isinstance(changed.tube.under_liquid, int)
    assert [one.path for one in moved] == ["tube.under_liquid"]


def test_what_is_set_by_itself_or_has_nothing_to_follow_stays():
    build = first()
    longer = build.with_entry("packing.length", 0.4).with_entry("packing.mass", 0.5)
    assert go_along(build, longer, ("packing.mass",)) == (longer, ())
    for same in (build, build.with_entry("outlet.bore", 0.03), build.with_entry("tube.hole", 0.003)):
        assert go_along(build, same) == (same, ())
    dry = build.with_entry("tube.under_liquid", 0)
    assert go_along(dry, dry.with_entry("tube.rows", 9))[1] == ()
    beads = dataclasses.replace(
        build, packing=dataclasses.replace(build.packing, kind="beads", mass=None, wire=None, bead=0.004)
    )
    assert go_along(beads, beads.with_entry("packing.length", 0.5))[1] == ()
    other = build.with_entry("packing.length", 0.5).with_entry("packing.material", "stainless steel")
    assert go_along(build, other)[1] == ()  # other wool: its mass has to be weighed


@pytest.mark.parametrize("order", [("packing.voidage", "packing.length"), ("packing.length", "packing.voidage")])
def test_the_mass_does_not_go_along_where_the_voidage_is_stated(order):
    typed = {"packing.voidage": 0.95, "packing.length": "500 mm"}
    assert along_entries(first(), {path: typed[path] for path in order}) == ({}, ())
    stated = first().with_entry("packing.voidage", 0.95)
    assert go_along(stated, stated.with_entry("packing.length", 0.5)) == (
        stated.with_entry("packing.length", 0.5),
        (),
    )


def test_there_and_back_again_is_the_same_build():
    build = first()
    for path, value in (("packing.length", 0.37), ("tube.rows", 11), ("body.bore", 0.07)):
        part, _, name = path.partition(".")
        there, _ = go_along(build, build.with_entry(path, value))
        back, _ = go_along(there, there.with_entry(path, getattr(getattr(build, part), name)))
        assert back.packing.mass == pytest.approx(build.packing.mass, rel=1e-12)
        assert back.tube.under_liquid == build.tube.under_liquid


def test_an_entry_that_cannot_be_read_moves_nothing():
    assert along_entries(first(), {"packing.length": "long", "tube.rows": "many"}) == ({}, ())


# --- the faces ---------------------------------------------------------------------------------------------------------


def whatif(capsys, *options):
    code = cli.main(["whatif", str(FIRST), "--sweep", str(SWEEP), *options, "--json"])
    out = capsys.readouterr().out
    assert code == 0, out
    return result_of(out)


@pytest.mark.exhaustive
def test_the_prompt_says_what_went_along_and_alone_switches_it_off(capsys):
    build = first()
    length, mass = f"{2e3 * build.packing.length:g} mm", 2 * build.packing.mass
    told = whatif(capsys, "--set", f"packing.length={length}")
    assert told["along"]["packing.mass"]["after"] == pytest.approx(mass)
    assert any("also changes" in one and "--alone" in one for one in told["words"])
    both = whatif(capsys, "--set", f"packing.length={length}", "--set", f"packing.mass={1e3 * mass:g} g")
    assert both["along"] == {}
    assert both["then"]["pressure"]["value"] == pytest.approx(told["then"]["pressure"]["value"], rel=1e-9)
    alone = whatif(capsys, "--set", f"packing.length={length}", "--alone")
    assert alone["along"] == {}
    assert alone["then"]["pressure"]["value"] != pytest.approx(told["then"]["pressure"]["value"], rel=1e-3)


def test_fewer_rows_at_the_prompt_leave_no_more_holes_under_liquid_than_there_are(capsys):
    """Without the rule, one row of holes has more of them under liquid than it has."""
    assert whatif(capsys, "--set", "tube.rows=1")["along"]["tube.under_liquid"]["after"] <= first().tube.holes_per_row
    assert cli.main(["whatif", str(FIRST), "--sweep", str(SWEEP), "--set", "tube.rows=1", "--alone"]) == 2


def test_the_size_search_asks_the_same_rule():
    build = first()
    generator, blower = PressureModel(build, OperatingConditions.of(build)), load_sweeps(SWEEP).fit()
    found = find_size(generator, blower, "packing.length", "pressure", 8e3)
    for choice in found.choices:
        made = choice.prediction.build
        assert made == go_along(build, build.with_entry("packing.length", choice.value))[0]
        assert made == build or "also changes" in choice.words
    alone = find_size(generator, blower, "packing.length", "pressure", 8e3, alone=True)
    assert all(choice.prediction.build.packing.mass == build.packing.mass for choice in alone.choices)
    assert not any("also changes" in choice.words for choice in alone.choices)


def plan(folder, *more):
    shutil.copytree(SEASON / "builds", folder / "builds", dirs_exist_ok=True)
    length = 1e3 * first().packing.length
    lines = ['reference = "builds/first-tube.toml"', *more, "[factors]"]
    lines += [f'"packing.length" = ["{length:g} mm", "{1.6 * length:g} mm"]', '"tube.rows" = [2, 6]']
    lines += ["[[wish]]", 'response = "density"', 'low = "60 kg/m3"', 'high = "80 kg/m3"']
    (folder / "plan.toml").write_text("\n".join(lines), "utf-8")
    return read_plan(folder / "plan.toml")


def test_the_plan_asks_the_same_rule(tmp_path):
    build = first()
    settings = {"packing.length": 1.6 * build.packing.length, "tube.rows": 6}
    made = plan(tmp_path).build(settings)
    bare = build.with_entry("packing.length", settings["packing.length"]).with_entry("tube.rows", 6)
    assert made == go_along(build, bare)[0]
    assert plan(tmp_path, "alone = true").build(settings) == bare
    with pytest.raises(InputError, match="alone"):
        plan(tmp_path, 'alone = "yes"')


def test_a_trial_whose_wool_went_along_counts_for_a_plan_that_does_not_name_it(tmp_path):
    shutil.copytree(SEASON, tmp_path, dirs_exist_ok=True)
    text = (tmp_path / "plan.toml").read_text("utf-8")
    assert '"packing.mass" = "packing.length"' in text
    named = open_notebook(tmp_path).next_run()
    (tmp_path / "plan.toml").write_text(text.replace('"packing.mass" = "packing.length"', ""), "utf-8")
    by_rule = open_notebook(tmp_path).next_run()
    assert by_rule.used == named.used
    assert by_rule.build == named.build
    assert by_rule.reason == named.reason


def test_rules_follow_no_entry_that_follows_another():
    for leads, _ in RULES.values():
        assert not RULES.keys() & set(leads)


# --- the page ----------------------------------------------------------------------------------------------------------


class Bench:
    """Just enough of a session for the desk: nothing is plugged in."""


@pytest.fixture
def desk():
    from frothline.bench.generator_workspace import GeneratorWorkspace

    made = GeneratorWorkspace(Bench())
    made._draft.start_from(FIRST.read_text("utf-8"))
    made._read()
    return made


def build_of(desk):
    return desk.look().build


def test_the_page_asks_the_same_rule_and_shows_what_went_along(desk):
    build = first()
    desk.edit({"packing.length": f"{2e3 * build.packing.length:g} mm"})
    expected, _ = go_along(build, build.with_entry("packing.length", 2 * build.packing.length))
    assert build_of(desk) == expected
    assert {"packing.length", "packing.mass"} <= set(desk.look().altered)
    until(lambda: not desk.look().working, "the answer")
    assert any("also changes" in one for one in desk.look().answer.trouble)
    # back again: nothing is altered
    desk.edit({"packing.length": f"{1e3 * build.packing.length:g} mm"})
    assert build_of(desk) == build
    assert desk.look().altered == ()


def test_many_edits_on_the_page_do_not_add_up_roundings(desk):
    build = first()
    for rows in (5, 7, 3, 11, 1, build.tube.rows):
        desk.edit({"tube.rows": str(rows)})
        assert build_of(desk) == go_along(build, build.with_entry("tube.rows", rows))[0]
    assert build_of(desk) == build


def test_an_entry_typed_by_hand_on_the_page_stays(desk):
    build = first()
    desk.edit({"packing.mass": "500 g"})
    desk.edit({"packing.length": f"{2e3 * build.packing.length:g} mm"})
    assert build_of(desk).packing.mass == pytest.approx(0.5)
    desk.undo()
    both = {"packing.mass": "600 g", "packing.length": f"{2e3 * build.packing.length:g} mm"}
    desk.edit(both)
    assert build_of(desk).packing.mass == pytest.approx(0.6)
    desk.undo()
    desk.edit({"packing.length": f"{2e3 * build.packing.length:g} mm"})
    assert build_of(desk).packing.mass == pytest.approx(2 * build.packing.mass)


def test_what_goes_along_is_written_so_that_it_reads_back_the_same():
    build = first()
    changes = {"packing.length": "333 mm", "tube.rows": 7}
    along, _ = along_entries(build, changes)
    made = parse_sheet(edit_sheet(FIRST.read_text("utf-8"), {**changes, **along})).build
    assert made.packing.mass == pytest.approx(build.packing.mass * 0.333 / build.packing.length, rel=1e-9)
    assert made.tube.under_liquid == along["tube.under_liquid"]
