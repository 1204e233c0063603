"""The plan on the notebook page: made, corrected, saved and undone by a form, and a build planned on the generator page."""

import shutil

import pytest
from fake_session import FakeSession
from test_notebook_page import said, wait
from test_run_samples import entries

from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.library import OWN, SEASON, LibraryFolder
from frothline.bench.plan_control import PlanControl
from frothline.trials.notebook import season
from frothline.trials.plan_file import read_plan
from frothline.web.pages.notebook import plan_form
from frothline.web.pages.notebook import what_helped as learnt


@pytest.fixture
def bench(tmp_path):
    shutil.copytree(season() / "builds", tmp_path / "builds")
    return FakeSession(tmp_path)


def fields(pieces):
    """Name -> value and note of every field of a form."""
    found = {}
    for entry in (one for piece in pieces for one in entries(piece)):
        control = next(part for part in entry[2:] if part[0] in {"input", "select"})
        found[control[1]["name"]] = control[1].get("value", ""), entry[-1][2]
    return found


def test_a_folder_without_builds_or_of_the_example_says_what_to_do(tmp_path):
    empty = tmp_path / "mine"
    empty.mkdir()
    assert "save one on the generator page" in said(plan_form.plan_form(wait(LibraryFolder(OWN, empty)), {}))
    assert "cannot be changed" in said(plan_form.plan_form(wait(LibraryFolder(SEASON, season())), {}))


def test_what_was_typed_stays_with_its_problem_and_a_saved_plan_begins_with_empty_settings(bench):
    place = LibraryFolder(OWN, bench.folder)
    seen = wait(place)
    typed = {"reference": "builds/first-tube.toml", "part-1": "packing.length", "low-1": "250 mm", "high-1": "2 yards"}
    typed |= {"figure-1": "density", "least-1": "60"}
    wish = {plan_form.setting_of(seen, name): (text,) for name, text in typed.items()}
    shown = fields(plan_form.plan_form(seen, wish))
    value, note = shown["high-1"]
    assert value == "2 yards"
    assert note not in {"", "not saved yet"}
    assert shown["low-1"] == ("250 mm", "not saved yet")
    PlanControl(place).save(typed | {"high-1": "400 mm"})
    seen = place._look()
    shown = fields(plan_form.plan_form(seen, wish))
    assert shown["high-1"] == ("400 mm", "")
    assert plan_form.plan_state(seen) == "1 target, 1 part"
    assert "Undo the last change" in said(plan_form.plan_form(seen, {}))


def test_the_sheet_of_the_generator_page_is_planned_and_can_be_taken_out_again(bench):
    place = LibraryFolder(OWN, bench.folder)
    desk = GeneratorWorkspace(bench)
    desk.edit({"outlet.bore": "21 mm"})
    plans = PlanControl(place)
    plans.add(desk.edited)
    assert read_plan(bench.folder / "plan.toml").planned[0].build.outlet.bore == pytest.approx(0.021)
    desk.edit({"outlet.bore": "wide"})
    assert desk.edited is None  # the page refuses to plan it
    seen = wait(place)
    found = learnt.next_of(seen.plan, seen.trials)
    words = said(learnt._next_after(seen, found))
    assert "Remove it from the plan" in words
    plans.remove(found.planned[0].name)
    assert read_text(bench.folder / "plan.toml") == ""


def read_text(path):
    return path.read_text("utf-8").strip() if path.exists() else ""


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_plan_is_made_on_a_phone_and_a_reload_or_a_wrong_entry_loses_nothing(look, bench):
    window = look(width=390, height=844, is_mobile=True, has_touch=True).open("notebook")
    page = window.page
    page.locator("#part-plan > summary").click()
    page.locator("[name=reference]").select_option(label="first tube")
    page.locator("[name=figure-1]").select_option("density")
    page.locator("[name=least-1]").fill("60")
    page.locator("[name=part-1]").select_option("packing.length")
    page.locator("[name=low-1]").fill("250 mm")
    page.locator("[name=high-1]").fill("long")
    page.wait_for_selector(".plan-form .entry[data-is=wrong]")
    page.get_by_role("button", name="Save plan").click()
    page.wait_for_selector("#said[data-trouble=yes]")
    page.reload()
    page.wait_for_selector(".plan-form .entry[data-is=wrong]")
    assert page.locator("[name=high-1]").input_value() == "long"
    assert page.locator("[name=part-1]").input_value() == "packing.length"
    page.locator("[name=high-1]").fill("400 mm")
    page.wait_for_function("!document.querySelector('.plan-form .entry[data-is=wrong]')")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_role("button", name="Save plan").click()
    page.wait_for_selector("#part-next [data-rows=runs]")
    assert len(read_plan(bench.folder / "plan.toml").factors) == 1
    page.get_by_role("button", name="Undo the last change").click()
    page.wait_for_selector("#part-next >> text=Make a plan")
    window.open("generator")
    page.locator("#builds > summary").click()
    page.get_by_role("button", name="Plan this as next trial").click()
    page.wait_for_selector("#said >> text=is planned as the next trial")
    window.open("notebook")
    page.wait_for_selector("#part-next >> text=You planned")
