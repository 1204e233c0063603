"""Uncertainty contributions by source, which can be listed, combined and correlated.

A ``Contribution`` is one input's part of an output's standard uncertainty: sensitivity times standard uncertainty, with
its sign, in the unit of the output (JCGM 100:2008, 5.1.3). Contributions with the same ``source`` in two outputs are
due to the same error; their products add up to the covariance of the outputs (JCGM 100:2008, F.1.2.3).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import inf, isfinite
from typing import Literal, NamedTuple

import numpy as np
import scipy
from numpy.typing import ArrayLike

from frothline.numerics.arrays import Floats

Kind = Literal["systematic", "random"]


ROOT3 = float(np.sqrt(3.0))
KNOWN = 1e9  # degrees of freedom from which on the normal distribution is used


class Contribution(NamedTuple):
    """One contribution to a standard uncertainty.

    standard : signed, in the unit of the output, scalar or (n,)
    dof : its degrees of freedom; infinite for an exact figure (data-sheet limits)
    origin : source of the figure
    """

    source: str
    kind: Kind
    standard: Floats
    distribution: str = "normal"
    origin: str = ""
    dof: float = inf


def share(
    source: str,
    kind: Kind,
    standard: ArrayLike,
    distribution: str = "normal",
    origin: str = "",
    dof: float = inf,
) -> Contribution:
    """A contribution from any array-like."""
    return Contribution(source, kind, np.asarray(standard, dtype=np.float64), distribution, origin, dof)


def rectangular(limit: ArrayLike) -> Floats:
    """Standard uncertainty of an error known only to be within +-limit (JCGM 100:2008, 4.3.7)."""
    return np.asarray(np.abs(limit), dtype=np.float64) / ROOT3


def root_sum_square(contributions: Iterable[Contribution], kind: Kind | None = None) -> Floats:
    """Contributions of one kind, or of both, combined (JCGM 100:2008, eq. 10); sources are independent of
    each other.
    """
    squares = [item.standard**2 for item in contributions if kind is None or item.kind == kind]
    return np.sqrt(sum(squares[1:], squares[0])) if squares else np.zeros(())


def effective_dof(contributions: Iterable[Contribution], kind: Kind | None = None) -> float:
    """Effective degrees of freedom (Welch-Satterthwaite, JCGM 100:2008, G.4.1); the minimum over arrays."""
    chosen = [item for item in contributions if kind is None or item.kind == kind]
    finite = [item for item in chosen if isfinite(item.dof)]
    if not finite:
        return inf
    total = root_sum_square(chosen)
    fourth: Floats = np.zeros(())
    for item in finite:
        fourth = fourth + item.standard**4 / item.dof
    with np.errstate(divide="ignore", invalid="ignore"):
        dof = total**4 / fourth
    known = dof[np.isfinite(dof)] if dof.ndim else dof[None][np.isfinite(dof[None])]
    return float(known.min()) if known.size else float("inf")


def student_factor(freedom: ArrayLike, level: float = 0.95) -> Floats:
    """Student's factor of a two-sided interval of that level (JCGM 100:2008, G.3).

    ``freedom``: degrees of freedom (n,), not necessarily whole; the normal factor from ``KNOWN`` on.
    """
    return np.asarray(scipy.special.stdtrit(np.minimum(freedom, KNOWN), 0.5 + level / 2))


def coverage_factor(dof: float = float("inf"), level: float = 0.95) -> float:
    """K of an interval of that level: Student's t with the effective dof truncated to an integer (JCGM 100:2008,
    G.4.2).
    """
    if not np.isfinite(dof):
        return float(scipy.special.ndtri((1 + level) / 2))
    return float(student_factor(max(1.0, np.floor(dof + 1e-9)), level))


@dataclass(frozen=True)
class Propagated:
    """``value`` and standard uncertainty ``u`` of a model's output, with the sensitivities c_i (m,)."""

    value: float
    u: float
    sensitivities: Floats


def propagate(
    model: Callable[[Floats], float], values: ArrayLike, covariance: ArrayLike, steps: ArrayLike | None = None
) -> Propagated:
    """The law of propagation of uncertainty, correlations included (JCGM 100:2008, eq. 13).

    ``covariance`` is (m, m), or (m,) standard uncertainties of independent inputs. Sensitivities are central
    differences over ``steps`` (default: a thousandth of each standard uncertainty). The law is first-order: it is wrong
    for a model that is nonlinear within the uncertainties.
    """
    x = np.asarray(values, dtype=np.float64)
    matrix = np.asarray(covariance, dtype=np.float64)
    matrix = np.diag(matrix**2) if matrix.ndim == 1 else matrix
    width = np.sqrt(np.diag(matrix)) * 1e-3 if steps is None else np.asarray(steps, dtype=np.float64)
    # A step below the input's resolution would measure only rounding.
    width = np.where(width > 0, np.maximum(width, np.abs(x) * 1e-8), 1.0)
    slopes = np.zeros(x.size)
    for index, step in enumerate(width):
        up, down = x.copy(), x.copy()
        up[index] += step
        down[index] -= step
        slopes[index] = (model(up) - model(down)) / (2 * step)
    return Propagated(float(model(x)), float(np.sqrt(slopes @ matrix @ slopes)), slopes)
