"""What a person does at the bench: hold a session with a rig, sweep an air source, record it."""

from .session import Session, default_calibration, default_folder
from .state import LinkState, Losses, Snapshot, SweepState, Window

__all__ = [
    "LinkState",
    "Losses",
    "Session",
    "Snapshot",
    "SweepState",
    "Window",
    "default_calibration",
    "default_folder",
]
