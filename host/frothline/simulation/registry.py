"""Registry of the simulated rigs in this process, by URL or by port."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from frothline.simulation.realtime import Simulation

_lock = threading.Lock()
_living: dict[str, Simulation] = {}


def acquire(url: str, make: Callable[[str], Simulation]) -> Simulation:
    """The running simulation of ``url``, or a new one from ``make``."""
    with _lock:
        found = _living.get(url)
        if found is None or not found.alive:
            found = _living[url] = make(url)
        return found


def release(simulation: Simulation) -> None:
    """Called when its port is closed. An unplugged rig keeps running, so that it can be reconnected; any other ends."""
    if not simulation.plugged:
        return
    with _lock:
        if _living.get(simulation.url) is simulation:
            del _living[simulation.url]
    simulation.end()


def get_simulation(url_or_port: Any) -> Simulation:
    """The running simulation of a URL or an open port; raises KeyError if there is none."""
    held = getattr(url_or_port, "simulation", None)
    if isinstance(held, Simulation):
        return held
    with _lock:
        return _living[str(url_or_port)]
