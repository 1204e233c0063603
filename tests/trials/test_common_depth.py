"""Drainage is compared at a common depth of foam, or not at all."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from frothline.bench.library import FolderView
from frothline.estimate import Estimate
from frothline.recording.catalogue import Catalogue
from frothline.trials.common_depth import COMMON, U_DEPTH, at_depth, comparable
from frothline.trials.next_trial import next_of
from frothline.trials.notebook import Notebook
from frothline.trials.plan_file import read_plan
from frothline.trials.trial import load_trial
from frothline.trials.which_helped import two_builds, which_helped
from frothline.web.elements import words_of
from frothline.web.pages.notebook.trials import side_by_side

SEASON = Path(__file__).parents[2] / "recordings" / "season"


@pytest.fixture(scope="module")
def trials():
    return Notebook(SEASON).trials


def drained_at(trial, depth):
    """The same foam in another container: free drainage takes a time in proportion to the depth."""
    was = trial.drainage_depth
    return replace(
        trial,
        drainage_depth=depth,
        drainage=Estimate.normal(
            trial.drainage.value * depth / was, trial.drainage.standard_uncertainty * depth / was, "s"
        ),
    )


def test_a_time_of_half_the_depth_doubles_with_the_uncertainty_of_depth_and_law():
    """t ~ H: 300 s at 100 mm are 600 s at 200 mm; 5 mm of 100 and an exponent of 1 +- 0.2 come on top (by hand)."""
    found = at_depth(Estimate.normal(300.0, 9.0, "s"), 0.1, 0.2)
    assert found.value == pytest.approx(600.0)
    by_hand = math.hypot(0.03, math.hypot(U_DEPTH / 0.1, 0.2 * math.log(2)))
    assert found.standard_uncertainty / 600 == pytest.approx(by_hand, rel=1e-9)
    assert any("100 to 200 mm" in one for one in found.assumptions)


def test_depths_that_are_alike_are_compared_as_measured(trials):
    figures, words = comparable(trials, "drainage")
    assert figures == [one.drainage for one in trials]
    assert words == ()


def test_other_figures_have_no_depth(trials):
    mixed = [drained_at(one, 0.1 if k % 2 else 0.3) for k, one in enumerate(trials)]
    assert comparable(mixed, "density")[0] == [one.density for one in mixed]


def test_the_same_foams_in_other_containers_give_the_same_effects(trials):
    """As if every other sample had been drained in a deep bucket: effects at 200 mm stay, within the doubt of the law."""
    rng = np.random.default_rng(4)
    mixed = [drained_at(one, float(rng.choice([0.12, 0.3]))) for one in trials]
    plain = {one.factor: one.estimate for one in which_helped(trials, "drainage").report.effects}
    found = which_helped(mixed, "drainage")
    assert any("corrected to 200 mm" in one for one in found.words)
    for one in found.report.effects:
        assert one.estimate.value == pytest.approx(plain[one.factor].value * COMMON / 0.19, rel=1e-6)
    # as they were, unlike depths swamp everything
    values = [one.drainage.value for one in mixed]
    assert np.std(np.log(values)) > 1.5 * np.std([math.log(one.drainage.value) for one in trials])


def test_a_trial_without_its_depth_is_left_out_and_named(trials):
    lost = replace(trials[2], drainage_depth=None)
    mixed = [*trials[:2], lost, *trials[3:]]
    figures, words = comparable(mixed, "drainage")
    assert figures[2] is None
    assert figures[0] is not None
    assert any(lost.title in one and "not recorded" in one for one in words)
    assert any(lost.title in one for one in which_helped(mixed, "drainage").words)


def test_without_any_depth_only_one_container_can_be_compared(trials):
    none = [replace(one, drainage_depth=None, drainage_container=2e-3) for one in trials]
    assert comparable(none, "drainage")[0] == [one.drainage for one in none]
    two = [replace(none[0], drainage_container=10e-3), *none[1:]]
    assert comparable(two, "drainage")[0] == [None] * len(two)


def test_two_builds_and_the_plan_use_the_common_depth(trials):
    """The repeats of one build, once in jugs of 190 mm and once in buckets of 380 mm, do not differ."""
    name, source = trials[0].build_name, trials[0].air_source
    jugs = [one for one in trials if (one.build_name, one.air_source) == (name, source)]
    assert len(jugs) >= 2
    buckets = [
        replace(drained_at(one, 0.38), build_name="in buckets", sha256=f"bucket {k}") for k, one in enumerate(jugs)
    ]
    found = two_builds((*jugs, *buckets), name, "in buckets", "drainage")
    assert found.difference.value == pytest.approx(0.0, abs=1e-6)
    as_measured = np.mean([one.drainage.value for one in jugs]) - np.mean([one.drainage.value for one in buckets])
    assert as_measured < -300.0
    plan = read_plan(SEASON / "plan.toml")
    assert any(wish.response == "drainage" for wish in plan.wishes)
    mixed = next_of(plan, (drained_at(trials[0], 0.38), *trials[1:]))
    assert any("corrected to 200 mm" in one for one in mixed.left_out)


def test_the_page_shows_times_side_by_side_at_the_common_depth(trials):
    picked = (trials[0], drained_at(trials[1], 0.1), replace(trials[2], drainage_depth=None))
    seen = FolderView("own", SEASON, look=1, ready=True, trials=picked)
    said = " ".join(words_of(one) for one in side_by_side(seen, [one.name for one in picked], "metric") if one)
    assert "Drainage times are corrected to 200 mm of foam" in said
    assert "depth of foam not recorded" in said


def test_samples_of_one_trial_at_two_depths_are_not_averaged(tmp_path):
    for suffix in (".froth", ".toml"):
        (tmp_path / f"run{suffix}").write_bytes((SEASON / f"04-05-first-tube{suffix}").read_bytes())
    beside = tmp_path / "run.toml"
    text = beside.read_text("utf-8").replace("builds/", f"{SEASON}/builds/")
    text = text.replace('note = "measuring jug 2"', 'drained = [["60 s", "9 mL"], ["400 s", "50 mL"]]')
    beside.write_text(text.replace('depth = "190 mm"', 'depth = "95 mm"', 1), "utf-8")
    (entry,) = Catalogue(tmp_path).entries
    trial = load_trial(entry)
    assert trial.drainage_depth == pytest.approx(0.095)
    assert any("different depths" in one for one in trial.words)
