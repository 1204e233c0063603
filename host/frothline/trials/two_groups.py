"""Comparison of two groups of trials by Welch's test."""

from __future__ import annotations

import math
from dataclasses import dataclass

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Estimate
from frothline.numerics.distributions import student_exceedance
from frothline.numerics.uncertainty import student_factor
from frothline.trials.effect_checks import SIGNIFICANT, check_group


@dataclass(frozen=True)
class TwoGroups:
    """Welch's comparison of two means: ``difference`` is first minus second."""

    difference: Estimate
    t: float
    degrees_of_freedom: float
    p_value: float

    @property
    def words(self) -> str:
        """The result of the test, as in "p = 0.032: more than their scatter explains"."""
        explained = "more than" if self.p_value < SIGNIFICANT else "within the range that"
        return f"p = {self.p_value:.2g}: {explained} their scatter explains"


def welch(mean_1: float, sd_1: float, n_1: int, mean_2: float, sd_2: float, n_2: int, *, unit: str = "") -> TwoGroups:
    """Welch's unequal-variance t test from summary figures (B. L. Welch, Biometrika 34 (1947) 28).

    Raises
    ------
    TooFewPoints
        With a group of one run, which has no scatter.
    InputError
        For a mean that is not a number, a deviation below zero, or two groups without scatter.
    """
    if min(n_1, n_2) < 2:
        raise TooFewPoints(
            "one run each: a single run has no scatter",
            where="comparison of two builds",
            remedy="Repeat each build at least once.",
        )
    check_group("first group", mean_1, sd_1, n_1)
    check_group("second group", mean_2, sd_2, n_2)
    if sd_1 == 0.0 == sd_2:
        raise InputError(
            "neither group has scatter; no uncertainty can be given",
            where="comparison of two builds",
            remedy="Check for a run entered twice, or give more digits",
        )
    v_1, v_2 = sd_1**2 / n_1, sd_2**2 / n_2
    error = math.sqrt(v_1 + v_2)
    freedom = (v_1 + v_2) ** 2 / (v_1**2 / (n_1 - 1) + v_2**2 / (n_2 - 1))
    half = float(student_factor(freedom)) * error
    difference = mean_1 - mean_2
    t = difference / error
    return TwoGroups(
        Estimate(difference, error, difference - half, difference + half, unit),
        t,
        freedom,
        2 * student_exceedance(abs(t), freedom),
    )
