"""Effects of factors on a response by least squares, and factors that the trials cannot separate.

Pure functions on plain arrays and small records; no files, no clock. A *factor* is a changeable entry (rows of holes,
packing length, outlet bore, dilution); a *response* is a measured figure of the foam. Numeric factors are coded so that
their lowest value is -1 and their highest +1; a factor with names for values must have two of them. An *effect* is the
change of the response from the low to the high end, all else constant (the convention of the factorial literature: mean
at high minus mean at low in a balanced design).

Method: ordinary least squares with Student intervals from the scatter of the residuals (NIST/SEMATECH e-Handbook of
Statistical Methods, 5.4); without degrees of freedom for the scatter, the stated measurement uncertainty is used
instead, and the report states that run-to-run scatter is unknown. Confounding follows from the null space of the model
matrix, so that it is exact for any set of runs, not only for designed fractions.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Z95, Estimate
from frothline.numerics.arrays import Floats
from frothline.numerics.distributions import f_exceedance, normal_exceedance, student_exceedance
from frothline.numerics.uncertainty import student_factor
from frothline.trials.effect_checks import SIGNIFICANT, check_trials
from frothline.trials.factor_coding import RANK_TOLERANCE, Code, code_factor, null_groups


@dataclass(frozen=True)
class Effect:
    """Change of the response from low to high; ``low`` and ``high`` are the settings as typed."""

    factor: str
    estimate: Estimate
    low: float | str
    high: float | str
    p_value: float
    degrees_of_freedom: int


@dataclass(frozen=True)
class Confounded:
    """Factors that these trials cannot separate, and runs that would (each a complete set of settings)."""

    factors: tuple[str, ...]
    words: str
    runs: tuple[Mapping[str, float | str], ...]


@dataclass(frozen=True)
class EffectsReport:
    """Effects on one response; ``words`` come first, in order."""

    response: str
    unit: str
    trials: int
    effects: tuple[Effect, ...]
    confounded: tuple[Confounded, ...]
    unchanged: tuple[str, ...]
    drifts: tuple[str, ...]
    residual_standard_deviation: float
    degrees_of_freedom: int
    words: tuple[str, ...] = field(default=())


def effects(
    settings: Sequence[Mapping[str, float | str]],
    response: Sequence[float],
    *,
    name: str,
    unit: str,
    u_response: Sequence[float] | None = None,
    blocks: Sequence[str] | None = None,
    covariates: Mapping[str, Sequence[float]] | None = None,
) -> EffectsReport:
    """Effects of every factor that changed between the trials.

    Parameters
    ----------
    settings
        One mapping of factor to value a trial, all with the same keys.
    response
        (n,) measured values in ``unit``; NaN if a trial has none (it is left out with a note).
    u_response
        (n,) standard uncertainties of measurement, same unit; used if no scatter can be estimated.
    blocks
        (n,) name of the solution batch of each trial; a difference between batches is removed and named.
    covariates
        Measured but not set quantities, (n,) each: run order or time, water temperature. They are tested for drift.

    Raises
    ------
    TooFewPoints
        With fewer than two trials that have the response.
    InputError
        If the trials do not have the same factors, or a factor cannot be coded; for arguments of unequal length,
        settings that are not numbers, and uncertainties below zero.
    """
    check_trials(settings, response, u_response, blocks, covariates or {})
    y_all = np.asarray(response, dtype=float)
    use = np.isfinite(y_all)
    if use.sum() < 2:
        raise TooFewPoints(
            f"{int(use.sum())} of {len(y_all)} trials have a value; the minimum is two",
            where=name,
            remedy="Weigh and time a sample of each trial.",
        )
    factors = list(settings[0])
    for number, row in enumerate(settings, 1):
        if set(row) != set(factors):
            odd = ", ".join(sorted(set(row) ^ set(factors)))
            raise InputError("has other factors than the first one: " + odd, where=f"trial {number}")
    kept = [row for row, keep in zip(settings, use, strict=True) if keep]
    y = y_all[use]
    u = None if u_response is None else np.asarray(u_response, dtype=float)[use]
    codes = {f: code_factor(f, [row[f] for row in kept]) for f in factors}
    varied = [f for f in factors if codes[f] is not None]
    unchanged = tuple(f for f in factors if codes[f] is None)

    columns, names = _nuisance(blocks, use, len(y))
    for factor in varied:
        code = codes[factor]
        assert code is not None
        columns.append(code.column([row[factor] for row in kept]))
        names.append(factor)
    matrix = np.column_stack(columns)
    groups = null_groups(matrix, names)
    tangled = {member for group in groups for member in group}
    confounded = tuple(_describe(group, kept, codes) for group in groups if any(m in codes for m in group))

    fitted, scale, freedom = _least_squares(matrix, y, u)
    results = []
    for index, factor in enumerate(names):
        if factor not in codes or factor in tangled:
            continue
        code = codes[factor]
        assert code is not None
        results.append(_effect(code, 2 * fitted[index], 2 * scale[index], freedom, unit))
    residuals = y - matrix @ fitted
    sigma = float(np.sqrt(residuals @ residuals / freedom)) if freedom else math.nan
    drifts = _drifts(matrix, names, y, residuals, covariates, use)
    report = EffectsReport(name, unit, len(y), tuple(results), confounded, unchanged, drifts, sigma, freedom)
    return EffectsReport(**{**report.__dict__, "words": _words(report, int((~use).sum()), u)})


def _nuisance(blocks: Sequence[str] | None, use: NDArray[np.bool_], n: int) -> tuple[list[Floats], list[str]]:
    """Mean, and one column for each solution batch after the first."""
    columns, names = [np.ones(n)], ["mean"]
    if blocks is not None:
        present = [block for block, keep in zip(blocks, use, strict=True) if keep]
        for block in sorted(set(present))[1:]:
            columns.append(np.array([1.0 if b == block else 0.0 for b in present]))
            names.append(f"solution batch {block}")
    return columns, names


def _least_squares(matrix: Floats, y: Floats, u: Floats | None) -> tuple[Floats, Floats, int]:
    """Minimum-norm coefficients, their standard errors, and the degrees of freedom left."""
    pseudo = np.linalg.pinv(matrix, rcond=RANK_TOLERANCE)
    coefficients = pseudo @ y
    freedom = len(y) - int(np.linalg.matrix_rank(matrix, tol=1e-7))
    if freedom > 0:
        residuals = y - matrix @ coefficients
        variance = np.full(len(y), residuals @ residuals / freedom)
    elif u is not None:
        variance = u**2
    else:
        variance = np.full(len(y), np.nan)
    return coefficients, np.sqrt((pseudo**2) @ variance), freedom


def _effect(code: Code, value: float, error: float, freedom: int, unit: str) -> Effect:
    if freedom > 0:
        half = float(student_factor(freedom)) * error
        p = 2 * student_exceedance(abs(value) / error, freedom) if error > 0 else 0.0
        assumptions: tuple[str, ...] = ()
    else:
        half = Z95 * error
        p = 2 * float(normal_exceedance(abs(value) / error)) if error > 0 else math.nan
        assumptions = ("one run each: measurement uncertainty only, scatter between runs is not known",)
    half = half if np.isfinite(half) else float("inf")  # the scatter is unknown: any effect is possible
    estimate = Estimate(value, error, value - half, value + half, unit, assumptions=assumptions)
    return Effect(code.factor, estimate, code.low, code.high, p, freedom)


def _describe(
    group: tuple[str, ...], kept: Sequence[Mapping[str, float | str]], codes: Mapping[str, Code | None]
) -> Confounded:
    """Text for one confounded set, and the runs that would separate its members."""
    real = [member for member in group if member in codes]
    listed = _listed(list(group))
    if len(group) == 2 and len(real) == 2:
        words = f"{listed} changed together in every pair: these trials cannot separate them"
    elif "mean" in group or len(real) < len(group):
        words = f"{listed} changed together: these trials cannot separate them"
    else:
        words = f"{listed} changed in step with each other: these trials cannot separate them"
    # from the last trial, change each member except one separately
    base = dict(kept[-1])
    runs = []
    for factor in real[: max(1, len(real) - 1)]:
        code = codes[factor]
        assert code is not None
        other = code.low if base[factor] == code.high else code.high
        runs.append({**base, factor: other})
    return Confounded(tuple(real), words, tuple(runs))


def _drifts(
    matrix: Floats,
    names: Sequence[str],
    y: Floats,
    residuals: Floats,
    covariates: Mapping[str, Sequence[float]] | None,
    use: NDArray[np.bool_],
) -> tuple[str, ...]:
    """Other dependencies of the response: each covariate, and the batches, by a partial F test at 5 %."""
    found = []
    rss = float(residuals @ residuals)
    for label, values in (covariates or {}).items():
        column = np.asarray(values, dtype=float)[use]
        if not np.all(np.isfinite(column)) or np.ptp(column) == 0:
            continue
        wide = np.column_stack([matrix, (column - column.mean()) / np.ptp(column)])
        rank = int(np.linalg.matrix_rank(wide, tol=1e-7))
        if rank == np.linalg.matrix_rank(matrix, tol=1e-7):
            found.append(f"{label} changed exactly in step with the settings: a drift would look like an effect")
            continue
        freedom = len(y) - rank
        if freedom < 1:
            continue
        more = y - wide @ np.linalg.lstsq(wide, y, rcond=None)[0]
        left = float(more @ more)
        p = f_exceedance((rss - left) / (left / freedom), 1, freedom) if left > 0 else 0.0
        if p < SIGNIFICANT:
            found.append(f"the response also followed {label} (p = {p:.2g}); repeat the reference build to be sure")
    batches = [i for i, n in enumerate(names) if n.startswith("solution batch")]
    if batches:
        rest = np.delete(matrix, batches, axis=1)
        fewer = y - rest @ np.linalg.lstsq(rest, y, rcond=None)[0]
        extra = int(np.linalg.matrix_rank(matrix, tol=1e-7) - np.linalg.matrix_rank(rest, tol=1e-7))
        freedom = len(y) - int(np.linalg.matrix_rank(matrix, tol=1e-7))
        if extra and freedom and rss > 0:
            p = f_exceedance((float(fewer @ fewer) - rss) / extra / (rss / freedom), extra, freedom)
            if p < SIGNIFICANT:
                found.append(f"solution batches differed (p = {p:.2g}); the effects are taken within batches")
    return tuple(found)


def _words(report: EffectsReport, without: int, u: Floats | None) -> tuple[str, ...]:
    lines = [confounded.words for confounded in report.confounded]
    if without:
        lines.append(f"{without} trial{'s' if without > 1 else ''} had no {report.response} and could not be used")
    if report.degrees_of_freedom == 0:
        lines.append(
            "one run each: the scatter between equal runs is not known"
            + ("; intervals are those of the measurement alone" if u is not None else "; no interval can be given")
        )
    lines.extend(report.drifts)
    for effect in sorted(report.effects, key=lambda e: e.p_value):
        sure = effect.estimate.lower > 0 or effect.estimate.upper < 0
        direction = "rises" if effect.estimate.value > 0 else "falls"
        lines.append(
            f"{effect.factor} from {_level(effect.low)} to {_level(effect.high)}: {report.response} {direction} by "
            f"{abs(effect.estimate.value):.3g} {report.unit} "
            + ("(95 % interval excludes no change)" if sure else "(95 % interval includes no change)")
        )
    return tuple(lines)


def _level(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.4g}"


def _listed(names: Sequence[str]) -> str:
    shown = [name for name in names if name != "mean"]
    return shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + " and " + shown[-1]


# --- designed sets of runs --------------------------------------------------------------------------------------


# --- two groups -------------------------------------------------------------------------------------------------
