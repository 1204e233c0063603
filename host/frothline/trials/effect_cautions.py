"""What else the responses of a set of trials follow: the day, batches, the order of the runs, and a curve.

Each function returns sentences; an empty tuple means that nothing was found.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np

from frothline.numerics.arrays import Floats
from frothline.numerics.rounding_noise import noise_of, p_of_reduction
from frothline.trials.effect_checks import SIGNIFICANT
from frothline.trials.effect_scatter import RunsFit, fit_runs, rank_of
from frothline.trials.factor_coding import Code

BATCH = "solution batch"  # begins the names of the columns of batches


def drifts(fit: RunsFit, names: Sequence[str], covariates: Mapping[str, Floats]) -> tuple[str, ...]:
    """Dependence on each covariate (n,), and on the batches, by a partial F test at 5 %."""
    found = []
    matrix, rss = fit.matrix, float(fit.residuals @ fit.residuals)
    for label, column in covariates.items():
        if not np.all(np.isfinite(column)) or np.ptp(column) == 0:
            continue
        wide = fit_runs(
            np.column_stack([matrix, (column - column.mean()) / np.ptp(column)]), fit.y, fit.reading, fit.stated
        )
        if wide.freedom == fit.freedom:
            found.append(f"{label} changed exactly in step with the settings: a drift would look like an effect")
        elif wide.freedom and (p := _p(fit, rss, wide)) < SIGNIFICANT:
            found.append(f"the response also followed {label} (p = {p:.2g}); repeat the reference build to be sure")
    batches = [i for i, name in enumerate(names) if name.startswith(BATCH)]
    if batches and fit.freedom:
        rest = fit_runs(np.delete(matrix, batches, axis=1), fit.y, fit.reading, fit.stated)
        if rest.freedom > fit.freedom and (p := _p(rest, float(rest.residuals @ rest.residuals), fit)) < SIGNIFICANT:
            found.append(f"solution batches differed (p = {p:.2g}); the effects are taken within batches")
    return tuple(found)


def _p(narrow: RunsFit, before: float, wide: RunsFit) -> float:
    """The p value of the columns that ``wide`` has besides those of ``narrow``."""
    after = float(wide.residuals @ wide.residuals)
    extra = narrow.freedom - wide.freedom
    return p_of_reduction(before, after, extra, wide.freedom, noise=noise_of(narrow.y), least=narrow.typical_reading)


def run_in_order(factors: Mapping[str, Sequence[float | str]], started: Floats | None) -> tuple[str, ...]:
    """The factors whose settings were each run in one stretch, by the times ``started`` (n,)."""
    if started is None or not np.all(np.isfinite(started)):
        return ()
    return tuple(factor for factor, values in factors.items() if _in_stretches(values, started))


def order_words(factors: Sequence[str]) -> tuple[str, ...]:
    """A sentence on factors that were run in order: a drift of generator, agent or weather has the same effect."""
    if not factors:
        return ()
    listed = factors[0] if len(factors) == 1 else ", ".join(factors[:-1]) + " and " + factors[-1]
    each = "" if len(factors) == 1 else ", for each of them"
    said = (
        f"{listed}: all runs with one setting came before all runs with the other{each}, so that these runs cannot "
        "separate the change from a drift with time; run the settings alternately"
    )
    return (said,)


def _in_stretches(values: Sequence[float | str], started: Floats) -> bool:
    """Whether the runs of each setting end before those of the next begin; numbers only if they then rise or fall."""
    times: dict[float | str, list[float]] = {}
    for value, when in zip(values, started, strict=True):
        times.setdefault(value, []).append(float(when))
    order = sorted(times, key=lambda value: min(times[value]))
    if len(order) < 2 or any(max(times[a]) >= min(times[b]) for a, b in pairwise(order)):
        return False
    if any(isinstance(value, str) for value in order):
        return True
    steps = [float(b) - float(a) for a, b in pairwise(order)]
    return all(step > 0.0 for step in steps) or all(step < 0.0 for step in steps)


def curves(
    fit: RunsFit, codes: Sequence[Code], values: Mapping[str, Sequence[float | str]], response: str, unit: str
) -> tuple[str, ...]:
    """Factors of three or more sizes whose responses are not on a straight line, by the test for lack of fit.

    NIST/SEMATECH e-Handbook of Statistical Methods, 4.4.4.6 (from memory): the scatter of repeats against the
    deviation of their means from the line. With further factors the scatter is that of the fit with a free mean for
    each size. The deviation given is from the line through the smallest and the largest size.
    """
    found = []
    for code in codes:
        sizes = sorted({float(value) for value in values[code.factor] if not isinstance(value, str)})
        between = sizes[1:-1]
        if not between:
            continue
        given = np.array([float(value) for value in values[code.factor]])
        free = np.column_stack([(given == size).astype(float) for size in between])
        wide = fit_runs(np.column_stack([fit.matrix, free]), fit.y, fit.reading, fit.stated)
        # without repeats no scatter is left, and sizes that other factors follow cannot be judged
        if wide.freedom < 1 or rank_of(wide.matrix) - rank_of(fit.matrix) < len(between):
            continue
        p = _p(fit, float(fit.residuals @ fit.residuals), wide)
        if p >= SIGNIFICANT:
            continue
        above = (wide.pseudo @ wide.y)[-len(between) :]
        worst = int(np.argmax(np.abs(above)))
        side = "above" if above[worst] > 0.0 else "below"
        symbol = code.factor.rpartition(" (")[2].rstrip(")") if code.factor.endswith(")") else ""
        at = f"{between[worst]:.4g} {symbol}".strip()
        ends = f"{code.factor} from {sizes[0]:.4g} to {sizes[-1]:.4g}"
        off = f"at {at} it is {abs(above[worst]):.3g} {unit} {side} the line between the ends"
        found.append(
            f"{response} is fitted as a straight line over {ends} but does not follow one (p = {p:.2g}): {off}"
        )
    return tuple(found)
