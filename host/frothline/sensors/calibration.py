"""The calibration of a channel with its uncertainty.

The file is TOML. Each channel has a table with coefficients, their covariance, the valid range, residuals, date, person
and method. ``load`` and ``save`` are in ``calibration_file``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from hashlib import blake2b
from typing import Any

import numpy as np

from frothline.errors import InputError
from frothline.numerics.arrays import Floats
from frothline.numerics.once import once
from frothline.numerics.uncertainty import Contribution, share


@dataclass(frozen=True)
class Evaluated:
    """A calibration at given readings.

    value : (n,)
    outside : (n,) True outside the calibrated range
    doubt : calculates ``u``, (n,) standard uncertainty of the line, when it is first asked for
    """

    value: Floats
    outside: np.ndarray
    doubt: Callable[[], Floats]

    @once
    def u(self) -> Floats:
        with np.errstate(invalid="ignore"):
            return self.doubt()


@dataclass(frozen=True)
class ChannelCalibration:
    """Polynomial y = c0 + c1 x (+ c2 x2) of one channel, or King's law of a thermal anemometer.

    coefficients : (m,)
    covariance : (m, m)
    low, high : calibrated range of x
    rival : coefficients of the order that was not chosen. Outside the range the points do not show which order is
        right, so the difference of the two orders is added to the uncertainty there.
    systematic, relative_systematic : standard uncertainty common to all points: absolute in ``unit``, and relative
    dof : degrees of freedom of the fit
    points : reading, its standard uncertainty, reference, its standard uncertainty
    """

    channel: str
    input: str
    unit: str
    coefficients: Floats
    covariance: Floats
    low: float
    high: float
    rival: Floats | None = None
    systematic: float = 0.0  # the reference's own, at its largest, in unit
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
    pulses_per_revolution: int = 0  # as counted by the user; 0 if unknown
    king: dict[str, float] | None = None  # wire, reference, density of King's law; coefficients are then A, B, n

    def evaluate(self, x: Floats) -> Evaluated:
        """Y and its standard uncertainty at x (n,), including the covariance (JCGM 100:2008, H.3.4)."""
        x = np.asarray(x, dtype=np.float64)
        powers = np.stack([x**order for order in range(self.coefficients.size)], axis=-1)
        value = powers @ self.coefficients
        with np.errstate(invalid="ignore"):
            outside = (x < self.low) | (x > self.high)

        def doubt() -> Floats:
            variance = np.einsum("...i,ij,...j->...", powers, self.covariance, powers)
            beyond = np.zeros_like(value)
            if self.rival is not None:
                other = np.stack([x**order for order in range(self.rival.size)], axis=-1) @ self.rival
                beyond = np.where(outside, (value - other) / np.sqrt(3.0), 0.0)
            systematic = self.systematic + self.relative_systematic * np.abs(value)
            return np.asarray(np.sqrt(np.maximum(variance, 0.0) + beyond**2 + systematic**2))

        return Evaluated(value, outside, doubt)

    def slope(self, x: Floats) -> Floats:
        """dy/dx at x (n,)."""
        derivative = np.polynomial.polynomial.polyder(self.coefficients)
        return np.asarray(np.polynomial.polynomial.polyval(x, derivative), dtype=np.float64)

    def shares(self, evaluated: Evaluated) -> tuple[Contribution, ...]:
        """The calibration as one contribution to the budget."""
        origin = f"{self.how}, {self.date}".strip(", ")
        return (share("calibration", "systematic", evaluated.u, origin=origin, dof=self.dof),)


def _plain(value: Any) -> Any:
    """Arrays as lists, because the text of a long array omits its middle."""
    return value.tolist() if isinstance(value, np.ndarray) else value


@dataclass(frozen=True)
class Previous:
    """What a channel used before its latest calibration: a line, a zero, or neither (data-sheet values)."""

    line: ChannelCalibration | None = None
    zero: float | None = None


CALIBRATED, ZEROED, WENT_BACK = "calibrated", "zeroed", "previous one in use again"


@dataclass(frozen=True)
class CalibrationChange:
    """One change of a channel's calibration, for its history; it does not affect any figure.

    what : CALIBRATED, ZEROED or WENT_BACK;  date : when it was made
    of : date of the calibration that went into use, if it is an older one;  points : number of its points
    residual : largest distance of a point from its line, in ``unit``; None without a line
    """

    channel: str
    what: str
    date: str
    who: str = ""
    how: str = ""
    board: str = ""
    of: str = ""
    points: int = 0
    residual: float | None = None
    unit: str = ""


@dataclass(frozen=True)
class Calibration:
    """All calibrated channels of one board.

    zeros : ratios read with the source off
    previous : what each channel used before its last change; it does not affect any figure
    history : changes, the oldest first; they do not affect any figure
    """

    board: str = ""
    channels: dict[str, ChannelCalibration] = field(default_factory=dict)
    zeros: dict[str, float] = field(default_factory=dict)
    previous: dict[str, Previous] = field(default_factory=dict)
    history: tuple[CalibrationChange, ...] = ()

    @property
    def stamp(self) -> str:
        """Short hash of everything that affects a figure; empty without a calibration."""
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
        """A copy with one channel's line replaced. Its zero is removed, because the line includes one."""
        return self._changed(channel.channel, Previous(channel, None), self.board or channel.board)

    def with_zero(self, channel: str, value: float) -> Calibration:
        """A copy with the zero of a channel replaced."""
        return self._changed(channel, Previous(self.channels.get(channel), value), self.board)

    def taken_back(self, channel: str) -> Calibration:
        """A copy with the channel's previous calibration in use; a second call undoes it. InputError without one."""
        if channel not in self.previous:
            raise InputError(
                f"no previous calibration of {channel}",
                where="calibration",
                remedy=f"Channels with one: {', '.join(sorted(self.previous)) or 'none'}",
            )
        return self._changed(channel, self.previous[channel], self.board)

    def noted(self, channel: str, what: str, date: str, who: str = "") -> Calibration:
        """A copy with a line more in the history: the channel's line in use now went into use by ``what``."""
        line = self.channels.get(channel) if what != ZEROED else None
        board = (line.board if line is not None else "") or self.board
        change = CalibrationChange(channel, what, date, who, board=board)
        if line is not None:
            worst = max((abs(one) for one in line.residuals), default=None)
            change = replace(
                change,
                who=who or line.who,
                how=line.how,
                of=line.date if what == WENT_BACK else "",
                points=len(line.points),
                residual=worst,
                unit=line.unit,
            )
        return replace(self, history=(*self.history, change))

    def _changed(self, channel: str, now: Previous, board: str) -> Calibration:
        channels = {name: line for name, line in self.channels.items() if name != channel or now.line is not None}
        if now.line is not None:
            channels[channel] = now.line
        zeros = {name: zero for name, zero in self.zeros.items() if name != channel or now.zero is not None}
        if now.zero is not None:
            zeros[channel] = now.zero
        before = Previous(self.channels.get(channel), self.zeros.get(channel))
        return Calibration(board, channels, zeros, {**self.previous, channel: before}, self.history)

    def for_board(self, label: str) -> Calibration:
        """The part that may be used on the board with that label: entries for this board or for no named board."""
        fits = {name: c for name, c in self.channels.items() if (c.board or self.board) in {"", label}}
        zeros = dict(self.zeros) if self.board in {"", label} else {}
        return Calibration(self.board, fits, zeros, dict(self.previous), self.history)

    def for_others(self, label: str) -> tuple[str, ...]:
        """Channels that were calibrated on another board."""
        return tuple(sorted(self.channels.keys() - self.for_board(label).channels.keys()))
