"""Least squares with an interval that allows for the scatter of the runs and for the uncertainty of each reading.

With few runs, or with a scale that shows steps of 5 g, alike runs may show equal values by chance. Their scatter alone
would then give an interval of zero width. The uncertainty of a reading that is independent between runs (resolution of
the scale, hand on the stop watch) sets the least width: JCGM 100:2008, F.2.2.1 (resolution of an indication) and 4.3.7
(a rectangle between two limits), clause numbers from memory. An error that is common to all runs (volume of the
bucket, calibration) does not count here, because it is not in a difference.

Rounding does not average out where runs scatter by less than a step of the scale: alike runs are then rounded alike.
Half the variance of a reading counts as common to alike runs in this case: of the two weighings of a sample, that of
the full container.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from frothline.estimate import Z95
from frothline.numerics.arrays import Floats
from frothline.numerics.distributions import normal_exceedance, student_exceedance
from frothline.numerics.rounding_noise import noise_of
from frothline.numerics.uncertainty import student_factor
from frothline.trials.factor_coding import RANK_TOLERANCE

ROUNDED_ALIKE = 0.5  # scatter over the uncertainty of a reading below which alike runs are rounded alike; judgement
SHARED = 0.5  # share of a reading's variance that alike runs then have in common


@dataclass(frozen=True)
class Contrasted:
    """A combination of responses: ``half`` of its 95 % interval; inf where no scatter is known.

    ``by_reading`` : the uncertainty of the readings sets the interval, not the scatter of the runs
    """

    value: float
    error: float
    half: float
    p_value: float
    by_reading: bool


@dataclass(frozen=True)
class RunsFit:
    """Minimum-norm least squares of ``y`` (n,) on ``matrix`` (n, k).

    ``freedom`` : degrees of freedom of the scatter;  ``scatter`` : its standard deviation, NaN without them, 0 where it
    is only rounding of floating-point numbers
    ``reading`` : (n,) standard uncertainty of each response, the part independent between runs; 0 if unknown
    ``stated`` : (n,) whole standard uncertainty of each response, or None
    """

    matrix: Floats
    y: Floats
    pseudo: Floats
    residuals: Floats
    freedom: int
    scatter: float
    reading: Floats
    stated: Floats | None

    @property
    def typical_reading(self) -> float:
        """Root mean square of ``reading``."""
        return float(np.sqrt(np.mean(self.reading**2)))

    @property
    def measured(self) -> bool:
        """Whether the interval follows from the scatter of runs, at least as wide as the readings allow."""
        return self.freedom > 0 and (self.scatter > 0.0 or bool(np.any(self.reading > 0.0)))

    def combination(self, contrast: Floats) -> Contrasted:
        """A contrast (k,) of the coefficients with its interval."""
        weights = contrast @ self.pseudo
        value = float(weights @ self.y)
        if abs(value) <= noise_of(self.y) * float(np.abs(weights).sum()):
            value = 0.0
        if not self.measured:
            if self.stated is None:
                return Contrasted(value, math.nan, math.inf, math.nan, False)
            error = float(np.sqrt(weights**2 @ self.stated**2))
            p = math.nan if error == 0.0 else 2 * float(normal_exceedance(abs(value) / error))
            return Contrasted(value, error, Z95 * error if error > 0.0 else math.inf, p, True)
        of_runs = self.scatter * float(np.sqrt(weights @ weights))
        of_readings = self._least(weights)
        wide, least = float(student_factor(self.freedom)) * of_runs, Z95 * of_readings
        p = 0.0
        if of_runs > 0.0:
            p = 2 * student_exceedance(abs(value) / of_runs, self.freedom)
        if of_readings > 0.0:
            p = max(p, 2 * float(normal_exceedance(abs(value) / of_readings)))
        return Contrasted(value, max(of_runs, of_readings), max(wide, least), p, least > wide)

    def _least(self, weights: Floats) -> float:
        """Standard uncertainty of a weighted sum of the responses from the readings alone."""
        variance = float(weights**2 @ self.reading**2)
        if self.scatter < ROUNDED_ALIKE * self.typical_reading:
            _, alike = np.unique(np.round(self.matrix, 9), axis=0, return_inverse=True)
            together = np.bincount(alike.ravel(), weights * self.reading)
            variance = max(variance, SHARED * float(together @ together))
        return math.sqrt(variance)


def fit_runs(matrix: Floats, y: Floats, reading: Floats, stated: Floats | None) -> RunsFit:
    """RunsFit the responses (n,) of runs; arguments as the fields of ``RunsFit``."""
    pseudo = np.asarray(np.linalg.pinv(matrix, rcond=RANK_TOLERANCE), dtype=np.float64)
    residuals = y - matrix @ (pseudo @ y)
    freedom = len(y) - rank_of(matrix)
    scatter = math.sqrt(float(residuals @ residuals) / freedom) if freedom else math.nan
    return RunsFit(matrix, y, pseudo, residuals, freedom, 0.0 if scatter <= noise_of(y) else scatter, reading, stated)


def rank_of(matrix: Floats) -> int:
    """Rank of a matrix of coded columns."""
    return int(np.linalg.matrix_rank(matrix, tol=1e-7))
