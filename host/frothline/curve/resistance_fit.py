"""Fit of a generator's resistance p = c + a q + b q^2 to steady points, with uncertainties.

Both terms, a and b, are always fitted and are never negative. A term that the fit makes negative is set to zero and
keeps its uncertainty from the fit of both terms, because few points cannot show that a term is absent. Only the entry
pressure c is selected by a criterion: AIC with the stated uncertainties as the scale (K. P. Burnham and D. R. Anderson,
Model Selection and Multimodel Inference, 2nd ed., 2002, sections 2.2 and 2.5), divided by the excess of the scatter
over them where there is one (their QAIC). The forms that were not selected, and the power law, enter the covariance
with their weight and their distance from the reported line (their chapter 4), because the true form is uncertain too.

A power law p = k Q^n is fitted to the same points (``power_law``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from frothline.curve import fit_advice as advise
from frothline.curve.power_law import PowerLaw, fit_power_law
from frothline.curve.resistance import ResistanceLine, line_of
from frothline.curve.steady import Refusal
from frothline.curve.steady_points import PointArrays, SteadyPoint, arrays_of
from frothline.curve.uncertain_curve import ALL_POWERS, Uncertain
from frothline.errors import FitError, NotIdentifiable, TooFewPoints
from frothline.numerics.arrays import Floats
from frothline.numerics.distributions import rank_correlation
from frothline.numerics.errors_in_both import PolynomialFit, fit_polynomial, scale_of
from frothline.numerics.uncertainty import KNOWN

FEWEST_POINTS = 4  # two more than the terms; with one more, Student's factor is 12.7
TOLERANCE = 1e-10  # of the iteration, relative
WITHOUT, WITH, SINGLE = (1, 2), (0, 1, 2), ((1,), (2,))
WORDS = {0: "c", 1: "a q", 2: "b q²"}
CLEARLY = 0.95  # weight above which the power law is reported to fit better than the line
NEARLY_NONE = 1e-3  # weight below which a form is dropped
DRAWN_OVER = 40  # number of flows at which the power law is fitted by a polynomial


@dataclass(frozen=True)
class ResistanceFit:
    """A measured resistance.

    line : p = c + a q + b q^2 with its covariance
    form : the terms that are not zero, as "a q + b q²"
    why : the form, with the omitted terms and the reason
    chi_square, degrees_of_freedom : of this form, from the stated random uncertainties
    range : (lowest, highest) measured flow, m3/s
    power_law : p = k Q^n through the same points; None where the points do not determine it
    power_law_weight : weight of the power law against the forms of the line, 0..1
    points : points used
    refused : points left out, with the reason
    """

    line: ResistanceLine
    form: str
    why: str
    chi_square: float
    degrees_of_freedom: int
    range: tuple[float, float]
    power_law: PowerLaw | None
    power_law_weight: float
    points: tuple[SteadyPoint, ...]
    refused: tuple[Refusal, ...]

    def __repr__(self) -> str:
        law = self.power_law
        s = "" if self.degrees_of_freedom == 1 else "s"
        power = "" if law is None else f"; power law n = {law.exponent:.3g}, chi² {law.chi_square:.3g}"
        return (
            f"ResistanceFit(p = {self.form}, c = {self.line.c:.4g} Pa, a = {self.line.a:.4g} Pa s/m³, "
            f"b = {self.line.b:.4g} Pa s²/m⁶, chi² {self.chi_square:.3g} at {self.degrees_of_freedom} degree{s} of "
            f"freedom{power}; {len(self.points)} points)"
        )


@dataclass(frozen=True)
class _Form:
    """One fitted form: ``fit`` has the non-negative terms, ``full`` all terms of the form."""

    powers: tuple[int, ...]
    fit: PolynomialFit
    full: PolynomialFit

    @property
    def coefficients(self) -> Floats:
        found = np.zeros(len(ALL_POWERS))
        found[list(self.fit.powers)] = self.fit.coefficients
        return found

    @property
    def covariance(self) -> Floats:
        """(5, 5) random part, scaled by the scatter; terms set to zero have their uncertainty from the fit of all
        terms.
        """
        found = np.zeros((len(ALL_POWERS),) * 2)
        found[np.ix_(self.powers, self.powers)] = self.full.covariance
        return found * scale_of(self.fit.chi_square, self.fit.degrees_of_freedom)


def fit_resistance(
    points: Sequence[SteadyPoint], *, entry: bool | None = None, name: str = "resistance"
) -> ResistanceFit:
    """The resistance of a generator from steady points measured through it, in any order.

    ``entry`` : True with the entry pressure c, False without; None selects by the criterion. Raises TooFewPoints below
        four points, NotIdentifiable where the points are not those of a resistance.
    """
    usable, refused = advise.sort_out(points, supply_runs_down=False)
    _refuse_too_few(len(usable))
    arrays = arrays_of(usable)
    if rank_correlation(arrays.q, arrays.p) < -0.7:
        raise NotIdentifiable(
            "pressure falls with flow; through a generator it rises",
            remedy="Check that this is not a sweep of the air source alone",
        )
    asked = {None: (WITHOUT, WITH, *SINGLE), False: (WITHOUT, *SINGLE), True: (WITH,)}[entry]
    forms = [form for form in (_fit(arrays, powers) for powers in asked) if form is not None]
    if not forms:
        raise NotIdentifiable(
            "no resistance with positive parts fits these points", remedy="Measure at more widely spread flows"
        )
    law = _power_law(usable)
    shares = _shares(forms, law if entry is not True else None, arrays)
    leader = max((k for k in range(len(forms)) if len(forms[k].powers) > 1), key=lambda k: shares[k])
    chosen = forms[leader]
    off = [form.coefficients - chosen.coefficients for form in forms]
    spread = [form.covariance for form in forms]
    if law is not None and len(shares) > len(forms):
        off.append(_as_polynomial(law) - chosen.coefficients)
        spread.append(chosen.covariance)
    none = np.zeros((len(ALL_POWERS),) * 2)
    random = sum((share * part for share, part in zip(shares, spread, strict=True)), none)
    shape = sum((share * np.outer(by, by) for share, by in zip(shares, off, strict=True)), none)
    share = shares[-1] if len(shares) > len(forms) else 0.0
    why = _why(chosen, law, share)
    return ResistanceFit(
        line=line_of(_uncertain(chosen, random, shape, arrays), name, (why,)),
        form=_terms(chosen.fit.powers),
        why=why,
        chi_square=chosen.fit.chi_square,
        degrees_of_freedom=chosen.fit.degrees_of_freedom,
        range=(float(arrays.q.min()), float(arrays.q.max())),
        power_law=law,
        power_law_weight=share,
        points=tuple(usable),
        refused=tuple(refused),
    )


def _refuse_too_few(number: int) -> None:
    if number >= FEWEST_POINTS:
        return
    has = "there is 1" if number == 1 else f"there are {number}"
    more = FEWEST_POINTS - number
    raise TooFewPoints(
        f"a resistance needs at least {FEWEST_POINTS} steady points, and {has}",
        remedy=f"Hold at {more} more flow{'s' if more > 1 else ''} through the generator, from low to full",
    )


def _fit(arrays: PointArrays, powers: tuple[int, ...]) -> _Form | None:
    """The best fit of the form with non-negative terms; None where the points do not determine the form."""
    full = _try(arrays, powers)
    if full is None:
        return None
    fits = [full]
    if np.any(full.coefficients < 0):
        some = [part for size in range(1, len(powers)) for part in combinations(powers, size) if part[-1] > 0]
        fits = [
            fit for fit in (_try(arrays, part) for part in some) if fit is not None and np.all(fit.coefficients >= 0)
        ]
    return _Form(powers, min(fits, key=lambda fit: fit.chi_square), full) if fits else None


def _try(arrays: PointArrays, powers: tuple[int, ...]) -> PolynomialFit | None:
    if len(arrays.q) <= len(powers):
        return None
    try:
        errors = arrays.var_q, arrays.var_p, arrays.cov
        return fit_polynomial(arrays.q, arrays.p, *errors, powers, tolerance=TOLERANCE)
    except NotIdentifiable:
        return None


def _power_law(points: list[SteadyPoint]) -> PowerLaw | None:
    try:
        return fit_power_law(points)
    except FitError:
        return None


def _shares(forms: list[_Form], law: PowerLaw | None, arrays: PointArrays) -> list[float]:
    """Weight of each form, and last of the power law if it used all points; the weights add up to 1."""
    chi = [form.fit.chi_square for form in forms]
    terms = [len(form.powers) for form in forms]
    if law is not None and law.degrees_of_freedom == len(arrays.q) - 2:
        chi, terms = [*chi, law.chi_square], [*terms, 2]
    richest = int(np.argmax(terms))
    freedom = len(arrays.q) - terms[richest]
    stated = bool(np.any(arrays.var_p > 0) or np.any(arrays.var_q > 0))
    excess = max(min(chi) / max(freedom, 1), 1.0 if stated else 1e-300)
    scores = np.array([one / excess + 2 * k for one, k in zip(chi, terms, strict=True)])
    weight = np.exp(-(scores - scores.min()) / 2)
    weight[weight < NEARLY_NONE * weight.max()] = 0.0
    return [float(one) for one in weight / weight.sum()]


def _as_polynomial(law: PowerLaw) -> Floats:
    """(5,) the power law as a q + b q^2 + d q^3 over the measured flows, within a few percent."""
    q = np.linspace(*law.range, DRAWN_OVER)
    p = law.value(q)
    top = law.range[1]
    terms = np.stack([(q / top) ** power for power in (1, 2, 3)], axis=1)
    found = np.linalg.lstsq(terms / p[:, None], np.ones_like(p), rcond=None)[0]
    return np.array([0.0, *(found / top ** np.arange(1, 4)), 0.0])


def _uncertain(form: _Form, random: Floats, shape: Floats, arrays: PointArrays) -> Uncertain:
    fit = form.fit
    effects = np.zeros((len(arrays.names), len(ALL_POWERS)))
    for k in range(len(arrays.names)):
        effects[k, list(fit.powers)] = fit.shift(arrays.common_q[k], arrays.common_p[k])
    freedom = float(max(fit.degrees_of_freedom, 1))
    scale = scale_of(fit.chi_square, fit.degrees_of_freedom)
    parts = ((random, freedom), (shape, KNOWN))
    return Uncertain(form.coefficients, parts, tuple(zip(arrays.names, effects, strict=True)), scale)


def _why(form: _Form, law: PowerLaw | None, share: float) -> str:
    words = [f"p = {_terms(form.fit.powers)}"]
    words += [
        f"{WORDS[power]} came out negative and is set to 0, with its uncertainty"
        for power in form.powers
        if power not in form.fit.powers
    ]
    if law is not None and share > CLEARLY:
        words.append(f"a power law with n = {law.exponent:.2f} fits the points better")
    return "; ".join(words)


def _terms(powers: tuple[int, ...]) -> str:
    return " + ".join(WORDS[power] for power in powers)
