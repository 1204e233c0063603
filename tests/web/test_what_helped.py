"""The effects on the page where names are compared in pairs, and where a drift may be the effect."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest

from frothline.estimate import Estimate
from frothline.trials.notebook import open_notebook, season
from frothline.trials.which_helped import which_helped
from frothline.web.elements import words_of
from frothline.web.pages.notebook import labels
from frothline.web.pages.notebook.what_helped import helped, helped_state

LEVEL = {"blower": 60.0, "motor": 70.0, "vac": 80.0}


@pytest.fixture(scope="module")
def known():
    return open_notebook(season()).trial("04-05-first-tube")


def shown(known, names):
    """The block of runs with these air sources, a day apart, and the state in its heading."""
    runs = [
        replace(
            known,
            name=f"t{day}",
            path=known.path.with_name(f"t{day}.froth"),
            sha256=str(day),
            started=datetime(2025, 4, 1, 9, tzinfo=UTC) + timedelta(days=day),
            air_source=name,
            solution_batch="",
            water_temperature=None,
            samples=(),
            density=Estimate.normal(LEVEL[name] + (day * 7 % 5) / 5, 0.5, "kg/m3"),
        )
        for day, name in enumerate(names)
    ]
    answer = SimpleNamespace(working=False, trouble="", value=which_helped(runs))
    seen = SimpleNamespace(trials=tuple(runs))
    pieces = helped(seen, answer, "density", "metric")
    return (
        " ".join(words_of(piece) for piece in pieces if piece is not None),
        str(pieces),
        helped_state(seen, answer),
    )


def test_three_sources_have_a_row_and_a_bar_for_each_pair(known):
    words, markup, state = shown(known, ["blower", "motor", "vac"] * 3)
    assert "Air source has 3 names: each pair is compared by itself" in words
    for pair in ("blower to motor", "blower to vac", "motor to vac"):
        assert pair in words
        assert f"Air source, {pair}" in markup
    assert words.count(labels.CLEAR) == 3
    assert state.startswith("3 of 3")


def test_a_source_that_ran_after_the_other_is_an_effect_or_a_drift(known):
    words, _, state = shown(known, ["blower"] * 4 + ["motor"] * 4)
    assert "run the settings alternately" in words
    assert labels.OR_DRIFT in words
    assert labels.CLEAR not in words
    assert state.startswith("0 of 1")
