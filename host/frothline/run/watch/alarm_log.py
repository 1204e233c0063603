"""The alarm log of one run: each fault is raised once, its words may be updated, and its end is logged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from math import isfinite, nan
from typing import TYPE_CHECKING

from frothline.estimate import Estimate
from frothline.run.watch.alarm_kinds import ALARM, KINDS, LEARNABLE, SEVERITIES, AlarmKind
from frothline.run.watch.alarms import Alarm

if TYPE_CHECKING:
    from frothline.run.watch.baseline import Baseline

GRAVE_LEAK = 0.2  # of the flow: a larger change is an alarm, not a warning; judgement


@dataclass(frozen=True)
class ActiveAlarm:
    """An active alarm, the reference from before it, and the view that shows its end."""

    alarm: Alarm
    before: Baseline | None
    view: str


@dataclass
class AlarmLog:
    """All alarms: ``log`` oldest first, ``lasting`` the active ones by code, ``changed`` since it was last emptied, by
    number.
    """

    log: list[Alarm] = field(default_factory=list)
    lasting: dict[str, ActiveAlarm] = field(default_factory=dict)
    changed: dict[int, Alarm] = field(default_factory=dict)
    _since: dict[str, float] = field(default_factory=dict)

    @property
    def active(self) -> tuple[Alarm, ...]:
        """Active alarms, the most severe first."""
        alarms = [entry.alarm for entry in self.lasting.values()]
        return tuple(sorted(alarms, key=lambda alarm: (-SEVERITIES.index(alarm.severity), alarm.time)))

    @property
    def blamed(self) -> bool:
        """Whether an active alarm is a fault of the line."""
        return bool(self.lasting.keys() - LEARNABLE)

    def say(
        self,
        code: str,
        time: float,
        seen: str,
        *,
        onset: float = nan,
        size: float = nan,
        before: Baseline | None = None,
        view: str = "",
        as_kind: AlarmKind | None = None,
    ) -> None:
        """Raise an alarm, unless it is active already. ``as_kind``: other words than the usual ones of its code."""
        if code in self.lasting:
            return
        kind = as_kind or KINDS[code]
        grave = code == "leak_after" and size > GRAVE_LEAK
        alarm = Alarm(
            number=len(self.log) + 1,
            code=code,
            severity=ALARM if grave else kind.severity,
            place=kind.place,
            title=kind.title,
            seen=seen,
            means=kind.means,
            do=kind.do,
            time=time,
            onset=onset if isfinite(onset) else time,
            size=_size(size),
            mark=kind.mark,
        )
        self.log.append(alarm)
        self._put(ActiveAlarm(alarm, before, view))

    def tell_anew(self, code: str, seen: str, size: float) -> None:
        """Update words and size of an active alarm."""
        entry = self.lasting[code]
        self._put(replace(entry, alarm=replace(entry.alarm, seen=seen, size=_size(size))))

    def say_as(self, code: str, seen: str, kind: AlarmKind) -> None:
        """Update an active alarm with words of another kind; its code, place and size stay."""
        entry = self.lasting[code]
        alarm = replace(entry.alarm, seen=seen, title=kind.title, means=kind.means, do=kind.do, mark=kind.mark)
        if alarm != entry.alarm:
            self._put(replace(entry, alarm=alarm))

    def end(self, code: str, time: float) -> None:
        """End an alarm, if it is active."""
        entry = self.lasting.pop(code, None)
        self._since.pop(f"over {code}", None)
        if entry is not None:
            over = replace(entry.alarm, ended=time)
            self.log[over.number - 1] = over
            self.changed[over.number] = over

    def _put(self, entry: ActiveAlarm) -> None:
        self.lasting[entry.alarm.code] = entry
        self.log[entry.alarm.number - 1] = entry.alarm
        self.changed[entry.alarm.number] = entry.alarm

    def held(self, name: str, time: float, seconds: float, do: Callable[[], None]) -> None:
        """Act once after a condition has held for a time; ``let_go`` resets it."""
        if time - self._since.setdefault(name, time) >= seconds:
            self._since.pop(name)
            do()

    def let_go(self, name: str) -> None:
        self._since.pop(name, None)


def _size(value: float) -> Estimate | None:
    """A change rounded to its accuracy: a hundredth of the flow, or a tenth of itself; judgement."""
    return Estimate.normal(value, max(0.01, 0.1 * abs(value)), "1") if isfinite(value) else None
