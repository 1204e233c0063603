"""What a fault leaves of the foam: the share of the measured air that reaches the generator, and of the usual foam that
this air still makes. Both from least to most, because a fault tells no more than that.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from frothline.run.watch.alarms import Alarm

Range = tuple[float, float]
ALL: Range = (1.0, 1.0)


@dataclass(frozen=True)
class Remaining:
    """``air`` and ``foam`` from least to most; ``words`` why no foam rate is told, empty where one is."""

    air: Range = ALL
    foam: Range = ALL
    words: str = ""

    @property
    def whole(self) -> bool:
        return self.air == self.foam == ALL


# Without packing the bubbles are coarse and burst: at most half of the foam, judgement. A joint that is off takes more
# than half of the pressure (see ``judge``), so at most two thirds of the air goes on to the generator.
_FAULTS = {
    "source_off": Remaining(foam=(0.0, 1.0), words="no air"),
    "joint_off_before": Remaining(foam=(0.0, 1.0), words="a joint is off before the spool: hardly any air arrives"),
    "packing_blown": Remaining(
        foam=(0.0, 0.5), words="the packing has left: what comes is not the foam that was weighed"
    ),
    "joint_off_after": Remaining(
        air=(0.0, 0.7), words="a joint is off: how much air reaches the generator is not known"
    ),
}
_BY_SIZE = ("leak_after", "anemometer")  # the anemometer shows (1 + size) times what reaches the generator


def remaining(alarms: Iterable[Alarm]) -> Remaining:
    """What is left with these alarms lasting; the gravest comes first and is what counts."""
    for alarm in alarms:
        if alarm.code in _FAULTS:
            return _FAULTS[alarm.code]
        if alarm.code in _BY_SIZE and alarm.size is not None and alarm.size.lower > -1.0:
            return Remaining(air=(1.0 / (1.0 + alarm.size.upper), 1.0 / (1.0 + alarm.size.lower)))
    return Remaining()
