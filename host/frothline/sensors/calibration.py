"""The calibration of a channel with its uncertainty.

The file is TOML, made to be read by people: one table per channel with coefficients, their covariance, the range they
hold in, residuals, and who did it when and how. ``load`` and ``save`` are in ``calibration_file``.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from hashlib import blake2b
from typing import Any

import numpy as np

from frothline.errors import InputError
from frothline.numerics.arrays import Floats
from frothline.numerics.uncertainty import Contribution, share


@dataclass(frozen=True)
class Evaluated:
    """Value (n,), standard uncertainty of the line (n,), and whether it was asked beyond the calibrated range (n,)."""

    value: Floats
    u: Floats
    outside: np.ndarray


@dataclass(frozen=True)
class ChannelCalibration:
    """Polynomial y = c0 + c1 x (+ c2 x2) of one channel, or King's law of a thermal anemometer.

    ``coefficients`` (m,), ``covariance`` (m, m), ``low`` and ``high`` bound x. ``rival`` are the coefficients of the
    order that was not chosen: beyond the range, where the points no longer say which order is right, the difference
    of the two is taken as one more doubt.
    """

    channel: str
    input: str
    unit: str
    coefficients: Floats
    covariance: Floats
    low: float
    high: float
    rival: Floats | None = None
    systematic: float = 0.0  # what all points share: the reference's own standard uncertainty at its largest, in unit
    relative_systematic: float = 0.0
    dof: float = float("inf")
    date: str = ""
    who: str = ""
    how: str = ""
    board: str = ""
    residuals: tuple[float, ...] = ()
    points: tuple[tuple[float, float, float, float], ...] = ()
    reason: str = ""
    remarks: tuple[str, ...] = field(default=())
    pulses_per_revolution: int = 0  # of the rotor, as counted; 0 where nobody was asked
    king: dict[str, float] | None = None  # wire, reference, density of King's law; coefficients are then A, B, n

    def evaluate(self, x: Floats) -> Evaluated:
        """Y and its standard uncertainty at x (n,), covariance included (JCGM 100:2008, H.3.4)."""
        x = np.asarray(x, dtype=np.float64)
        powers = np.stack([x**order for order in range(self.coefficients.size)], axis=-1)
        value = powers @ self.coefficients
        variance = np.einsum("...i,ij,...j->...", powers, self.covariance, powers)
        with np.errstate(invalid="ignore"):
            outside = (x < self.low) | (x > self.high)
        beyond = np.zeros_like(value)
        if self.rival is not None:
            other = np.stack([x**order for order in range(self.rival.size)], axis=-1) @ self.rival
            beyond = np.where(outside, (value - other) / np.sqrt(3.0), 0.0)
        systematic = self.systematic + self.relative_systematic * np.abs(value)
        return Evaluated(value, np.sqrt(np.maximum(variance, 0.0) + beyond**2 + systematic**2), outside)

    def slope(self, x: Floats) -> Floats:
        """dy/dx at x (n,)."""
        derivative = np.polynomial.polynomial.polyder(self.coefficients)
        return np.asarray(np.polynomial.polynomial.polyval(x, derivative), dtype=np.float64)

    def shares(self, evaluated: Evaluated) -> tuple[Contribution, ...]:
        """The calibration as one share of the budget."""
        origin = f"{self.how}, {self.date}".strip(", ")
        return (share("calibration", "systematic", evaluated.u, origin=origin, dof=self.dof),)


def _plain(value: Any) -> Any:
    """Arrays as lists: the text of a long array leaves its middle out."""
    return value.tolist() if isinstance(value, np.ndarray) else value


@dataclass(frozen=True)
class Previous:
    """What one channel used before its newest calibration: a line, a zero, or neither (figures of the data sheet)."""

    line: ChannelCalibration | None = None
    zero: float | None = None


@dataclass(frozen=True)
class Calibration:
    """All calibrated channels of one board; ``zeros`` are ratios read with the source at rest.

    ``previous`` holds what each channel used before its last change; it changes no figure.
    """

    board: str = ""
    channels: dict[str, ChannelCalibration] = field(default_factory=dict)
    zeros: dict[str, float] = field(default_factory=dict)
    previous: dict[str, Previous] = field(default_factory=dict)

    @property
    def stamp(self) -> str:
        """A short text that changes with anything in it that changes a figure; empty where nothing is calibrated."""
        if not self.channels and not self.zeros:
            return ""
        lines = [
            (name, {f.name: _plain(getattr(one, f.name)) for f in fields(one)})
            for name, one in sorted(self.channels.items())
        ]
        return blake2b(repr((self.board, lines, sorted(self.zeros.items()))).encode(), digest_size=8).hexdigest()

    def get(self, channel: str) -> ChannelCalibration | None:
        return self.channels.get(channel)

    def with_channel(self, channel: ChannelCalibration) -> Calibration:
        """The same with one channel's line replaced; its zero is dropped, because the line includes one."""
        return self._changed(channel.channel, Previous(channel, None), self.board or channel.board)

    def with_zero(self, channel: str, value: float) -> Calibration:
        """The same with a channel's reading at rest put in."""
        return self._changed(channel, Previous(self.channels.get(channel), value), self.board)

    def taken_back(self, channel: str) -> Calibration:
        """The same with the channel's previous calibration in use; a second call undoes it. InputError without one."""
        if channel not in self.previous:
            raise InputError(
                f"there is no previous calibration of {channel}",
                where="calibration",
                remedy=f"Channels with one: {', '.join(sorted(self.previous)) or 'none'}",
            )
        return self._changed(channel, self.previous[channel], self.board)

    def _changed(self, channel: str, now: Previous, board: str) -> Calibration:
        channels = {name: line for name, line in self.channels.items() if name != channel or now.line is not None}
        if now.line is not None:
            channels[channel] = now.line
        zeros = {name: zero for name, zero in self.zeros.items() if name != channel or now.zero is not None}
        if now.zero is not None:
            zeros[channel] = now.zero
        before = Previous(self.channels.get(channel), self.zeros.get(channel))
        return Calibration(board, channels, zeros, {**self.previous, channel: before})

    def for_board(self, label: str) -> Calibration:
        """What of it may be used on the board of that label: everything that names it, or names none."""
        fits = {name: c for name, c in self.channels.items() if (c.board or self.board) in {"", label}}
        return Calibration(self.board, fits, dict(self.zeros) if self.board in {"", label} else {}, dict(self.previous))

    def for_others(self, label: str) -> tuple[str, ...]:
        """Channels that were calibrated on another board."""
        return tuple(sorted(self.channels.keys() - self.for_board(label).channels.keys()))
