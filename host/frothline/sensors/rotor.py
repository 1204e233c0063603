"""Pulse anemometer: rotor frequency from the count and the time of the last edge.

The frequency is an exact number of edges over an exact time, f = dN/dt between edges, without gate or dead time. A lost
frame only lengthens the interval. The interval covers at least one whole revolution if there was one since the rotor
started, so that unequal magnet spacing cancels.

A vane has inertia: when the air stops it runs down and the edges get further apart. Edges that stop while it spins mean
an unplugged or blocked rotor, and give no information on the flow.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.numerics.arrays import Floats
from frothline.numerics.uncertainty import Contribution, rectangular, share
from frothline.sensors.datasheets import CLOCK_TOLERANCE, PULSE_ROTOR
from frothline.sensors.reading import Reading
from frothline.sensors.series import Status
from frothline.wire import ENUMS
from frothline.wire.ticks import ahead, not_after

FLAG = ENUMS["line_flag"]
_MISSING, _STOPPED = np.uint8(Status.MISSING), np.uint8(Status.STOPPED)
_SILENT, _UNSEEN = np.uint8(Status.SILENT), np.uint8(Status.UNSEEN)
_EMPTY: NDArray[np.int64] = np.empty(0, np.int64)
# A vane at this frequency gives many more edges before it stops. The air that passes while the vane follows by 63 % is
# about half a metre, tens of edges; its own friction stops it over a similar distance. Judgement, no source.
SPINNING = 15.0  # Hz
BROKEN_OFF = 5.0  # intervals without an edge


class RotorTimer:
    """Rotor frequency by batches; the edges of the last revolution are carried over.

    ``pulses_per_revolution``: 0 if unknown; the interval is then the last one, and the magnet spacing does not cancel.
    ``turned``: pulses are known to occur in this stream, so a rotor without edges is at rest from the beginning. It
    stays True over a restart of the board.
    """

    def __init__(self, pulses_per_revolution: int, tick_hz: int, timeout: float, *, turned: bool = False) -> None:
        self.pulses_per_revolution = pulses_per_revolution
        self.tick_hz = tick_hz
        self.timeout = timeout
        self.turned = turned
        self._total: int | None = None  # unwrapped count of the last message
        self._count = _EMPTY  # unwrapped counts of the stored messages, none from before a standstill
        self._edge = _EMPTY  # unwrapped ticks of their last edges
        self._frequency = np.nan
        self._silent = False

    def restart(self) -> None:
        """The board booted: its counts start at zero."""
        self._total, self._silent = None, False
        self._forget()

    def _forget(self) -> None:
        self._count, self._edge, self._frequency = _EMPTY, _EMPTY, np.nan

    def feed(
        self, tick: NDArray[np.int64], pulses: NDArray[Any], edge_tick: NDArray[Any], flags: NDArray[Any]
    ) -> Reading:
        """Hz (n,) from message ticks unwrapped since the boot, pulse counts and edge ticks as sent, and line flags.

        Between two edges the last frequency is held until the time since the last edge exceeds its interval; from then
        on the frequency is one over that time, its upper bound. A stopped rotor gives 0 and STOPPED. A rotor whose
        edges stopped while it was spinning holds its last speed until that is certain, and then gives NaN, MISSING and
        SILENT until the next edge. Before the first edge of a boot, and within the timeout after the boot, the result
        is NaN and MISSING. A rotor without any edge in the stream is never reported as stopped: NaN, MISSING and
        UNSEEN.
        """
        n = tick.size
        if n == 0:
            return Reading(np.empty(0), np.empty(0, np.uint8), ())
        edge = not_after(edge_tick.astype(np.int64), tick)
        raw = pulses.astype(np.int64)
        before = int(raw[0]) if self._total is None else self._total
        count = before + np.cumsum(np.concatenate([[ahead(raw[0], before)], ahead(raw[1:], raw[:-1])]))
        self._total = int(count[-1])
        new = np.diff(count, prepend=before) > 0
        unseen, timeout = (flags & FLAG["rotor_seen"]) == 0, self.timeout * self.tick_hz
        turned = np.logical_or.accumulate(~unseen) | self.turned
        self.turned = bool(turned[-1])
        # The board reports "stopped" from its boot on, before it can be known, and also without a rotor plugged in.
        early = unseen & ((tick <= timeout) | ~turned)
        idle = ~early & (unseen | ((flags & FLAG["rotor_stopped"]) != 0) | (tick - edge > timeout))

        known = self._count.size
        counts, edges = np.concatenate([self._count, count]), np.concatenate([self._edge, edge])
        index = np.arange(known + n)
        # An interval never covers a standstill: messages before the last idle one are excluded.
        first_allowed = np.maximum.accumulate(
            np.concatenate([np.zeros(known, np.int64), np.where(idle | early, index[known:] + 1, 0)])
        )
        turn = max(1, self.pulses_per_revolution)
        earlier = np.searchsorted(counts, counts - turn, side="right") - 1
        earlier = np.minimum(np.maximum(earlier, first_allowed), index)[known:]
        between = (count - counts[earlier]).astype(np.float64)
        ticks = (edge - edges[earlier]).astype(np.float64)
        usable = new & ~idle & ~early & (between > 0) & (ticks > 0)
        frequency = np.full(n, np.nan)
        np.divide(between * self.tick_hz, ticks, out=frequency, where=usable)

        held = _hold(frequency, usable, idle, self._frequency)
        with np.errstate(divide="ignore"):
            bound = np.where(tick > edge, self.tick_hz / np.maximum(tick - edge, 1), np.inf)
        spinning = held >= SPINNING
        silent = self._broken_off(spinning & (held > BROKEN_OFF * bound), new)
        value = np.where(idle, 0.0, np.where(spinning, held, np.minimum(held, bound)))
        value = np.where(silent, np.nan, value)
        status = np.where(idle, _STOPPED, np.where(np.isnan(value), _MISSING, np.uint8(0)))
        status = np.where(silent, _MISSING | _SILENT, status)
        status = np.where(~turned & (tick > timeout), _MISSING | _UNSEEN, status)

        known_turn = self.pulses_per_revolution > 0

        def shares() -> tuple[Contribution, ...]:
            whole = (between > 0) & (between % turn == 0) & known_turn
            uneven = np.where(whole | ~usable, 0.0, PULSE_ROTOR.jitter * np.sqrt(2.0) / between)
            steps = np.where(usable, np.sqrt(2 / 12) / ticks, 0.0)
            waiting = np.where(bound < held, rectangular(held - bound), 0.0)  # it may be slower by that much
            return rotor_shares(value, uneven, steps, np.where(idle, 0.0, waiting))

        self._remember(counts, edges, int(first_allowed[-1]), float(held[-1]))
        return Reading(value, status, shares)

    def _broken_off(self, dead: NDArray[np.bool_], new: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """(n,) True from the message in which edges are found to have stopped until the next edge."""
        event = np.maximum.accumulate(np.where(dead | new, np.arange(new.size), -1))
        silent = np.where(event >= 0, dead[np.maximum(event, 0)], self._silent)
        self._silent = bool(silent[-1])
        return np.asarray(silent, dtype=np.bool_)

    def _remember(self, counts: NDArray[np.int64], edges: NDArray[np.int64], allowed: int, frequency: float) -> None:
        if allowed >= counts.size:
            self._forget()
            return
        start = int(np.searchsorted(counts, counts[-1] - max(1, self.pulses_per_revolution), side="right")) - 1
        counts, edges = counts[max(start, allowed) :], edges[max(start, allowed) :]
        # Of messages without a new edge the first is enough; the others would accumulate with a slow rotor.
        fresh = np.diff(counts, prepend=counts[0] - 1) > 0
        self._count, self._edge, self._frequency = counts[fresh], edges[fresh], frequency


def _hold(
    frequency: NDArray[np.float64], usable: NDArray[np.bool_], idle: NDArray[np.bool_], before: float
) -> NDArray[np.float64]:
    """The last frequency from a complete interval; cleared at a standstill."""
    event = np.maximum.accumulate(np.where(usable | idle, np.arange(frequency.size), -1))
    held = np.where(event >= 0, frequency[np.maximum(event, 0)], before)
    return np.asarray(held, dtype=np.float64)


def rotor_shares(value: Floats, uneven: Floats, steps: Floats, waiting: Floats) -> tuple[Contribution, ...]:
    """Contributions to a rotor frequency (n,) Hz: ``uneven`` and ``steps`` relative, ``waiting`` in Hz."""
    return (
        share("magnet spacing", "random", np.nan_to_num(value * uneven), origin=PULSE_ROTOR.source),
        share("resolution", "random", np.nan_to_num(value * steps), "rectangular", "0.5 us tick of the capture"),
        share("waiting for an edge", "random", waiting, "rectangular", "f < 1/(time since the last edge)"),
        share("board clock", "systematic", rectangular(CLOCK_TOLERANCE) * value, "rectangular", "common practice"),
    )
