"""Presets: which machine, what the hand does, what is fitted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from .hand import sweep_steps


@dataclass(frozen=True)
class Scenario:
    """A preset of the simulated surroundings."""

    name: str
    about: str
    source: str = "vacuum"  # vacuum, hump, displacement, compressor
    throttle: tuple[tuple[float, float], ...] = ((0.35, 1.0),)
    tremble: float = 0.002
    motor_on: bool = True
    scale: bool = False
    anemometer: str = "pulse_rotor"  # or thermal_module


SCENARIOS: dict[str, Scenario] = {
    s.name: s
    for s in (
        Scenario(
            "sweep",
            "a hand takes a vacuum motor from shut-off to free delivery, again and again",
            throttle=sweep_steps(),
        ),
        Scenario("sweep-hump", "the same with a blower whose curve has a hump", source="hump", throttle=sweep_steps()),
        Scenario("sweep-displacement", "the same with a positive displacement machine", "displacement", sweep_steps()),
        Scenario("sweep-compressor", "the same with a regulated compressor and its tank", "compressor", sweep_steps()),
        Scenario("steady", "one opening, held", throttle=((0.345, 1.0),)),
        Scenario("idle", "the machine is off", throttle=((1.0, 1.0),), motor_on=False),
    )
}


def scenario_named(name: str, **changes: Any) -> Scenario:
    """The preset ``name`` with fields changed; raises ValueError when there is none."""
    try:
        return replace(SCENARIOS[name], **changes)
    except KeyError:
        raise ValueError(f"no scenario is called {name!r}; there are {', '.join(SCENARIOS)}") from None
