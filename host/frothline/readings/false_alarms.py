"""Alarms of recorded runs that a person marked as false: the words of the note, and how they are read again.

A mark is a note of the kind FALSE_ALARM in the recording, with the alarm's code and its number in the run. Session,
page and report read it with the functions here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from frothline.readings.marks import RecordedMark
from frothline.recording.sidecar import BEGINS

FALSE_ALARM = "false alarm"  # kind of the note
MARKED_FALSE = "marked as a false alarm"
SEVERITIES = ("alarm", "warning", "notice")  # kinds of a recorded alarm
# s between an alarm of a recording and the same one in a replay that began in the middle: it learns the levels of the
# line again and may see a fault later; judgement
SAME_ALARM = 30.0
_NOTE = re.compile(r"(?P<code>\w{1,40}): alarm (?P<number>\d{1,6}) of this run marked as false")


def false_alarm_note(code: str, number: int) -> str:
    """The text of the note for alarm ``number`` of the present run."""
    return f"{code}: alarm {number} of this run marked as false"


@dataclass(frozen=True)
class MarkedAlarm:
    """An alarm that a recording marks as false, as its replay knows it again: by its code and how often the run had it,
    or by ``at``, s of session time.
    """

    code: str
    of_code: int
    at: float | None = None


class RaisedAlarm(Protocol):
    """What is used of an alarm of a run."""

    @property
    def number(self) -> int: ...

    @property
    def code(self) -> str: ...

    @property
    def time(self) -> float: ...


def marked_again(log: Sequence[RaisedAlarm], marked: Sequence[MarkedAlarm]) -> set[int]:
    """Numbers of the alarms of a replayed run that its recording marks as false.

    An alarm known by its time is the nearest of its code within ``SAME_ALARM``.
    """
    found = set()
    for mark in marked:
        same = [alarm for alarm in log if alarm.code == mark.code]
        if mark.at is None:
            found |= {alarm.number for count, alarm in enumerate(same, 1) if count == mark.of_code}
            continue
        at = mark.at
        nearest = min(same, key=lambda alarm: abs(alarm.time - at), default=None)
        if nearest is not None and abs(nearest.time - at) <= SAME_ALARM:
            found.add(nearest.number)
    return found


def alarm_texts(marks: Sequence[RecordedMark]) -> tuple[str, ...]:
    """The alarms of a recording as texts, each with its time in minutes and whether it was marked as false."""
    false = {one.place for one in false_alarms(marks)}
    found = []
    for place, mark in enumerate(marks):
        if mark.kind in SEVERITIES:
            at = "" if math.isnan(mark.time) else f"{int(mark.time) // 60}:{int(mark.time) % 60:02d} "
            words = mark.text.partition(": ")[2] or mark.text
            found.append(f"{at}{words}{f' ({MARKED_FALSE})' if place in false else ''}")
    return tuple(found)


@dataclass(frozen=True)
class FalseAlarm:
    """An alarm marked as false. ``place`` : of the alarm among the marks of the recording.

    ``of_code`` : how often the run had this code up to it, from 1
    """

    code: str
    number: int
    place: int
    of_code: int


def false_alarms(marks: Sequence[RecordedMark]) -> tuple[FalseAlarm, ...]:
    """The alarms of a recording that were marked as false, each once. Alarms are numbered in each run from 1.

    A note whose alarm is not in the recording, or has another code there, is ignored.
    """
    run: list[tuple[int, str]] = []  # place and code of the alarms of the present run
    found: dict[int, FalseAlarm] = {}
    for place, mark in enumerate(marks):
        if mark.kind == "step" and mark.text == BEGINS["run"]:
            run = []
        elif mark.kind in SEVERITIES:
            run.append((place, mark.text.partition(":")[0]))
        elif mark.kind == FALSE_ALARM and (said := _NOTE.fullmatch(mark.text)):
            number, code = int(said["number"]), said["code"]
            if 1 <= number <= len(run) and run[number - 1][1] == code:
                of_code = sum(one == code for _, one in run[:number])
                found[run[number - 1][0]] = FalseAlarm(code, number, run[number - 1][0], of_code)
    return tuple(found.values())
