"""Straight pipe before a flow element: what the standard asks for, and what too little of it adds.

ISO 5167-2:2003, table 3, read from a stored copy; lengths in bores upstream of the element, without a conditioner.
Column A adds nothing; with column B 0.5 % is added to the uncertainty of the discharge coefficient. The table is made
for orifice plates; for a vane or a probe that fills much of the bore its strictest row is taken as advice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from frothline.errors import InputError
from frothline.sensors.spool import Spool

_RATIOS = (0.20, 0.40, 0.50, 0.60, 0.67, 0.75)
_NAN = float("nan")


@dataclass(frozen=True)
class _Lengths:
    a: tuple[float, ...]
    b: tuple[float, ...]
    words: str


TABLE: Mapping[str, _Lengths] = MappingProxyType(
    {
        "bend": _Lengths((6, 16, 22, 42, 44, 44), (3, 3, 9, 13, 20, 20), "a single 90° bend"),
        "two_bends": _Lengths((10, 10, 22, 42, 44, 44), (_NAN, _NAN, 10, 18, 20, 22), "two bends in one plane"),
        "two_bends_out_of_plane": _Lengths(
            (34, 50, 75, 65, 60, 75), (17, 25, 34, 25, 18, 18), "two bends in planes at right angles"
        ),
        "tee": _Lengths((3, 9, 19, 29, 36, 44), (_NAN, 3, 9, 18, 18, 18), "a tee or mitre bend"),
        "reducer": _Lengths((5, 5, 8, 9, 12, 13), (_NAN, _NAN, 5, 5, 6, 8), "a reducer"),
        "expander": _Lengths((6, 12, 20, 26, 28, 36), (_NAN, 8, 9, 11, 14, 18), "an expander"),
        "valve": _Lengths((12, 12, 12, 14, 18, 24), (6, 6, 6, 7, 9, 12), "a full-bore valve, open"),
        "abrupt": _Lengths((30, 30, 30, 30, 30, 30), (15, 15, 15, 15, 15, 15), "an abrupt symmetric reduction"),
    }
)
DOWNSTREAM_A = (4.0, 6.0, 6.0, 7.0, 7.0, 8.0)


@dataclass(frozen=True)
class Advice:
    """Bores of straight pipe that the standard asks for, and that are there; ``extra`` is a relative limit."""

    wanted_upstream: float
    reduced_upstream: float
    upstream: float
    wanted_downstream: float
    downstream: float
    extra: float
    words: str


def advice(spool: Spool, ratio: float = 0.75) -> Advice:
    """For the spool as built and a diameter ratio (0.75 for anemometers)."""
    fitting = TABLE.get(spool.pipe.upstream_fitting)
    if fitting is None:
        raise InputError(
            f"pipe.upstream_fitting {spool.pipe.upstream_fitting!r} is not known",
            where="spool",
            remedy=f"Known are {', '.join(TABLE)}",
        )
    row = int(np.searchsorted(_RATIOS, min(ratio, _RATIOS[-1]) - 1e-9))  # the next larger ratio asks for more
    wanted, reduced = float(fitting.a[row]), float(fitting.b[row])
    reduced = wanted if np.isnan(reduced) else reduced
    have, after = spool.pipe.straight_upstream / spool.pipe.bore, spool.pipe.straight_downstream / spool.pipe.bore
    behind = DOWNSTREAM_A[row]
    if have >= wanted - 0.01 and after >= behind - 0.01:
        extra, words = 0.0, f"{have:.0f} bores after {fitting.words} are enough"
    elif have >= reduced - 0.01 and after >= behind / 2 - 0.01:
        extra = 0.005
        words = f"{have:.0f} bores after {fitting.words} cost 0.5 %; {wanted:.0f} and {behind:.0f} behind cost nothing"
    else:
        # Beyond the table nothing is stated; 2 % is common practice and has no source.
        extra = 0.02
        words = f"{have:.0f} bores after {fitting.words} are too few; make it {reduced:.0f}, better {wanted:.0f}"
    return Advice(wanted, reduced, have, behind, after, extra, words)


def installation_uncertainty(spool: Spool, ratio: float = 0.75) -> float:
    """Relative standard uncertainty from the straight length as built."""
    return advice(spool, ratio).extra / float(np.sqrt(3.0))
