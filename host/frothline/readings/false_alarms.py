"""Alarms of recorded runs that a person marked as false: the words of the note, and how they are read again.

A mark is a note of the kind FALSE_ALARM in the recording, with the alarm's code and its number in the run. Session,
page and report read it with the functions here.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from frothline.readings.marks import RecordedMark
from frothline.recording.sidecar import BEGINS

FALSE_ALARM = "false alarm"  # kind of the note
MARKED_FALSE = "marked as a false alarm"
SEVERITIES = ("alarm", "warning", "notice")  # kinds of a recorded alarm
_NOTE = re.compile(r"(?P<code>\w{1,40}): alarm (?P<number>\d{1,6}) of this run marked as false")


def false_alarm_note(code: str, number: int) -> str:
    """The text of the note for alarm ``number`` of the present run."""
    return f"{code}: alarm {number} of this run marked as false"


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
