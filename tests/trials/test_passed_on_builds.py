"""Files of other builders in the folders ``generators`` and ``builds``: they teach about the next generator, less than own builds."""

import os
from dataclasses import replace
from math import log

import pytest
from builds import FIRST

from frothline.bench.library import LibraryFolder
from frothline.curve.steady_points import SteadyPoint
from frothline.generator.build import Packing
from frothline.generator.evaluation import EvaluationInput, evaluate
from frothline.generator.experience import OWN, MeasuredBuild
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel, from_sheet
from frothline.generator.room_air import RoomAir
from frothline.generator.sheet import write_sheet
from frothline.preferences import BUILDER_VARIABLE
from frothline.sweep.generator_file import BUILDS, GENERATORS, generator_of, read_generator, write_generator
from frothline.trials.own_generators import TrialExperience
from frothline.trials.passed_on_builds import MOST, UNNAMED, passed_on_builds
from frothline.trials.swept_builds import SweptBuild

BUILD = replace(FIRST, packing=Packing("pad", 0.28, wire=70e-6, voidage=0.965))
WET = OperatingConditions.of(BUILD)
LESS = {"wetting": -log(3.0)}  # a third of what beds of grains would need: common practice for wool, no source


def points(build, shift=LESS):
    truth = PressureModel(build, WET).moved(shift)
    flows = (0.003, 0.006, 0.009)
    return tuple(SteadyPoint.from_parts(p, q, (20.0, 2e-5, 0.0)) for q in flows if (p := truth.pressure(q)))


def pass_on(folder, name, length=0.2, builder="", shift=LESS, place=GENERATORS, **how):
    build = BUILD.with_entry("packing.length", length)
    held = generator_of(build, (), points(build, shift), name=name, builder=builder)
    (folder / place).mkdir(exist_ok=True)
    return write_generator(folder / place / f"{name}.toml", replace(held, **how))


def known(folder, **how):
    return TrialExperience([], folder=folder, **how)


def alike(one, other):
    return one == other


def test_a_file_of_another_builder_brings_the_next_build_closer_and_the_words_say_so(tmp_path):
    pass_on(tmp_path, "theirs", builder="B. Miller")
    pass_on(tmp_path, "also theirs", 0.35, builder=" b.  miller")
    pass_on(tmp_path, "of a third", 0.22, builder="C. Smith")
    experience = known(tmp_path)
    truth, alone = PressureModel(BUILD, WET).moved(LESS).pressure(0.006), PressureModel(BUILD, WET).pressure(0.006)
    model = from_sheet(BUILD, WET, experience)
    assert truth < model.pressure(0.006) < 0.9 * alone
    assert (model.learned.builds, model.learned.foreign, model.learned.builders) == (3, 3, 2)
    given = EvaluationInput(BUILD, None, None, None, RoomAir(), FoamKnowledge.usual(), experience=experience)
    assert "learned from 3 builds of 2 other builders with" in " ".join(evaluate(given).background)


def test_own_builds_count_more_than_those_of_another_builder_and_both_are_told(tmp_path):
    own = BUILD.with_entry("packing.length", 0.35)
    swept = [SweptBuild(own, True, points(own), simulated=False)]
    pass_on(tmp_path, "theirs", 0.35, builder="B. Miller")
    theirs, both = known(tmp_path), known(tmp_path, sweeps=lambda: swept)
    mine = TrialExperience([], lambda: swept)
    by_own, by_other, by_both = (from_sheet(BUILD, WET, one) for one in (mine, theirs, both))
    stated = PressureModel(BUILD, WET).pressure(0.006)
    assert by_own.pressure(0.006) < by_other.pressure(0.006) < stated
    assert by_both.pressure(0.006) < by_own.pressure(0.006)
    assert by_both.learned.origin == "1 own build and 1 build of 1 other builder"
    assert by_own.learned.origin == "1 measured build"


def test_files_without_a_builder_are_of_one_and_those_with_the_own_name_are_own(tmp_path, monkeypatch):
    monkeypatch.setenv(BUILDER_VARIABLE, "A. Turner")
    pass_on(tmp_path, "one", 0.20)
    pass_on(tmp_path, "two", 0.30)
    pass_on(tmp_path, "mine", 0.40, builder="a. turner")
    found = {one.build.packing.length: one.builder for one in passed_on_builds(tmp_path, alike)[0]}
    assert found == {0.20: UNNAMED, 0.30: UNNAMED, 0.40: OWN}
    learned = from_sheet(BUILD, WET, known(tmp_path)).learned
    assert (learned.builds, learned.foreign, learned.builders) == (3, 2, 1)


def test_a_file_that_this_workshop_wrote_of_a_build_it_measured_counts_once(tmp_path):
    own = BUILD.with_entry("packing.length", 0.35)
    pass_on(tmp_path, "saved from the page", 0.35)
    pass_on(tmp_path, "the same design of another builder", 0.35, builder="B. Miller")
    experience = known(tmp_path, sweeps=lambda: [SweptBuild(own, True, points(own), simulated=False)])
    assert [one.builder for one in experience.generators.measured] == [OWN, "b. miller"]


def test_a_copy_of_a_file_teaches_nothing_more(tmp_path):
    for name in ("a file", "its copy"):
        pass_on(tmp_path, name, builder="B. Miller")
    (one,) = passed_on_builds(tmp_path, alike)[0]
    assert len(one.wet) == 3


def test_a_file_among_the_build_sheets_teaches_as_much_as_one_among_the_generators(tmp_path):
    here, there = tmp_path / "here", tmp_path / "there"
    for folder, place in ((here, GENERATORS), (there, BUILDS)):
        folder.mkdir()
        pass_on(folder, "theirs", builder="B. Miller", place=place)
    by_one, by_other = (from_sheet(BUILD, WET, known(folder)) for folder in (here, there))
    assert by_other.pressure(0.006) == by_one.pressure(0.006) < 0.9 * PressureModel(BUILD, WET).pressure(0.006)
    assert (by_other.learned.builds, by_other.learned.foreign, by_other.learned.builders) == (1, 1, 1)


def test_a_generator_in_both_folders_counts_once(tmp_path):
    one = pass_on(tmp_path, "theirs", builder="B. Miller")
    (tmp_path / BUILDS).mkdir()
    (tmp_path / BUILDS / "a copy.toml").write_bytes(one.read_bytes())
    (found,) = passed_on_builds(tmp_path, alike)[0]
    assert (found.builder, len(found.wet)) == ("b. miller", 3)


def test_a_copy_without_its_builder_is_of_the_builder_whom_the_other_names(tmp_path):
    pass_on(tmp_path, "theirs", builder="B. Miller")
    pass_on(tmp_path, "from before it had a builder", place=BUILDS)
    assert [one.builder for one in passed_on_builds(tmp_path, alike)[0]] == ["b. miller"]
    pass_on(tmp_path, "another specimen", shift={"wetting": -1.0}, place=BUILDS)
    assert {one.builder for one in passed_on_builds(tmp_path, alike)[0]} == {"b. miller", UNNAMED}


def test_the_same_design_of_two_builders_counts_twice(tmp_path):
    pass_on(tmp_path, "one", builder="B. Miller")
    pass_on(tmp_path, "one", builder="C. Smith", place=BUILDS)
    assert {one.builder for one in passed_on_builds(tmp_path, alike)[0]} == {"b. miller", "c. smith"}


def test_a_file_among_the_build_sheets_is_own_only_with_the_own_name(tmp_path, monkeypatch):
    monkeypatch.setenv(BUILDER_VARIABLE, "A. Turner")
    pass_on(tmp_path, "unnamed", 0.2, place=BUILDS)
    pass_on(tmp_path, "theirs", 0.3, "B. Miller", place=BUILDS)
    pass_on(tmp_path, "mine", 0.4, "A. Turner", place=BUILDS)
    found = {one.build.packing.length: one.builder for one in passed_on_builds(tmp_path, alike)[0]}
    assert found == {0.2: UNNAMED, 0.3: "b. miller", 0.4: OWN}


def test_plain_sheets_are_passed_over_and_an_unusable_file_is_named_with_its_folder(tmp_path):
    pass_on(tmp_path, "dry only", dry=points(BUILD, {}), wet=(), place=BUILDS)
    (tmp_path / BUILDS / "plain.toml").write_text(write_sheet(BUILD), "utf-8")
    assert known(tmp_path).notes_for(BUILD) == ("builds/dry only.toml is not used: it has no wet points",)


def test_a_folder_of_sheets_that_leads_elsewhere_hides_no_file_of_the_other(tmp_path):
    inside, outside = tmp_path / "inside", tmp_path / "outside"
    inside.mkdir()
    outside.mkdir()
    pass_on(outside, "foreign", place=BUILDS)
    (inside / BUILDS).symlink_to(outside / BUILDS)
    pass_on(inside, "theirs", builder="B. Miller")
    assert [one.builder for one in passed_on_builds(inside, alike)[0]] == ["b. miller"]


@pytest.mark.parametrize("place", [GENERATORS, BUILDS])
def test_the_page_sees_the_folder_anew_when_a_file_is_put_there_changed_or_removed(tmp_path, place):
    view = LibraryFolder("own", tmp_path)
    first = view._look()
    path = pass_on(tmp_path, "theirs", place=place)
    put = view._look()
    still = view._look()
    os.utime(path, ns=(1, 1))
    changed = view._look()
    path.unlink()
    assert [one.look - first.look for one in (put, still, changed, view._look())] == [1, 1, 2, 3]


def test_the_name_in_the_preferences_is_in_the_file(tmp_path, monkeypatch):
    monkeypatch.setenv(BUILDER_VARIABLE, "A. Turner")
    held = generator_of(BUILD, (), points(BUILD))
    assert read_generator(write_generator(tmp_path / "one.toml", held)).builder == "A. Turner"
    monkeypatch.delenv(BUILDER_VARIABLE)
    assert generator_of(BUILD, (), points(BUILD)).builder == ""


def test_files_that_teach_nothing_are_named_with_their_reason(tmp_path):
    pass_on(tmp_path, "dry only", dry=points(BUILD, {}), wet=())
    pass_on(tmp_path, "bad sheet", sheet="[packing]\nkind = 3\n")
    impossible = tuple(SteadyPoint.from_parts(10.0, q, (1e-3, 1e-7, 0.0)) for q in (0.003, 0.006))
    pass_on(tmp_path, "misread", wet=impossible)
    torn = pass_on(tmp_path, "torn")
    torn.write_text(torn.read_text("utf-8")[:900], "utf-8")
    (tmp_path / GENERATORS / "own notes.toml").write_text("a = 1\n", "utf-8")
    (tmp_path / GENERATORS / "link.toml").symlink_to(torn)
    experience = known(tmp_path)
    assert from_sheet(BUILD, WET, experience).learned is None
    notes = experience.notes_for(BUILD)
    assert len(notes) == 4
    said = " ".join(notes)
    assert "generators/dry only.toml is not used: it has no wet points" in said
    assert "bad sheet.toml is not used: its build sheet has a wrong entry" in said
    assert "torn.toml is not used" in said
    assert "no scaling of its sheet fits its points" in said
    given = EvaluationInput(BUILD, None, None, None, RoomAir(), FoamKnowledge.usual(), experience=experience)
    assert set(notes) <= set(evaluate(given).background)


def test_a_folder_without_files_teaches_nothing(tmp_path):
    assert passed_on_builds(tmp_path / "nowhere", alike) == ((), ())
    (tmp_path / GENERATORS).mkdir()
    assert passed_on_builds(tmp_path, alike) == ((), ())


def test_a_folder_that_leads_elsewhere_is_not_read(tmp_path):
    inside, outside = tmp_path / "inside", tmp_path / "outside"
    inside.mkdir()
    outside.mkdir()
    pass_on(outside, "theirs")
    (inside / GENERATORS).symlink_to(outside / GENERATORS)
    assert passed_on_builds(inside, alike) == ((), ())


def test_of_very_many_files_the_newest_are_used_and_that_is_said(tmp_path):
    first = pass_on(tmp_path, "f0")
    for number in range(1, MOST + 2):
        (tmp_path / GENERATORS / f"f{number}.toml").write_bytes(first.read_bytes())
    (one,), (note,) = passed_on_builds(tmp_path, alike)
    assert one.builder == UNNAMED
    assert note == f"only the newest {MOST} of {MOST + 2} files of generators are used"


@pytest.mark.parametrize("path", ["solution.agent", "packing.kind"])
def test_a_file_of_another_agent_or_packing_is_neither_used_nor_told(tmp_path, path):
    other = {"solution.agent": "another", "packing.kind": "wire wool"}[path]
    build = BUILD.with_entry(path, other)
    if path == "packing.kind":
        build = replace(BUILD, packing=Packing("wire wool", 0.15, 0.08, "stainless", 80e-6))
    (tmp_path / GENERATORS).mkdir()
    write_generator(tmp_path / GENERATORS / "other.toml", generator_of(build, (), points(build)))
    experience = known(tmp_path)
    assert from_sheet(BUILD, WET, experience).learned is None
    assert experience.notes_for(BUILD) == ()


def test_a_measured_build_is_own_where_nothing_else_is_said():
    assert MeasuredBuild(BUILD, WET, ()).builder == OWN
