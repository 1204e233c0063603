"""``replay://<path>?speed=1``: a recording played back, see rig/replay.py."""

from frothline.rig.replay import ReplayPort as Serial

__all__ = ["Serial"]
