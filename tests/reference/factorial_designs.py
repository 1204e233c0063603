"""Two-level factorial designs worked as the textbooks do: effects, alias chains and Lenth's margin."""

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

Array = NDArray[np.float64]


def factorial_effects(levels: NDArray[Any], response: Sequence[float], letters: str) -> dict[str, float]:
    """Every contrast of a two-level design: main effects and all interactions that it can carry.

    ``levels`` is (n, k) of -1 and +1, ``letters`` names the k columns. Effects that are aliases of an earlier one (in
    order of length, then of the alphabet) are left out; :func:`alias_chains` names them. Unit: that of the response.
    """
    y = np.asarray(response, dtype=float)
    found: dict[str, float] = {}
    seen: list[Array] = [np.ones(len(y))]
    for size in range(1, len(letters) + 1):
        for chosen in combinations(range(len(letters)), size):
            column = np.prod(levels[:, chosen], axis=1).astype(float)
            if any(abs(column @ other) == len(y) for other in seen):
                continue
            seen.append(column)
            found["".join(letters[i] for i in chosen)] = float(column @ y / (len(y) / 2))
    return found


def alias_chains(levels: NDArray[Any], letters: str) -> dict[str, tuple[str, ...]]:
    """For each estimable contrast of a two-level design, the signed terms that it really is the sum of."""
    n = len(levels)
    columns: dict[str, Array] = {}
    for size in range(1, len(letters) + 1):
        for chosen in combinations(range(len(letters)), size):
            columns["".join(letters[i] for i in chosen)] = np.prod(levels[:, chosen], axis=1).astype(float)
    chains: dict[str, tuple[str, ...]] = {}
    used: set[str] = set()
    for name, column in columns.items():
        if name in used or abs(column.sum()) == n:
            continue
        signs = {other: column @ columns[other] for other in columns}
        chain = [other for other, dot in signs.items() if abs(dot) == n]
        used.update(chain)
        chains[name] = tuple(other if signs[other] > 0 else f"-{other}" for other in chain)
    return chains


def lenth(contrasts: Mapping[str, float]) -> tuple[float, float]:
    """Pseudo standard error and 95 % margin of error of unreplicated contrasts (Lenth, Technometrics 31 (1989) 469)."""
    sizes = np.abs(np.array(list(contrasts.values())))
    s0 = 1.5 * float(np.median(sizes))
    pse = 1.5 * float(np.median(sizes[sizes < 2.5 * s0]))
    return pse, float(stats.t.ppf(0.975, len(sizes) / 3)) * pse
