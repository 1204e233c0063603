"""A series: SI values of one quantity with standard uncertainty and status.

Uncertainty has two parts. The *random* part is independent from sample to sample and averages out. The *systematic*
part is one constant error for a whole session (a calibration, a bore, a data-sheet band): averaging does not reduce it,
and two readings of one session share it fully. ``Series.u`` combines both for one sample; a mean over n samples has
``sqrt(u_random**2 / n_effective + u_systematic**2)``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import IntFlag
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from frothline.numerics.arrays import Floats, Statuses

T = TypeVar("T")


class Status(IntFlag):
    """Bits of ``Series.status``; 0 is a good reading."""

    MISSING = 1  # no reading: the value is NaN
    SATURATED = 2  # the input was at its limit: the value is NaN
    STALE = 4  # an input is old, or was assumed because its sensor is absent
    STOPPED = 8  # the rotor is stopped
    OUT_OF_RANGE = 16  # outside the range of the sensor or its calibration: the interval is widened
    # A sensor that it depends on has sent readings and then stopped (a plug, a cable, a stuck rotor). A value of NaN is
    # unknown; a finite value is the last reading carried forward with growing uncertainty.
    SILENT = 32
    # No pulse has come from the rotor in the whole stream: an unplugged rotor and a rotor at rest cannot be
    # distinguished.
    UNSEEN = 64
    # The sensor was never calibrated and its figures are of little use; the screen shows this next to the value.
    UNCALIBRATED = 128


NO_PULSE = "no pulse from the rotor"  # text for UNSEEN


def mark(status: Statuses, where: NDArray[np.bool_], bit: Status) -> None:
    """Set a bit of ``status`` in place where the mask is true."""
    status[where] |= np.uint8(bit)


UNITS: Mapping[str, str] = MappingProxyType(
    {
        "line_pressure": "Pa",  # gauge, at the tap of the spool
        "differential_pressure": "Pa",  # across the orifice or venturi
        "rotor_frequency": "Hz",
        "thermal_voltage": "V",
        "air_speed": "m/s",  # mean over the bore
        "line_temperature": "K",
        "supply_voltage": "V",
        "ambient_pressure": "Pa",  # absolute
        "ambient_temperature": "K",
        "ambient_humidity": "1",  # relative, 0 to 1
        "scale_counts": "1",  # of the load cell's converter, as sent
        "scale_mass": "kg",
        "mass_flow": "kg/s",
        "line_flow": "m3/s",  # volume at the state in the spool
        "free_air_flow": "m3/s",  # the same mass at the ambient state
        "standard_flow": "m3/s",  # the same mass at 1.2 kg/m3
        "air_power": "W",  # line pressure (gauge) x standard flow
    }
)


@dataclass(frozen=True)
class Signal:
    """Input of a calibration before conversion to SI: ``time`` (s) and ``value``, (n,) each."""

    time: Floats
    value: Floats


@dataclass(frozen=True)
class Series:
    """One quantity over a batch.

    time : (n,) s since the first board tick
    value : (n,) in ``unit``, NaN where unknown
    u : (n,) standard uncertainty of one sample
    status : (n,) bits of ``Status``
    u_systematic : (n,) the part of ``u`` that is common to a session
    shared : u_systematic by source, (n,) each with its sign. The same name in two series is the same error (JCGM
        100:2008, F.1.2.3). Only series that become points of a curve have it.
    """

    name: str
    unit: str
    time: Floats
    value: Floats
    u: Floats
    status: Statuses
    u_systematic: Floats = field(default_factory=lambda: np.zeros(0))
    shared: Mapping[str, Floats] = field(default_factory=dict)

    @property
    def u_random(self) -> Floats:
        """(n,) the part of ``u`` that is independent from sample to sample."""
        if self.u_systematic.size != self.u.size:
            return self.u
        return np.sqrt(np.maximum(self.u**2 - self.u_systematic**2, 0.0))

    def __len__(self) -> int:
        return int(self.time.size)


def at_times(series: Series, time: Floats) -> Series:
    """The same samples at other times, s."""
    one = series
    return Series(one.name, one.unit, time, one.value, one.u, one.status, one.u_systematic, one.shared)


def later(series: Series, time: float) -> Series:
    """The samples of a series after ``time``, s."""
    chosen = series.time > time
    common = series.u_systematic[chosen] if series.u_systematic.size == series.time.size else series.u_systematic
    return replace(
        series,
        time=series.time[chosen],
        value=series.value[chosen],
        u=series.u[chosen],
        status=series.status[chosen],
        u_systematic=common,
        shared={name: one[chosen] for name, one in series.shared.items()},
    )


def end_to_end(parts: Sequence[Series]) -> Series:
    """Concatenation of consecutive series of one quantity; at least one part."""

    def column(name: str) -> NDArray[Any]:
        return np.concatenate([getattr(part, name) for part in parts])

    return replace(
        parts[0],
        time=column("time"),
        value=column("value"),
        u=column("u"),
        status=column("status"),
        u_systematic=column("u_systematic"),
        shared={
            name: np.concatenate([part.shared.get(name, np.zeros(len(part))) for part in parts])
            for name in dict.fromkeys(name for part in parts for name in part.shared)
        },
    )


def signals_end_to_end(parts: Sequence[Signal]) -> Signal:
    """Concatenation of consecutive signals of one channel; at least one part."""
    return Signal(np.concatenate([part.time for part in parts]), np.concatenate([part.value for part in parts]))


def merged(batches: Sequence[Mapping[str, T]], join: Callable[[Sequence[T]], T]) -> dict[str, T]:
    """Contents of consecutive batches by name, each joined by ``join``."""
    if len(batches) == 1:
        return dict(batches[0])
    names = dict.fromkeys(name for batch in batches for name in batch)
    return {name: join([batch[name] for batch in batches if name in batch]) for name in names}
