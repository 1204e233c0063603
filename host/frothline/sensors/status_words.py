"""Reasons for unknown figures, in a few words."""

from __future__ import annotations

from frothline.estimate import NOT_CALIBRATED
from frothline.sensors.series import NO_PULSE, Status


def unknown_words(status: int) -> str:
    """Reason for an unknown figure from the bits of a sample; empty without one."""
    reasons = (
        (Status.STOPPED, "the rotor stands still"),
        (Status.UNSEEN, NO_PULSE),
        (Status.SATURATED, "beyond what the sensor reaches"),
        (Status.SILENT, "it has fallen silent: unplugged, or stuck"),
        (Status.STALE, "nothing new from this sensor"),
        (Status.UNCALIBRATED, NOT_CALIBRATED),
        (Status.MISSING, "no sensor answers"),
        (Status.OUT_OF_RANGE, "outside the calibrated range"),
    )
    return next((words for bit, words in reasons if status & bit), "")
