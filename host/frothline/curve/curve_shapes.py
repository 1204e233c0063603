"""The possible shapes of an air source's curve, and the choice between them.

A curve is stored as p = c0 + c1 q + … + c4 q^4 (Pa, m3/s); each shape omits some of the terms:

    line                          a side-channel blower is nearly straight
    quadratic without linear term the ideal parabola p0 (1 - (q/qf)^2)
    quadratic                     the form the vacuum-cleaner air-performance test fits (ASTM F558, from memory)
    cubic                         a blower with a hump: pressure first rises with flow
    quartic                       no known source; for a bend that the other shapes cannot follow

Two shapes with a free exponent, "power" c0 - b q^a and "line and power", the same with a linear term
(``exponent_shapes``), compete as well; the curve uses the nearest quartic.

The choice is by the corrected information criterion of C. M. Hurvich and C.-L. Tsai, "Regression and time series model
selection in small samples", Biometrika 76 (1989) 297-307, AICc = n ln(chi^2/n) + 2k + 2k(k+1)/(n-k-1), k counting the
scale of the errors as well. Of the shapes within 2 of the best, the one that predicts each point best from the others
(leave-one-out cross-validation) gives the scatter and its degrees of freedom. With few points the stated variances
replace the scale; where the preferred shape misses the points, shapes of more coefficients take part
(``with_more_coefficients``).

Because the shape is chosen by the same points, a single shape's interval would be too short. The reported curve is
therefore the average of the shapes weighted by exp(-AICc/4), with a covariance for the spread within and between shapes
(K. P. Burnham and D. R. Anderson, Model Selection and Multimodel Inference, 2nd ed., 2002, chapter 4). Where one shape
is clearly the best, the average is that shape.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, inf, isfinite, sqrt

import numpy as np
from numpy.typing import NDArray

from frothline.curve.exponent_shapes import SHAPES, ExponentFit, fit_exponent
from frothline.curve.steady_points import PointArrays
from frothline.curve.uncertain_curve import ALL_POWERS
from frothline.errors import NotIdentifiable
from frothline.numerics.distributions import chi_square_quantile
from frothline.numerics.errors_in_both import PolynomialFit, fit_polynomial, polynomial, scale_of
from frothline.numerics.information import aic_stated_scale, aicc

FORMS: dict[str, tuple[int, ...]] = {
    "line": (0, 1),
    "quadratic without linear term": (0, 2),
    "quadratic": (0, 1, 2),
    "cubic": (0, 1, 2, 3),
    "quartic": (0, 1, 2, 3, 4),
}
ALL_FORMS = (*FORMS, *SHAPES)
FEW = 8  # points
VERY_FEW = 5  # points: with one more, shapes of 4 coefficients take part, though with a large small-sample term
LEAST_WEIGHT = 1e-4  # of a shape in the average
# The likelihood's factor is 0.5. The difference of AICc between two shapes is itself uncertain by several units. With
# 0.5 the average relies too much on one shape, and pressures extrapolated to no flow are missed (published fan tables:
# coverage 84 instead of 97 %).
WEIGHT_PER_AICC = 0.25
# With two the intervals of curves whose errors are twice as large as stated were missed more often (simulated humped
# source, 5 points: free delivery held in 83 instead of 85 %, 87 % without shapes of more coefficients)
STATED = 1.0  # degrees of freedom given to the stated variances
TWICE = 4.0  # times the stated variances: errors twice as large as stated
MATERIAL = 0.1  # of the largest pressure


@dataclass(frozen=True)
class Candidate:
    """One shape fitted to the points, and its performance."""

    form: str
    fit: PolynomialFit
    aicc: float
    weight: float  # share in the average, 0..1
    left_out: float  # rms error of predicting each point from the others, Pa
    objection: str  # why it is physically impossible; empty if it is not
    stated: float = 0.0  # degrees of freedom given to the stated variances

    @property
    def freedom(self) -> float:
        """Degrees of freedom of the errors' scale."""
        return max(self.fit.degrees_of_freedom + self.stated, 1.0)

    @property
    def scale(self) -> float:
        """Residual variance in units of the stated variances."""
        if not self.stated:
            return scale_of(self.fit.chi_square, self.fit.degrees_of_freedom)
        own = self.fit.chi_square / max(self.fit.degrees_of_freedom, 1)
        return max(own, (self.fit.chi_square + self.stated) / self.freedom)

    @property
    def coefficients(self) -> NDArray[np.float64]:
        """(5,) c0..c4, zero where the shape has none."""
        full = np.zeros(len(ALL_POWERS))
        full[list(self.fit.powers)] = self.fit.coefficients
        return full

    def spread(self, matrix: NDArray[np.float64]) -> NDArray[np.float64]:
        """A matrix over this shape's coefficients, expanded to c0..c4."""
        full = np.zeros((len(ALL_POWERS), len(ALL_POWERS)))
        full[np.ix_(self.fit.powers, self.fit.powers)] = matrix
        return full

    @property
    def approximation(self) -> NDArray[np.float64]:
        """Covariance of the part of this shape that the polynomial c0, c1, ... omits."""
        if isinstance(self.fit, ExponentFit):
            return self.fit.misfit
        return np.zeros((len(ALL_POWERS), len(ALL_POWERS)))


def candidates(points: PointArrays, forms: tuple[str, ...] = ALL_FORMS, *, tolerance: float = 1e-12) -> list[Candidate]:
    """All shapes that the points determine, best first. Raises NotIdentifiable if there is none."""
    n = len(points.q)
    # few points do not determine the scale as well: the stated variances are used there
    known = n < FEW and bool(np.any(points.var_p > 0) or np.any(points.var_q > 0))
    fits: list[tuple[str, PolynomialFit, float, str]] = []
    for form in (name for name in forms if name in FORMS):
        try:
            errors = points.var_q, points.var_p, points.cov
            fit = fit_polynomial(points.q, points.p, *errors, FORMS[form], tolerance=tolerance)
        except NotIdentifiable:
            continue
        score = aicc(_floored(fit, points), n, len(fit.powers), scale_known=known)
        fits.append((form, fit, score, objection(fit, points)))
    if fits:
        rough = min(fits, key=lambda item: item[1].chi_square)[1]
        for form in (name for name in forms if name in SHAPES):
            bent = fit_exponent(points, rough.weight, linear=SHAPES[form], tolerance=max(tolerance, 1e-10))
            if bent is not None:
                score = aicc(_floored(bent, points), n, len(bent.parameters), scale_known=known)
                fits.append((form, bent, score, objection(bent, points)))
    usable = [item for item in fits if not item[3] and (isfinite(item[2]) or len(FORMS.get(item[0], ALL_POWERS)) <= 3)]
    if not usable:
        reason = next((item[3] for item in fits if item[3]), "the points cannot separate the coefficients")
        raise NotIdentifiable(f"no curve of an air source fits these points: {reason}")
    best = min(item[2] for item in usable)
    total = sum(_share(item[2], best) for item in usable)
    found = [
        Candidate(form, fit, value, _share(value, best) / total if not why else 0.0, left_out(fit), why)
        for form, fit, value, why in fits
    ]
    found.sort(key=lambda item: (bool(item.objection), item.aicc))
    near = [item for item in found if not item.objection and item.aicc - found[0].aicc < 2]
    if len(near) > 1:
        leader = min(near, key=lambda item: item.left_out)
        found.remove(leader)
        found.insert(0, leader)
    return found


def with_more_coefficients(found: list[Candidate], points: PointArrays) -> list[Candidate]:
    """The shapes compared without the small-sample term, best first, where the shape it prefers misses the points.

    That term is for an unknown scale of the errors. Of 5 points it excludes every shape of 4 coefficients. It is left
    out where up to ``VERY_FEW`` points state their variances, the shape with the largest share and all of up to 3
    coefficients fail chi-square at 1 %, and a shape of more coefficients passes it with twice the stated errors. Where
    none does (a knee between two lines), the residuals of the simpler shapes determine the intervals, which are then
    wide. Of 6 points a shape of 4 coefficients passes by chance beside a knee, and the intervals of the average then
    missed it. A shape through all points takes no part, because nothing checks it: its extrapolation misses a knee by
    far.

    The scale is estimated from the residuals together with ``STATED`` degrees of freedom for the stated variances. It
    is never less than by the residuals alone. Without the omission ``found`` itself is returned.
    """
    if len(points.q) > VERY_FEW or not (np.any(points.var_p > 0) or np.any(points.var_q > 0)):
        return found
    fits = [item.fit for item in found if not item.objection]
    preferred = named(found).fit
    if _follows(preferred) or any(_follows(fit) for fit in fits if _count(fit) <= 3):
        return found
    if not any(_follows(fit, TWICE) for fit in fits if _count(fit) > _count(preferred)):
        return found
    scores = [aic_stated_scale(item.fit.chi_square, len(points.q), _count(item.fit), STATED) for item in found]
    usable = [not item.objection and item.fit.degrees_of_freedom > 0 for item in found]
    best = min(score for score, use in zip(scores, usable, strict=True) if use)
    shares = [_share(score, best) if use else 0.0 for score, use in zip(scores, usable, strict=True)]
    again = [
        replace(item, aicc=score if use else inf, weight=share / sum(shares), stated=STATED)
        for item, score, share, use in zip(found, scores, shares, usable, strict=True)
    ]
    return sorted(again, key=lambda item: (bool(item.objection), item.aicc))


def missed_words(found: Sequence[Candidate]) -> str:
    """The note on a curve whose shapes came from ``with_more_coefficients``; ``found`` are the shapes before."""
    best = named(found)
    freedom = best.fit.degrees_of_freedom
    return (
        f"{best.form}, the best shape by AICc, misses the points by more than their stated errors (chi-square "
        f"{best.fit.chi_square:.3g} at {freedom} degree{'s' if freedom != 1 else ''} of freedom): shapes of more "
        "coefficients take part, and the intervals include the differences between the shapes"
    )


def _count(fit: PolynomialFit) -> int:
    return len(fit.residual) - fit.degrees_of_freedom


def _follows(fit: PolynomialFit, variances: float = 1.0) -> bool:
    """Whether the points scatter about the shape as stated, or with ``variances`` times the stated variances.

    That is, chi-square is below its 99 % point.
    """
    freedom = fit.degrees_of_freedom
    return freedom > 0 and fit.chi_square < variances * chi_square_quantile(0.99, freedom)


def average_of(found: Sequence[Candidate], scale: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Weighted average of the shapes' coefficients, (5,), and its covariance, (5, 5), within and between the shapes.

    ``scale``: residual variance in units of the stated variances.
    """
    kept = [item for item in found if item.weight > LEAST_WEIGHT]
    total = sum(item.weight for item in kept)
    mean = sum((item.weight / total * item.coefficients for item in kept), np.zeros(len(ALL_POWERS)))
    covariance = np.zeros((len(ALL_POWERS),) * 2)
    for item in kept:
        off = item.coefficients - mean
        covariance += (
            item.weight / total * (item.spread(item.fit.covariance) * scale + np.outer(off, off) + item.approximation)
        )
    return mean, covariance


def _share(value: float, best: float) -> float:
    if not isfinite(best):
        return 1.0
    return exp(-(value - best) * WEIGHT_PER_AICC)


def _floored(fit: PolynomialFit, points: PointArrays) -> float:
    """Chi-square, limited below by the rounding error, because exact points fit several shapes equally well."""
    rounding = float(np.sum(fit.weight * (1e-9 * points.p) ** 2))
    return max(fit.chi_square, rounding)


def left_out(fit: PolynomialFit) -> float:
    """Root mean square error, Pa, of each point's pressure as predicted by the others (leverage form of PRESS)."""
    deleted = fit.residual / np.maximum(1 - fit.hat, 1e-6) / np.sqrt(fit.weight)
    return sqrt(float(np.mean(deleted**2)))


def objection(fit: PolynomialFit, points: PointArrays) -> str:
    """Reason why this cannot be an air source's curve over the measured range; empty if it can."""
    # Only shapes that are impossible by a material amount: excluding small wiggles due to noise alone biases the
    # average towards the stiffer shapes, and its intervals miss (measured: coverage 88 instead of 95 % with humped
    # sources)
    top = float(points.q.max())
    q = np.linspace(0.0, top, 101)
    p = polynomial(fit.powers, fit.coefficients, q)
    slope = polynomial(fit.powers, fit.coefficients, q, 1)
    highest = float(p.max())
    if p[0] <= 0:
        return "its pressure at zero flow is not positive"
    if slope[-1] > 0 and float(p[-1] - p.min()) > MATERIAL * highest:
        return "its pressure rises with flow at the high end"
    after_fall = p - np.minimum.accumulate(p)
    if float(p[0] - p[: int(np.argmax(after_fall)) + 1].min()) > MATERIAL * highest < float(after_fall.max()):
        return "its pressure falls, rises and falls again"
    if highest > 2 * float(p[0]):
        return "its hump is twice as high as its shut-off pressure"
    return ""


def named(found: Sequence[Candidate]) -> Candidate:
    """The shape with the largest share in the reported curve."""
    return max(found, key=lambda item: item.weight)


def why(found: Sequence[Candidate]) -> str:
    """The choice as text, for a reader without statistics."""
    leader = named(found)
    compared = sorted(
        (item for item in found if not item.objection and isfinite(item.aicc)), key=lambda item: item.aicc
    )
    rule = "AIC by the stated errors" if leader.stated else "AICc"
    words = [f"{leader.form}: too few points to compare shapes"]
    if len(compared) == 1:
        words = [f"{leader.form}: the only shape that could be compared"]
    elif compared:
        rival = compared[1]
        gap = rival.aicc - leader.aicc
        how = ", clearly" if gap > 6 else ", a near-tie" if gap < 2 else ""
        words = [
            f"{leader.form}: best of {len(compared)} shapes by {rule} ({leader.aicc:.1f})",
            f"next is {rival.form} ({gap:+.1f}{how})",
        ]
        if min(leader.fit.degrees_of_freedom, rival.fit.degrees_of_freedom) > 0:
            words.append(
                f"left-out points are predicted to {leader.left_out:.3g} Pa against {rival.left_out:.3g} Pa by the next"
            )
    few = [item.form for item in found if not item.objection and not isfinite(item.aicc)]
    if few and compared:
        words.append(f"not compared for want of points: {', '.join(few)}")
    words += [f"{item.form} is ruled out: {item.objection}" for item in found if item.objection]
    shared = [item for item in found if item.weight > 0.05]
    if len(shared) > 1:
        words.append(
            "the reported curve averages " + ", ".join(f"{item.form} {100 * item.weight:.0f} %" for item in shared)
        )
    return "; ".join(words)
