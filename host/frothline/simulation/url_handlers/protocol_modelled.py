"""``modelled://<scenario>?seed=1&speed=1``: the rig in pure Python, see simulation/modelled.py."""

from frothline.simulation.modelled import simulate
from frothline.simulation.port import SimulatedPort


class Serial(SimulatedPort):
    """Port of a modelled rig; see the module docstring."""

    make = staticmethod(simulate)


__all__ = ["Serial"]
