"""Coding of factors for the least squares of effects, and detection of inseparable factors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from frothline.errors import InputError
from frothline.numerics.arrays import Floats

RANK_TOLERANCE = 1e-9  # of coded columns, whose size is one


@dataclass(frozen=True)
class Code:
    """The coding of one factor to -1 .. +1, or of one of its names against the rest.

    ``name`` : of the column: the factor, with the name of ``high`` where it has more than two names
    """

    factor: str
    low: float | str
    high: float | str
    name: str

    def column(self, values: Sequence[float | str]) -> Floats:
        if isinstance(self.low, str):
            return np.array([1.0 if value == self.high else -1.0 for value in values])
        middle = (float(self.high) + self.low) / 2
        half = (float(self.high) - self.low) / 2
        return (np.array([float(value) for value in values]) - middle) / half


def code_factor(factor: str, values: Sequence[float | str]) -> tuple[Code, ...]:
    """The columns of one factor: none where it never changed, one of numbers or two names, k - 1 of k names.

    Of k > 2 names the most frequent one is ``low`` in all columns. Twice the coefficient of a column is the difference
    of its name from that one.

    Raises
    ------
    InputError
        If names and numbers are mixed.
    """
    if all(isinstance(value, (int, float)) for value in values):
        numbers = [float(value) for value in values]
        return (Code(factor, min(numbers), max(numbers), factor),) if min(numbers) < max(numbers) else ()
    given = [value for value in values if isinstance(value, str)]
    if len(given) < len(values):
        raise InputError(
            f"has both numbers and names ({', '.join(map(str, dict.fromkeys(values)))})",
            where=f"factor {factor}",
            remedy="Write it the same way in every build sheet.",
        )
    names = sorted(set(given))
    if len(names) == 2:
        return (Code(factor, names[0], names[1], factor),)
    usual = max(names, key=given.count)
    return tuple(Code(factor, usual, name, f"{factor} “{name}”") for name in names if name != usual)


def null_groups(matrix: Floats, names: Sequence[str]) -> list[tuple[str, ...]]:
    """Sets of columns that depend on each other linearly, smallest description first.

    Each basis vector of the null space, in reduced echelon form so that it is sparse, gives one set; sets with a common
    column are joined. Columns in no set are estimable.
    """
    basis = scipy.linalg.null_space(matrix, rcond=RANK_TOLERANCE).T
    if basis.size == 0:
        return []
    reduced = _echelon(basis)
    groups: list[set[str]] = []
    for row in reduced:
        members = {names[int(i)] for i in np.flatnonzero(np.abs(row) > 1e-7)}
        touching = [group for group in groups if group & members]
        for group in touching:
            members |= group
            groups.remove(group)
        groups.append(members)
    order = {name: i for i, name in enumerate(names)}
    return [tuple(sorted(group, key=order.__getitem__)) for group in groups]


def _echelon(rows: Floats) -> Floats:
    """Reduced row echelon form with partial pivoting."""
    work = rows.copy()
    pivot_row = 0
    for column in range(work.shape[1]):
        if pivot_row == work.shape[0]:
            break
        best = pivot_row + int(np.argmax(np.abs(work[pivot_row:, column])))
        if abs(work[best, column]) < 1e-8:
            continue
        work[[pivot_row, best]] = work[[best, pivot_row]]
        work[pivot_row] /= work[pivot_row, column]
        for other in range(work.shape[0]):
            if other != pivot_row:
                work[other] -= work[other, column] * work[pivot_row]
        pivot_row += 1
    return work
