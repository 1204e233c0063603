"""Compressors with a tank, which are not pooled: what they do is on their plate, on their gauge and at their regulator.

The line of such a source is the pressure that its regulator is set to; a mean over units would tell how others set
theirs. How long it lasts follows from the tank's volume, two readings of its gauge and what its pump delivers
(``curve.tank_duration``). Nothing of that is left to differ between units of one kind.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError
from frothline.sweep.source_file import SourceFile

NAMES = frozenset({"compressor", "compressors", "tank", "tanks", "receiver", "receivers"})
# Lowest over highest pressure of a measured line, below which it is no regulator's: its droop over a generator's flows
# is some per cent, and a machine that is called a compressor, as one with a side channel, falls to nothing. Judgement.
LEVEL = 0.7
NOT_POOLED = (
    "a compressor with a tank is not pooled: the volume on its plate, the readings of its gauge and what its pump "
    "delivers describe it completely, and its line is the pressure that its regulator is set to"
)
INSTEAD = (
    "How long it lasts: frothline sources --tank 50 --full 8 --down-to 4 --draw 3, with --pump for what the pump "
    "delivers. Its line: take the sweep of the compressor at hand, or type its points, with the regulator as you will "
    "set it"
)


def refuse_tank(group: str, sources: Iterable[SourceFile], where: str) -> None:
    """Raise InputError for a kind that is a compressor with a tank: by its name, unless a measured line of it falls.

    sources : the measured ones of this kind, which may be none
    """
    named = NAMES.intersection(group.casefold().replace("-", " ").split())
    if named and not any(_falls(one.points) for one in sources):
        raise InputError(f"{NOT_POOLED} (kind “{group}”)", where=where, remedy=INSTEAD)


def _falls(points: Sequence[SteadyPoint]) -> bool:
    pressures = [one.pressure for one in points]
    return bool(pressures) and min(pressures) < LEVEL * max(pressures)
