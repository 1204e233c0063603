"""The run watch: three views of one flow, and what it means when they part."""

from frothline.run.watch.alarms import ALARM, KINDS, NOTICE, PLACES, SEVERITIES, WARNING, Alarm, AlarmKind

__all__ = ["ALARM", "KINDS", "NOTICE", "PLACES", "SEVERITIES", "WARNING", "Alarm", "AlarmKind"]
