"""The corrected Akaike information criterion, for the comparison of shapes with different numbers of coefficients.

AICc = n ln(chi^2/n) + 2k + 2k(k+1)/(n-k-1) (C. M. Hurvich and C.-L. Tsai, "Regression and time series model selection
in small samples", Biometrika 76 (1989) 297-307). With known uncertainties chi^2 replaces n ln(chi^2/n) (K. P. Burnham
and D. R. Anderson, Model Selection and Multimodel Inference, 2002, from memory).

Uncertainties that are stated but may be wrong lie between both: ``aic_stated_scale``.
"""

from __future__ import annotations

from math import inf, log


def _small_sample(k: int, n: int) -> float:
    return 2 * k * (k + 1) / (n - k - 1) if n - k - 1 > 0 else inf


def aicc(chi_square: float, n: int, coefficients: int, *, scale_known: bool = False) -> float:
    """Corrected information criterion; infinite where n is too small.

    An estimated error scale counts as one more coefficient; with a known scale, chi^2 is twice the negative logarithm
    of the likelihood.
    """
    if scale_known:
        return chi_square + 2 * coefficients + _small_sample(coefficients, n)
    k = coefficients + 1
    return n * log(max(chi_square, 1e-300) / n) + 2 * k + _small_sample(k, n)


def aic_stated_scale(chi_square: float, n: int, coefficients: int, stated: float) -> float:
    """Information criterion for stated uncertainties that are trusted as far as ``stated`` degrees of freedom.

    A scaled inverse chi-square distribution of the variance about the stated one makes the likelihood Student's t, so
    chi^2 becomes (n + stated) ln(1 + chi^2/stated) (A. Gelman et al., Bayesian Data Analysis, from memory). It is chi^2
    itself for many ``stated`` degrees of freedom. There is no small-sample term: that is for an unknown variance.
    """
    return (n + stated) * log(1 + chi_square / stated) + 2 * coefficients
