"""Reasons for unknown figures, in a few words."""

from __future__ import annotations

from frothline.estimate import NOT_CALIBRATED
from frothline.sensors.series import NO_PULSE, Status


def unknown_words(status: int) -> str:
    """Reason for an unknown figure from the bits of a sample; empty without one."""
    reasons = (
        (Status.STOPPED, "the rotor does not turn"),
        (Status.UNSEEN, NO_PULSE),
        (Status.SATURATED, "beyond the sensor's range"),
        (Status.SILENT, "no signal: unplugged or stuck"),
        (Status.STALE, "no new data from this sensor"),
        (Status.UNCALIBRATED, NOT_CALIBRATED),
        (Status.MISSING, "no sensor responds"),
        (Status.OUT_OF_RANGE, "outside the calibrated range"),
    )
    return next((words for bit, words in reasons if status & bit), "")
