"""Limit below which a residual or a difference is rounding of floating-point numbers, and a partial F test that is
not misled by it.

Equal values leave residuals of about 1e-15 of their size after a fit, not 0. A test of such a sum of squares against 0
or against another one of its kind has no meaning.
"""

from __future__ import annotations

import numpy as np

from frothline.numerics.arrays import Floats
from frothline.numerics.distributions import chi_square_exceedance, f_exceedance

NOISE = 1e-9  # of the largest value: far above 64-bit rounding, far below any scale


def noise_of(values: Floats) -> float:
    """The limit for values (n,), in their unit; 0 without values."""
    return NOISE * float(np.max(np.abs(values), initial=0.0))


def p_of_reduction(before: float, after: float, extra: int, freedom: int, *, noise: float, least: float = 0.0) -> float:
    """The p value of the reduction of a sum of squares from ``before`` to ``after`` by ``extra`` unknowns.

    ``freedom`` : degrees of freedom of ``after``;  ``noise`` : limit of a rounding error, in the unit of the values
    ``least`` : known standard uncertainty of one value, below which the scatter is not trusted

    The partial F test, and with ``least`` the larger p of it and the chi-square test with that known variance.
    """
    if before - after <= noise**2 * (freedom + extra):
        return 1.0
    p = 0.0
    if after > noise**2 * freedom:
        p = f_exceedance((before - after) / extra / (after / freedom), extra, freedom)
    if least > 0.0:
        p = max(p, chi_square_exceedance((before - after) / least**2, extra))
    return p
