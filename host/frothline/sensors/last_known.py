"""Slow readings at the times of fast ones: the latest earlier reading with its age.

A channel that sent readings and then stopped is carried forward from its last reading. The true value is somewhere
between that reading and the assumed value of the spool file. The uncertainty grows with 1 - exp(-t/T) until it covers
both; the value itself moves to the assumed one far more slowly. An unplugged sensor therefore causes no jump, and
widens the interval second by second.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.numerics.arrays import Floats, spread
from frothline.numerics.uncertainty import Contribution, rectangular, share
from frothline.sensors.reading import Reading
from frothline.sensors.series import Status

_MISSING, _STALE = np.uint8(Status.MISSING), np.uint8(Status.STALE)
_STALE_AND_SILENT = np.uint8(Status.STALE | Status.SILENT)
_UNREAD = np.uint8(Status.MISSING | Status.SATURATED)
LATER = 30.0  # times the uncertainty's time constant, for the value; judgement


class LastKnown:
    """One slow channel over batches. Only earlier readings are used, live and from a file alike.

    ``middle``: the median of three consecutive readings is used. Pulling or inserting a plug during a conversion leaves
    one reading between the true one and the open end, which would otherwise be the last one held.
    """

    def __init__(self, *, middle: bool = False) -> None:
        self._middle = middle
        self._raw = np.empty(0)  # the last two messages, NaN without a reading
        self._first_tick: int | None = None  # tick of the first message, with or without a reading
        self._tick = np.empty(0, np.int64)
        self._value = np.empty(0)
        self._random = np.empty(0)
        self._systematic = np.empty(0)

    def feed(self, tick: NDArray[np.int64], reading: Reading) -> None:
        """Add readings; unknown ones are ignored. Only the last of the earlier ones is stored."""
        if self._first_tick is None and tick.size:
            self._first_tick = int(tick[0])
        good = np.isfinite(reading.value) & ((reading.status & _UNREAD) == 0)
        value = self._middle_of_three(np.where(good, reading.value, np.nan)) if self._middle else reading.value
        good &= np.isfinite(value)
        self._tick = np.concatenate([self._tick[-1:], tick[good]])
        self._value = np.concatenate([self._value[-1:], value[good]])
        self._random = np.concatenate([self._random[-1:], reading.u_random[good]])
        self._systematic = np.concatenate([self._systematic[-1:], reading.u_systematic[good]])

    def _middle_of_three(self, value: Floats) -> Floats:
        """(n,) median of each value and its two predecessors; NaN if one is. The very first two are unchanged."""
        row = np.concatenate([self._raw, value])
        before = self._raw.size
        self._raw = row[-2:]
        result = row.copy()
        if row.size > 2:
            result[2:] = np.median(np.stack([row[:-2], row[1:-1], row[2:]]), axis=0)
        return result[before:]

    def at(self, tick: NDArray[np.int64]) -> tuple[Floats, Floats, Callable[[], tuple[Floats, Floats]]]:
        """Value, age in ticks, and a function that gives the random and the systematic standard uncertainty; (n,) each,
        NaN before the first.
        """
        if not self._tick.size:
            nothing = np.full(tick.shape, np.nan)
            return nothing, nothing, lambda: (nothing, nothing)
        index = np.searchsorted(self._tick, tick, side="right") - 1
        there = index >= 0
        index = np.maximum(index, 0)
        everywhere, random, systematic = bool(there.all()), self._random, self._systematic

        def known(values: NDArray[Any]) -> Floats:
            return np.asarray(values if everywhere else np.where(there, values, np.nan), dtype=np.float64)

        age = known(tick - self._tick[index])
        return known(self._value[index]), age, lambda: (known(random[index]), known(systematic[index]))

    def since_first_message(self, tick: NDArray[np.int64]) -> Floats:
        """Ticks (n,) since the channel's first message; negative or NaN before it."""
        return np.asarray(tick - (np.nan if self._first_tick is None else float(self._first_tick)), dtype=np.float64)


def carried_or_assumed(
    held: LastKnown,
    tick: NDArray[np.int64],
    fresh: float,
    lasts: float,
    fitted: bool,
    assumed: Callable[[], tuple[Floats, Floats]],
    name: str,
) -> tuple[Reading, NDArray[np.bool_]]:
    """The last reading, carried forward where it is older than ``fresh`` ticks, or the assumed value.

    The assumed value and its standard uncertainty are used where the channel is not fitted, or has been read for longer
    than ``fresh`` without a reading; ``assumed`` calculates both where they are needed.

    ``lasts``: ticks, the time constant of the uncertainty (see the module docstring). A carried value is STALE and
    SILENT, an assumed one is STALE. A fitted channel that has just started is MISSING until its first reading. The
    second result (n,) is True where the value was assumed.
    """
    value, age, doubts = held.at(tick)
    if (age <= fresh).all():  # all known and fresh: taken as they are

        def read() -> tuple[Contribution, ...]:
            random, systematic = doubts()
            guess, u_guess = assumed()
            # Without an assumed value nobody knows how far from it the reading is, as below.
            systematic = np.where(np.isfinite(guess + u_guess), systematic, np.nan)
            return share(name, "random", random), share(name, "systematic", systematic)

        return Reading(value, np.zeros(tick.shape, np.uint8), read), np.zeros(tick.shape, np.bool_)
    known = np.isfinite(value)
    with np.errstate(invalid="ignore"):
        waiting = ~known & fitted & ~(held.since_first_message(tick) > fresh)
    guess, u_guess = (spread(one, tick.shape) for one in assumed())
    taken = ~known & ~waiting
    since = np.where(known, np.maximum(age - fresh, 0.0), 0.0)
    apart = np.where(known, guess - value, 0.0)
    status = np.where(since > 0, _STALE_AND_SILENT, np.uint8(0))
    status = np.where(waiting, _MISSING, np.where(taken, _STALE, status))
    carried = np.where(since > 0, value - np.expm1(-since / (LATER * lasts)) * apart, value)

    def shares() -> tuple[Contribution, ...]:
        random, systematic = doubts()
        covers = np.hypot(u_guess, rectangular(apart))  # anywhere between the last reading and the assumed value
        doubt = np.hypot(systematic, -np.expm1(-since / lasts) * covers)
        return (
            share(name, "random", np.where(known, random, 0.0)),
            share(name, "systematic", np.where(known, doubt, np.where(taken, u_guess, np.nan))),
        )

    return Reading(np.where(known, carried, np.where(taken, guess, np.nan)), status, shares), taken
