"""The next build of a builder, from its sheet and measured ones, against another physical model."""

import numpy as np
import pytest
from generator_predictions import learned_rows, others_rows


@pytest.mark.exhaustive
@pytest.mark.slow
@pytest.mark.parametrize("own", [0.15, None])
def test_measured_builds_bring_the_next_closer_and_its_interval_still_holds(own):
    """Also where the builds have nothing in common beside the law: the interval then must not be too narrow."""
    said = learned_rows(8, 91, own, (0, 1, 3))
    size = {count: np.median([abs(one.error) for one in found]) for count, found in said.items()}
    half = {count: np.median([one.upper - one.lower for one in found]) for count, found in said.items()}
    assert size[0] > size[1] > size[3]
    assert half[0] > 1.15 * half[1] > 1.15 * half[3]
    for found in said.values():
        assert len(found) == 8
        # of 8 honest 95 % intervals 5 or fewer hold with a probability of 0.6 % (binomial); the random numbers are fixed
        assert sum(one.holds for one in found) >= 6


@pytest.mark.exhaustive
@pytest.mark.slow
@pytest.mark.parametrize("far", [False, True])
def test_builds_of_other_builders_narrow_the_first_one_and_its_interval_still_holds(far):
    """Also where the other builders agree and the own workshop is unlike theirs."""
    said = others_rows(8, 92, 0.15, far, (0, 3))
    size = {count: np.median([abs(one.error) for one in found]) for count, found in said.items()}
    half = {count: np.median([one.upper - one.lower for one in found]) for count, found in said.items()}
    assert size[0] > size[3]
    assert half[0] > 1.15 * half[3]
    for found in said.values():
        assert len(found) == 8
        assert sum(one.holds for one in found) >= 6  # as above
