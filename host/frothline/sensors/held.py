"""Slow readings held for the fast ones: the latest reading before each moment, with its age."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from frothline.sensors.series import Floats, Status
from frothline.sensors.uncertainty import Reading, share


class Held:
    """One slow channel over batches. A moment sees only what had arrived by then, live and from a file alike."""

    def __init__(self) -> None:
        self._tick = np.empty(0, np.int64)
        self._value = np.empty(0)
        self._random = np.empty(0)
        self._systematic = np.empty(0)

    def feed(self, tick: NDArray[np.int64], reading: Reading) -> None:
        """New readings; those that say nothing are passed over. Only the last of the earlier ones is kept."""
        good = np.isfinite(reading.value) & ((reading.status & (Status.MISSING | Status.SATURATED)) == 0)
        self._tick = np.concatenate([self._tick[-1:], tick[good]])
        self._value = np.concatenate([self._value[-1:], reading.value[good]])
        self._random = np.concatenate([self._random[-1:], reading.u_random[good]])
        self._systematic = np.concatenate([self._systematic[-1:], reading.u_systematic[good]])

    def at(self, tick: NDArray[np.int64]) -> tuple[Floats, Floats, Floats, Floats]:
        """Value, random and systematic standard uncertainty, and age in ticks, (n,) each; NaN before the first."""
        index = np.searchsorted(self._tick, tick, side="right") - 1
        if not self._tick.size:
            nothing = np.full(tick.shape, np.nan)
            return nothing, nothing, nothing, nothing
        there, index = index >= 0, np.maximum(index, 0)
        age = np.where(there, tick - self._tick[index], np.nan)
        return (
            np.where(there, self._value[index], np.nan),
            np.where(there, self._random[index], np.nan),
            np.where(there, self._systematic[index], np.nan),
            age,
        )


def held_or_assumed(
    held: Held,
    tick: NDArray[np.int64],
    oldest: float,
    fresh: float,
    fitted: bool,
    assumed: tuple[Floats, Floats],
    name: str,
) -> tuple[Reading, NDArray[np.bool_]]:
    """A held reading up to ``oldest`` ticks of age, STALE beyond ``fresh``; else the assumed value and its uncertainty.

    A channel that is fitted but has not spoken yet is MISSING, not assumed: its first reading is under way.
    """
    value, random, systematic, age = held.at(tick)
    known = np.isfinite(value) & (age <= oldest)
    waiting = ~np.isfinite(value) & fitted
    guess, u_guess = np.broadcast_to(assumed[0], tick.shape), np.broadcast_to(assumed[1], tick.shape)
    taken = ~known & ~waiting
    with np.errstate(invalid="ignore"):
        status = np.where(waiting, Status.MISSING, np.where(taken | (age > fresh), Status.STALE, 0)).astype(np.uint8)
    result = np.where(known, value, np.where(taken, guess, np.nan))
    return (
        Reading(
            result,
            status,
            (
                share(name, "random", np.where(known, random, 0.0)),
                share(name, "systematic", np.where(known, systematic, np.where(taken, u_guess, np.nan))),
            ),
        ),
        taken,
    )
