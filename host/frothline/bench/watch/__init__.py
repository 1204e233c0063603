"""The run watch: three views of one flow, and what it means when they part."""

from .alarm import ALARM, KINDS, NOTICE, PLACES, SEVERITIES, WARNING, Alarm, Kind

__all__ = ["ALARM", "KINDS", "NOTICE", "PLACES", "SEVERITIES", "WARNING", "Alarm", "Kind"]
