"""Simulated rigs: a physical model, a rig that models the firmware, and a rig that executes it."""

from frothline.simulation.modelled import stream
from frothline.simulation.realtime import Simulation
from frothline.simulation.registry import get_simulation
from frothline.simulation.scenarios import SCENARIOS, Scenario
from frothline.simulation.world import World

__all__ = ["SCENARIOS", "Scenario", "Simulation", "World", "get_simulation", "stream"]
