"""Checks of the arguments of ``effects`` and ``welch``; they raise InputError with the trial."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf, isfinite, isnan

from frothline.errors import InputError

SIGNIFICANT = 0.05  # p below which a difference is reported as more than scatter


def check_trials(
    settings: Sequence[Mapping[str, float | str]],
    response: Sequence[float],
    u_response: Sequence[float] | None,
    blocks: Sequence[str] | None,
    covariates: Mapping[str, Sequence[float]],
) -> None:
    """Check that all have one length, settings and uncertainties are finite, and uncertainties >= 0. A response may be
    NaN.
    """
    lengths = {"settings": len(settings), "response": len(response)}
    lengths |= {} if u_response is None else {"u_response": len(u_response)}
    lengths |= {} if blocks is None else {"blocks": len(blocks)}
    lengths |= {name: len(values) for name, values in covariates.items()}
    if len(set(lengths.values())) > 1:
        said = ", ".join(f"{count} of {name}" for name, count in lengths.items())
        raise InputError(f"the lists differ in length: {said}", where="effects", remedy="Give one value per trial")
    for number, row in enumerate(settings, 1):
        for factor, value in row.items():
            if not isinstance(value, str) and not isfinite(value):
                raise InputError(f"{value} is not a number", where=f"trial {number}: {factor}", remedy="Give its value")
    for number, value in enumerate(response, 1):
        if abs(value) == inf:
            raise InputError(f"{value} is not a number", where=f"trial {number}", remedy="Give NaN where it is unknown")
    for number, (value, u) in enumerate(zip(response, u_response or (), strict=False), 1):
        if not isnan(value) and not 0.0 <= u < inf:
            what = f"an uncertainty of {u:g} is not valid"
            raise InputError(what, where=f"trial {number}", remedy="Give a standard uncertainty of zero or more")


def check_group(name: str, mean: float, deviation: float, n: int) -> None:
    """Check mean and standard deviation of one group of a comparison."""
    if n != int(n):
        raise InputError(f"{n:g} runs is not valid", where=name, remedy="Give a whole number")
    if not isfinite(mean):
        raise InputError(f"a mean of {mean} is not a number", where=name, remedy="Leave out runs without a value")
    if not 0.0 <= deviation < inf:
        raise InputError(
            f"a standard deviation of {deviation:g} is not valid",
            where=name,
            remedy="Give zero or more, a finite number",
        )
