"""Effects of factors on a response by least squares, and factors that the trials cannot separate.

Pure functions on plain arrays and small records; no files, no clock. A *factor* is a changeable entry (rows of holes,
packing length, outlet bore, dilution); a *response* is a measured figure of the foam. Numeric factors are coded so that
their lowest value is -1 and their highest +1; a factor with k names for values has k - 1 columns. An *effect* is the
change of the response from the low to the high end, or from one name to another, all else constant (the convention of
the factorial literature: mean at high minus mean at low in a balanced design).

Method: ordinary least squares with Student intervals from the scatter of the residuals (NIST/SEMATECH e-Handbook of
Statistical Methods, 5.4), at least as wide as the uncertainty of the readings allows (``effect_scatter``); without
degrees of freedom for the scatter, the stated measurement uncertainty is used instead, and the report states that
run-to-run scatter is unknown. Confounding follows from the null space of the model matrix, so that it is exact for any
set of runs, not only for designed fractions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Estimate
from frothline.numerics.arrays import Floats
from frothline.rounding import counted
from frothline.trials.effect_cautions import BATCH, curves, drifts, order_words, run_in_order
from frothline.trials.effect_checks import check_trials
from frothline.trials.effect_scatter import Contrasted, RunsFit, fit_runs
from frothline.trials.factor_coding import Code, code_factor, null_groups

MOST_PAIRED = 4  # names of one factor of which each pair is compared; of more, each with the most frequent one


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
    """Effects on one response; ``words`` come first, in order. ``in_order`` : factors whose settings were each run in
    one stretch, so that a drift may be the effect.
    """

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
    in_order: tuple[str, ...] = ()


def effects(
    settings: Sequence[Mapping[str, float | str]],
    response: Sequence[float],
    *,
    name: str,
    unit: str,
    u_response: Sequence[float] | None = None,
    u_reading: Sequence[float] | None = None,
    blocks: Sequence[str] | None = None,
    covariates: Mapping[str, Sequence[float]] | None = None,
    started: Sequence[float] | None = None,
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
    u_reading
        (n,) the part of them that is independent between trials, 0 where it is not known: no interval is narrower than
        it allows.
    blocks
        (n,) name of the solution batch of each trial; a difference between batches is removed and named.
    covariates
        Measured but not set quantities, (n,) each: run order or time, water temperature. They are tested for drift.
    started
        (n,) time of each trial in any unit; tells whether one setting was run after the other.

    Raises
    ------
    TooFewPoints
        With fewer than two trials that have the response.
    InputError
        If the trials do not have the same factors, or a factor cannot be coded; for arguments of unequal length,
        settings that are not numbers, and uncertainties below zero.
    """
    also = dict(covariates or {}) | ({} if started is None else {"started": started})
    check_trials(settings, response, u_response, blocks, also)
    check_trials(settings, response, u_reading, None, {})
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
    values = {f: [row[f] for row in kept] for f in factors}
    codes = {f: code_factor(f, values[f]) for f in factors}
    unchanged = tuple(f for f in factors if not codes[f])
    by_name = {code.name: code for f in factors for code in codes[f]}

    columns, names = _nuisance(blocks, use, int(use.sum()))
    for code in by_name.values():
        columns.append(code.column(values[code.factor]))
        names.append(code.name)
    matrix = np.column_stack(columns)
    groups = null_groups(matrix, names)
    tangled = {member for group in groups for member in group}
    confounded = tuple(_describe(group, kept, by_name) for group in groups if any(m in by_name for m in group))

    y = y_all[use]
    reading = np.zeros(len(y)) if u_reading is None else np.asarray(u_reading, dtype=float)[use]
    stated = None if u_response is None else np.asarray(u_response, dtype=float)[use]
    fit = fit_runs(matrix, y, reading, stated)
    results, by_reading = [], False
    for low, high, contrast in _contrasts(codes, names, tangled):
        found = fit.combination(contrast)
        by_reading |= found.by_reading and fit.measured
        results.append(_effect(Code(low.factor, low.low, high.high, low.factor), found, fit, unit))
    told = {code.factor: code for name, code in by_name.items() if name not in tangled}
    when = None if started is None else np.asarray(started, dtype=float)[use]
    seen = drifts(fit, names, {label: np.asarray(v, dtype=float)[use] for label, v in (covariates or {}).items()})
    in_step = any("exactly in step" in one for one in seen)
    in_order = run_in_order({f: values[f] for f in told}, when)
    seen += () if in_step else order_words(in_order)
    seen += curves(fit, list(told.values()), values, name, unit)
    report = EffectsReport(name, unit, len(y), tuple(results), confounded, unchanged, seen, fit.scatter, fit.freedom)
    notes = _notes(fit, codes, by_reading, unit)
    return replace(report, words=_words(report, int((~use).sum()), notes), in_order=in_order)


def _contrasts(
    codes: Mapping[str, tuple[Code, ...]], names: Sequence[str], tangled: set[str]
) -> list[tuple[Code, Code, Floats]]:
    """The effects that can be told: a code with the low and one with the high level, and the contrast (k,) of the
    coefficients.
    """
    found = []
    for mine in codes.values():
        free = [code for code in mine if code.name not in tangled]
        for code in free:
            contrast = np.zeros(len(names))
            contrast[names.index(code.name)] = 2.0
            found.append((code, code, contrast))
        if 1 < len(mine) < MOST_PAIRED:
            for first, second in combinations(free, 2):
                contrast = np.zeros(len(names))
                contrast[names.index(first.name)], contrast[names.index(second.name)] = -2.0, 2.0
                found.append((replace(first, low=first.high), second, contrast))
    return found


def _nuisance(blocks: Sequence[str] | None, use: NDArray[np.bool_], n: int) -> tuple[list[Floats], list[str]]:
    """Mean, and one column for each solution batch after the first."""
    columns, names = [np.ones(n)], ["mean"]
    if blocks is not None:
        present = [block for block, keep in zip(blocks, use, strict=True) if keep]
        for block in sorted(set(present))[1:]:
            columns.append(np.array([1.0 if b == block else 0.0 for b in present]))
            names.append(f"{BATCH} {block}")
    return columns, names


def _effect(code: Code, found: Contrasted, fit: RunsFit, unit: str) -> Effect:
    assumptions: tuple[str, ...] = ()
    if not fit.freedom:
        assumptions = ("one run each: measurement uncertainty only, scatter between runs is not known",)
    elif found.by_reading:
        assumptions = ("the scatter of the runs is less than the uncertainty of a reading: the interval is of that",)
    estimate = Estimate(
        found.value, found.error, found.value - found.half, found.value + found.half, unit, assumptions=assumptions
    )
    return Effect(code.factor, estimate, code.low, code.high, found.p_value, fit.freedom)


def _describe(
    group: tuple[str, ...], kept: Sequence[Mapping[str, float | str]], codes: Mapping[str, Code]
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
    for member in real[: max(1, len(real) - 1)]:
        code = codes[member]
        other = code.low if base[code.factor] == code.high else code.high
        runs.append({**base, code.factor: other})
    return Confounded(tuple(real), words, tuple(runs))


def _notes(fit: RunsFit, codes: Mapping[str, tuple[Code, ...]], by_reading: bool, unit: str) -> list[str]:
    """What is known of the scatter, and how names are compared."""
    lines = []
    if not any(codes.values()):
        lines.append("no entry differs between these trials")
    if fit.freedom == 0:
        lines.append(
            "one run each: the scatter between equal runs is not known"
            + (
                "; intervals are those of the measurement alone"
                if fit.stated is not None
                else "; no interval can be given"
            )
        )
    elif not fit.measured:
        given = "intervals are those of the measurement alone" if fit.stated is not None else "no interval can be given"
        lines.append(f"alike runs have equal values: their scatter is not known; {given}")
    elif by_reading:
        lines.append(
            f"alike runs differ by less than a reading is uncertain ({fit.typical_reading:.2g} {unit}, standard): the "
            "intervals allow for that"
        )
    for factor, mine in codes.items():
        if len(mine) >= MOST_PAIRED:
            usual = mine[0].low
            lines.append(f"{factor} has {len(mine) + 1} names: each is compared with “{usual}”, the most frequent one")
        elif len(mine) > 1:
            lines.append(f"{factor} has {len(mine) + 1} names: each pair is compared by itself")
    return lines


def _words(report: EffectsReport, without: int, notes: Sequence[str]) -> tuple[str, ...]:
    lines = [confounded.words for confounded in report.confounded]
    if without:
        lines.append(f"{counted(without, 'trial')} had no {report.response} and could not be used")
    lines += [*report.drifts, *notes]
    for effect in sorted(report.effects, key=lambda e: e.p_value):
        sure = effect.estimate.lower > 0 or effect.estimate.upper < 0
        value = effect.estimate.value
        moved = f"{'rises' if value > 0 else 'falls'} by {abs(value):.3g} {report.unit}" if value else "does not change"
        lines.append(
            f"{effect.factor} from {_level(effect.low)} to {_level(effect.high)}: {report.response} {moved} "
            + ("(95 % interval excludes no change)" if sure else "(95 % interval includes no change)")
        )
    return tuple(lines)


def _level(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.4g}"


def _listed(names: Sequence[str]) -> str:
    shown = [name for name in names if name != "mean"]
    return shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + " and " + shown[-1]
