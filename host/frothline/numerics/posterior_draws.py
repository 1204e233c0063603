"""Draws from the posterior of a nonlinear least-squares fit whose parameters have normal priors.

Randomize-then-optimize (J. M. Bardsley, A. Solonen, H. Haario, M. Laine, SIAM J. Sci. Comput. 36 (2014) A1895-A1910,
from memory): with residuals F(x), the priors' among them, whose Jacobian at the best fit is Q R, each standard normal
vector v has a draw x with Qᵀ F(x) = v. Its density is known, so that weights make the draws exact:
w = exp(-½ |F|² + ½ |QᵀF|²) / |det QᵀJ(x)|. For a linear fit the draws are normal and the weights equal. A v without an
x has no draw; the others keep their density.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from frothline.numerics.arrays import Floats

Residuals = Callable[[Floats], Floats]

STEP = 1e-4  # of a prior standard uncertainty, for derivatives
FARTHEST = 2.0  # prior standard uncertainties: the longest step of Newton's method
SOLVED = 1e-3  # of a standard uncertainty
ROUNDS = 10
NEVER_SINGULAR = 1e-10
SHORTER = 6  # times that a step is made shorter


def posterior_draws(residuals: Residuals, best: Floats, count: int, rng: np.random.Generator) -> tuple[Floats, float]:
    """(count, k) draws of equal weight, and the effective share of independent ones, from 0 to 1.

    Parameters
    ----------
    residuals : of n parameter vectors (n, k), as (n, k + m): the k parameters in prior standard uncertainties from
        their prior means, then the m residuals of the observations in standard uncertainties
    best : (k,) parameters of least squares
    """
    k = len(best)
    Q, R = np.linalg.qr(_slopes(residuals, best[None], residuals(best[None]))[0])
    wanted = rng.standard_normal((count, k))
    x = best + np.clip(np.linalg.solve(R, wanted.T).T, -FARTHEST, FARTHEST)
    found = residuals(x)
    left = np.arange(count)
    unsolved: list[int] = []
    for _ in range(ROUNDS):
        lack = found[left] @ Q - wanted[left]
        size = np.linalg.norm(lack, axis=1)
        open_ = size > SOLVED
        left, lack, size = left[open_], lack[open_], size[open_]
        if not len(left):
            break
        slopes = Q.T @ _slopes(residuals, x[left], found[left]) + NEVER_SINGULAR * np.eye(k)
        step = np.linalg.solve(slopes, lack[:, :, None])[:, :, 0]
        step *= np.minimum(1.0, FARTHEST / np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-300))
        trying = np.arange(len(left))
        for _ in range(SHORTER):  # shorter where the whole step ends farther away
            there = residuals(x[left[trying]] - step[trying])
            closer = np.linalg.norm(there @ Q - wanted[left[trying]], axis=1) < size[trying]
            at = left[trying[closer]]
            x[at] -= step[trying[closer]]
            found[at] = there[closer]
            trying = trying[~closer]
            if not len(trying):
                break
            step[trying] *= 0.4
        unsolved += left[trying].tolist()
        left = np.delete(left, trying)
    _, logdet = np.linalg.slogdet(Q.T @ _slopes(residuals, x, found))
    seen = found @ Q
    log_weight = 0.5 * np.sum(seen**2, axis=1) - 0.5 * np.sum(found**2, axis=1) - logdet
    log_weight[[*unsolved, *left]] = -np.inf
    if not np.any(np.isfinite(log_weight)):  # nowhere solved: to first order
        return best + np.linalg.solve(R, wanted.T).T, 0.0
    weight = np.exp(log_weight - np.max(log_weight))
    weight /= np.sum(weight)
    places = np.searchsorted(np.cumsum(weight), (np.arange(count) + 0.5) / count)
    return x[np.minimum(places, count - 1)], 1.0 / (count * float(np.sum(weight**2)))


def _slopes(residuals: Residuals, x: Floats, at: Floats) -> Floats:
    """(n, k + m, k) derivatives of the residuals ``at`` x."""
    n, k = x.shape
    moved = np.repeat(x, k, axis=0)
    moved[np.arange(n * k), np.tile(np.arange(k), n)] += STEP
    change = (residuals(moved).reshape(n, k, -1) - at[:, None, :]) / STEP
    return change.transpose(0, 2, 1)
