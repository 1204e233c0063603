"""Slow readings at the times of fast ones: the latest earlier reading with its age.

A channel that has spoken and falls silent is carried on from its last reading. What it would read now lies somewhere
on the way from there to whatever the room or the machine has made of it since: the doubt grows with 1 - exp(-t/T), up
to what covers both the usual figure and the last one; the value itself goes over to the usual figure far more slowly.
So a plug that came out moves no figure at once, and makes it less sure by the second.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from frothline.numerics.arrays import Floats
from frothline.numerics.uncertainty import rectangular, share
from frothline.sensors.reading import Reading
from frothline.sensors.series import Status

LATER = 30.0  # times the time constant of the doubt, for the value; judgement


class LastKnown:
    """One slow channel over batches. A moment sees only what had arrived by then, live and from a file alike.

    ``middle``: of each three readings in a row the middle one counts. A plug that is pulled or put in while the
    converter adds up leaves one reading between the true one and the open end, and it would be the last one held.
    """

    def __init__(self, *, middle: bool = False) -> None:
        self._middle = middle
        self._raw = np.empty(0)  # the last two messages, NaN where they said nothing
        self._asked: int | None = None  # tick of the first message, whether it said anything or not
        self._tick = np.empty(0, np.int64)
        self._value = np.empty(0)
        self._random = np.empty(0)
        self._systematic = np.empty(0)

    def feed(self, tick: NDArray[np.int64], reading: Reading) -> None:
        """New readings; those that say nothing are passed over. Only the last of the earlier ones is kept."""
        if self._asked is None and tick.size:
            self._asked = int(tick[0])
        good = np.isfinite(reading.value) & ((reading.status & (Status.MISSING | Status.SATURATED)) == 0)
        value = self._middle_of_three(np.where(good, reading.value, np.nan)) if self._middle else reading.value
        good &= np.isfinite(value)
        self._tick = np.concatenate([self._tick[-1:], tick[good]])
        self._value = np.concatenate([self._value[-1:], value[good]])
        self._random = np.concatenate([self._random[-1:], reading.u_random[good]])
        self._systematic = np.concatenate([self._systematic[-1:], reading.u_systematic[good]])

    def _middle_of_three(self, value: Floats) -> Floats:
        """(n,) of (n,); NaN where one of the three is. The first two of all stand for themselves."""
        row = np.concatenate([self._raw, value])
        before = self._raw.size
        self._raw = row[-2:]
        result = row.copy()
        if row.size > 2:
            result[2:] = np.median(np.stack([row[:-2], row[1:-1], row[2:]]), axis=0)
        return result[before:]

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

    def asked_for(self, tick: NDArray[np.int64]) -> Floats:
        """Ticks (n,) since the channel could first have spoken; negative or NaN before."""
        return np.asarray(tick - (np.nan if self._asked is None else float(self._asked)), dtype=np.float64)


def carried_or_assumed(
    held: LastKnown,
    tick: NDArray[np.int64],
    fresh: float,
    lasts: float,
    fitted: bool,
    assumed: tuple[Floats, Floats],
    name: str,
) -> tuple[Reading, NDArray[np.bool_]]:
    """The last reading, carried on where it is older than ``fresh`` ticks; the assumed value and its standard
    uncertainty where the channel is not fitted, or has been asked for longer than that and never spoke.

    ``lasts``: ticks, the time constant of the doubt (head of the file). Carried on is STALE and SILENT, assumed is
    STALE. A channel that is fitted and has only just been asked is MISSING: its first reading is under way. The second
    answer (n,) is true where the value was assumed.
    """
    value, random, systematic, age = held.at(tick)
    known = np.isfinite(value)
    with np.errstate(invalid="ignore"):
        waiting = ~known & fitted & ~(held.asked_for(tick) > fresh)
    guess, u_guess = np.broadcast_to(assumed[0], tick.shape), np.broadcast_to(assumed[1], tick.shape)
    taken = ~known & ~waiting
    since = np.where(known, np.maximum(age - fresh, 0.0), 0.0)
    apart = np.where(known, guess - value, 0.0)
    covers = np.hypot(u_guess, rectangular(apart))  # it may be anywhere from the last reading to the usual figure
    doubt = np.hypot(systematic, -np.expm1(-since / lasts) * covers)
    status = np.where(
        waiting,
        Status.MISSING,
        np.where(taken, Status.STALE, np.where(since > 0, Status.STALE | Status.SILENT, 0)),
    ).astype(np.uint8)
    carried = np.where(since > 0, value - np.expm1(-since / (LATER * lasts)) * apart, value)
    return (
        Reading(
            np.where(known, carried, np.where(taken, guess, np.nan)),
            status,
            (
                share(name, "random", np.where(known, random, 0.0)),
                share(name, "systematic", np.where(known, doubt, np.where(taken, u_guess, np.nan))),
            ),
        ),
        taken,
    )
