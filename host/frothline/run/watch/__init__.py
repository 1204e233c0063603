"""The run watch: three views of one flow, and what it means when they part."""

from frothline.run.watch.alarm_kinds import ALARM, KINDS, NOTICE, PLACES, SEVERITIES, WARNING, AlarmKind
from frothline.run.watch.alarms import Alarm

__all__ = ["ALARM", "KINDS", "NOTICE", "PLACES", "SEVERITIES", "WARNING", "Alarm", "AlarmKind"]
