"""``emulated://<scenario>?seed=1&speed=1``: the firmware image, executed; see rig/simulated/emulated.py."""

from frothline.rig.simulated.port import SimulatedPort
from frothline.rig.simulated.serving import remote


class Serial(SimulatedPort):
    """See the head of the file."""

    make = staticmethod(remote)


__all__ = ["Serial"]
