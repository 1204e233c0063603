"""One alarm of a run, and the air and foam left under the active alarms."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from frothline.run.watch.alarm_kinds import KINDS, NO_FOAM, SPOILS_FOAM, Remaining

if TYPE_CHECKING:
    from frothline.estimate import Estimate


@dataclass(frozen=True)
class Alarm:
    """One alarm of one run.

    ``severity``, ``place``: one of SEVERITIES, one of PLACES in ``alarm_kinds``. ``title``: a few words in large type.
    ``seen``: observation, ``means``: likely cause, ``do``: action. Times in s of session time: ``time`` when it was
    raised, ``onset`` its likely begin, ``ended`` its end, None while active. ``size``: the relative change, if there is
    one. ``number`` counts the alarms of the run from 1 and stays when the words change or the alarm ends.
    """

    number: int
    code: str
    severity: str
    place: str
    title: str
    seen: str
    means: str
    do: str
    time: float
    onset: float
    ended: float | None = None
    size: Estimate | None = None
    mark: str = ""  # its word on the drawing

    @property
    def active(self) -> bool:
        return self.ended is None


def remaining(alarms: Iterable[Alarm]) -> Remaining:
    """Air and foam left under these alarms, the most severe first; the first one counts."""
    for alarm in alarms:
        kind = KINDS[alarm.code]
        if kind.remaining is not None:
            return kind.remaining
        if kind.air_by_size and alarm.size is not None and alarm.size.lower > -1.0:
            return Remaining(air=(1.0 / (1.0 + alarm.size.upper), 1.0 / (1.0 + alarm.size.lower)))
    return Remaining()


def spoilt(log: Iterable[Alarm]) -> Alarm | None:
    """The first alarm that spoils foam; None without one."""
    return min((alarm for alarm in log if alarm.code in SPOILS_FOAM), key=lambda alarm: alarm.onset, default=None)


def ends_foam(alarms: Iterable[Alarm]) -> Alarm | None:
    """The most severe alarm under which the measured air makes no foam; None without one."""
    return next((alarm for alarm in alarms if alarm.code in NO_FOAM), None)
