"""``modelled://<scenario>?seed=1&speed=1``: the rig in pure Python, see rig/simulated/modelled.py."""

from frothline.rig.simulated.modelled import simulate
from frothline.rig.simulated.port import SimulatedPort


class Serial(SimulatedPort):
    """See the head of the file."""

    make = staticmethod(simulate)


__all__ = ["Serial"]
