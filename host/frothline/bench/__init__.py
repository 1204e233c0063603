"""What a person does at the bench: hold a session with a rig, sweep an air source, record it."""

from frothline.bench.folders import default_calibration, default_folder
from frothline.bench.session import Session
from frothline.bench.snapshot import LinkState, Losses, SeriesWindow, Snapshot
from frothline.sweep.guide_state import GuideState

__all__ = [
    "GuideState",
    "LinkState",
    "Losses",
    "SeriesWindow",
    "Session",
    "Snapshot",
    "default_calibration",
    "default_folder",
]
