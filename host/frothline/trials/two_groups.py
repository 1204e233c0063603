"""Comparison of two groups of trials by Welch's test."""

from __future__ import annotations

import math
from dataclasses import dataclass

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Z95, Estimate
from frothline.numerics.distributions import normal_exceedance, student_exceedance
from frothline.numerics.rounding_noise import NOISE
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


def welch(
    mean_1: float,
    sd_1: float,
    n_1: int,
    mean_2: float,
    sd_2: float,
    n_2: int,
    *,
    unit: str = "",
    reading: float = 0.0,
) -> TwoGroups:
    """Welch's unequal-variance t test from summary figures (B. L. Welch, Biometrika 34 (1947) 28).

    ``reading`` : standard uncertainty of one value that is independent between runs (resolution), in ``unit``; the
        interval is at least as wide as it allows. 0 if it is not known.

    Raises
    ------
    TooFewPoints
        With a group of one run, which has no scatter.
    InputError
        For a mean that is not a number, a deviation below zero, or two groups without scatter and a known reading.
    """
    if min(n_1, n_2) < 2:
        raise TooFewPoints(
            "one run each: a single run has no scatter",
            where="comparison of two builds",
            remedy="Repeat each build at least once.",
        )
    check_group("first group", mean_1, sd_1, n_1)
    check_group("second group", mean_2, sd_2, n_2)
    alike = max(sd_1, sd_2) <= NOISE * max(abs(mean_1), abs(mean_2))  # rounding of floating-point numbers
    if alike and not reading > 0.0:
        raise InputError(
            "neither group has scatter; no uncertainty can be given",
            where="comparison of two builds",
            remedy="Check for a run entered twice, or give more digits",
        )
    v_1, v_2 = (0.0, 0.0) if alike else (sd_1**2 / n_1, sd_2**2 / n_2)
    of_runs, of_readings = math.sqrt(v_1 + v_2), reading * math.sqrt(1 / n_1 + 1 / n_2)
    freedom = float(n_1 + n_2 - 2)
    if not alike:
        freedom = (v_1 + v_2) ** 2 / (v_1**2 / (n_1 - 1) + v_2**2 / (n_2 - 1))
    half = max(float(student_factor(freedom)) * of_runs, Z95 * of_readings)
    difference = mean_1 - mean_2
    p = 0.0
    if of_runs > 0.0:
        p = 2 * student_exceedance(abs(difference) / of_runs, freedom)
    if of_readings > 0.0:
        p = max(p, 2 * float(normal_exceedance(abs(difference) / of_readings)))
    error = max(of_runs, of_readings)
    return TwoGroups(
        Estimate(difference, error, difference - half, difference + half, unit), difference / error, freedom, p
    )
