"""``emulated://<scenario>?seed=1&speed=1``: the firmware image, executed; see simulation/emulated.py."""

from frothline.simulation.port import SimulatedPort
from frothline.simulation.remote import remote


class Serial(SimulatedPort):
    """Port of an emulated rig; see the module docstring."""

    make = staticmethod(remote)


__all__ = ["Serial"]
