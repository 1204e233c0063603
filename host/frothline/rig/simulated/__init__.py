"""Simulated rigs: one physical model, a rig that tells of the firmware and a rig that executes it."""

from frothline.rig.simulated.modelled import stream
from frothline.rig.simulated.pacing import Simulation
from frothline.rig.simulated.registry import get_simulation
from frothline.rig.simulated.scenarios import SCENARIOS, Scenario
from frothline.rig.simulated.world import World

__all__ = ["SCENARIOS", "Scenario", "Simulation", "World", "get_simulation", "stream"]
