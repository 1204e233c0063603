"""The run watch: detection and diagnosis of faults by comparing three views of one flow."""

from frothline.run.watch.alarm_kinds import ALARM, KINDS, NOTICE, PLACES, SEVERITIES, WARNING, AlarmKind
from frothline.run.watch.alarms import Alarm

__all__ = ["ALARM", "KINDS", "NOTICE", "PLACES", "SEVERITIES", "WARNING", "Alarm", "AlarmKind"]
