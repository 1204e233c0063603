"""How many runs it takes to reach a usable foam: the planner against habit and against chance."""

import numpy as np
import pytest
from hidden_generators import compare


def test_the_planner_needs_fewer_runs_on_thirty_hidden_generators():
    planner, one_factor, chance = np.median(compare(30), axis=0)
    assert planner < one_factor
    assert planner < chance


@pytest.mark.benchmark
def test_the_planner_needs_clearly_fewer_runs_on_two_hundred_hidden_generators():
    """Paired over 200 generators; 'clearly' means at most two thirds in the mean, and better or equal in most pairs."""
    table = compare(200)
    planner, one_factor, chance = table.T
    assert planner.mean() < 2 / 3 * one_factor.mean()
    assert planner.mean() < 2 / 3 * chance.mean()
    assert np.mean(planner <= one_factor) > 2 / 3
    assert (planner <= 60).all()
