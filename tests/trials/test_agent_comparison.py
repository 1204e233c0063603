"""Soaps compared over days: the day is the block."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import pytest

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Estimate
from frothline.foam.sample import Weighing, evaluate
from frothline.generator.sheet import read_sheet
from frothline.trials.agent_comparison import compare_agents
from frothline.units import INCH_POUND

BUILD = read_sheet(Path(__file__).parents[2] / "recordings" / "season" / "builds" / "first-tube.toml")
# Montgomery and Runger, example 13-5, as densities: chemicals as soaps, fabrics as days
FABRIC = ((1.3, 1.6, 0.5, 1.2, 1.1), (2.2, 2.4, 0.4, 2.0, 1.8), (1.8, 1.7, 0.6, 1.5, 1.3), (3.9, 4.4, 2.0, 4.1, 3.4))


def trial(agent, day, value, *, samples=(), **entries):
    build = replace(BUILD, solution=replace(BUILD.solution, agent=agent))
    for path, entry in entries.items():
        build = build.with_entry(path, entry)
    found = None if value is None else Estimate.normal(value, 0.1, "kg/m3")
    return SimpleNamespace(
        name=f"{agent} {day}",
        sha256="",
        path=Path(f"{agent} {day}.froth"),
        build=build,
        started=datetime(2025, 4, day, 12, tzinfo=UTC),
        solution_batch=f"batch {day}",
        simulated=False,
        samples=samples,
        figure=lambda name: found if name == "density" else None,
    )


TRIALS = [trial(f"soap {k + 1}", day + 1, value) for k, row in enumerate(FABRIC) for day, value in enumerate(row)]


def test_a_copy_of_a_recording_is_no_repeat_and_capitals_are_no_other_soap():
    """A file under a second name had made the interval of a difference ten times narrower."""
    once = compare_agents(TRIALS, "density", "day")
    twin = SimpleNamespace(**{**vars(TRIALS[3]), "name": "under a second name", "sha256": TRIALS[3].sha256})
    both = compare_agents([*TRIALS, twin], "density", "day")
    assert both.found == once.found
    assert any(
        "“under a second name” is a copy of the recording “soap 1 4” and counts once" in one for one in both.words
    )
    spelled = [*TRIALS[:-1], trial("SOAP  4", 5, FABRIC[3][4])]
    assert compare_agents(spelled, "density", "day").found == once.found


@pytest.mark.parametrize("block", ["day", "batch"])
def test_four_soaps_on_five_days_are_compared_as_in_the_textbook(block):
    found = compare_agents(TRIALS, "density", block)
    assert found.found.sums == pytest.approx((6.69, 18.04, 0.96), abs=0.015)
    assert found.means["soap 4"].value == pytest.approx(3.56)
    assert "differ more than their scatter explains" in found.words[0]
    assert found.as_dict()["degrees_of_freedom"] == {"blocks": 4, "agents": 3, "residual": 12}
    assert any("soap 4" in one and one.endswith("clear") for one in found.lines())
    assert "lb/ft³" in found.lines(INCH_POUND)[0]


def test_what_changed_besides_the_soap_is_named():
    changed = [*TRIALS[:-1], trial("soap 4", 5, 3.4, **{"outlet.bore": 0.03})]
    assert "more than the agent changed" in " ".join(compare_agents(changed).words)
    assert "more than the agent changed" not in " ".join(compare_agents(TRIALS).words)


def test_trials_without_the_figure_are_counted_out():
    found = compare_agents([*TRIALS, trial("soap 1", 6, None)])
    assert len(found.trials) == 20
    assert "1 trial is not used" in " ".join(found.words)


def test_equal_readings_of_two_soaps_are_not_told_apart():
    """A scale of 5 g under 2 L of foam: 2.04 kg/m³ a reading; by hand 1.96 x 2.04 x sqrt(2/2)."""
    sample = evaluate(Weighing(2e-3, 0.185, 0.330, u_mass=2 * 0.005 / 12**0.5))
    runs = [trial(soap, day, 72.5, samples=(sample,)) for day in (1, 2) for soap in ("a", "b")]
    found = compare_agents(runs)
    ((_, _, one),) = found.differences
    assert (one.lower, one.value, one.upper) == pytest.approx((-4.0, 0.0, 4.0), abs=0.01)
    assert "do not differ clearly: F = 0, p = 1, 1 degree of freedom" in found.words[0]
    assert any("less than a reading is uncertain" in text for text in found.words)
    assert not any("e-" in text for text in found.lines())


def test_drainage_times_of_two_soaps_are_compared_at_one_depth():
    """Soap b stood twice as deep and drained half as fast: the same foam."""
    runs = []
    for day, late in ((1, 0.0), (2, 3.0), (3, -2.0)):
        for soap, depth in (("a", 0.1), ("b", 0.2)):
            time = Estimate.normal(4000.0 * depth + (late if soap == "b" else 0.0), 4.0, "s")
            one = trial(soap, day, None)
            one.title, one.drainage_depth, one.drainage_container = one.name, depth, 2e-3
            one.figure = lambda name, time=time: time if name == "drainage" else None
            runs.append(one)
    found = compare_agents(runs, "drainage")
    ((_, _, difference),) = found.differences
    assert difference.lower < 0.0 < difference.upper
    assert "corrected to 200 mm" in " ".join(found.words)


def test_too_few_and_wrong_questions_are_asked_back():
    with pytest.raises(TooFewPoints, match="no trial has an agent"):
        compare_agents([])
    with pytest.raises(TooFewPoints, match="all 5 trials have one agent, “soap 1”"):
        compare_agents(TRIALS[:5])
    with pytest.raises(TooFewPoints, match="minimum is two"):
        compare_agents(TRIALS[::5])
    with pytest.raises(InputError, match="figure of a trial"):
        compare_agents(TRIALS, "colour")
    with pytest.raises(InputError, match="is not a block"):
        compare_agents(TRIALS, block="week")
