"""Reasons for unknown figures, in a few words."""

from __future__ import annotations

from frothline.estimate import NOT_CALIBRATED
from frothline.sensors.series import NO_PULSE, Status

# As plain integers: a message to a page looks up a hundred of them, and the flags' own operators are slow.
_REASONS = tuple(
    (int(bit), words)
    for bit, words in (
        (Status.STOPPED, "the rotor does not turn"),
        (Status.UNSEEN, NO_PULSE),
        (Status.SATURATED, "beyond the sensor's range"),
        (Status.SILENT, "no signal: unplugged or stuck"),
        (Status.STALE, "no new data from this sensor"),
        (Status.UNCALIBRATED, NOT_CALIBRATED),
        (Status.MISSING, "no sensor responds"),
        (Status.OUT_OF_RANGE, "outside the calibrated range"),
    )
)


def unknown_words(status: int) -> str:
    """Reason for an unknown figure from the bits of a sample; empty without one."""
    bits = int(status)
    return next((words for bit, words in _REASONS if bits & bit), "")
