"""Presets of the simulation: machine, actions of the hand, fitted parts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from frothline.simulation.throttle_hand import sweep_steps


@dataclass(frozen=True)
class Scenario:
    """A preset of the simulated surroundings."""

    name: str
    about: str
    source: str = "vacuum"  # see sources.make_source
    throttle: tuple[tuple[float, float], ...] = ((0.35, 1.0),)
    runs_out: float = 0.0  # Hz of the rotor at the start: the throttle was shut shortly before
    tremble: float = 0.002
    motor_on: bool = True
    scale: bool = False
    anemometer: str = "pulse_rotor"  # or thermal_module
    element: str = ""  # or orifice: a plate in the spool with a pressure sensor across it, beside the anemometer
    build: str = ""  # a generator at the end of the line (see generator.BUILDS); the hand then opens a bleed before it
    fed: bool = False  # a float valve keeps the reservoir full
    refills: int = 0  # number of times that a person refills the reservoir when it is low
    dry: bool = False  # no solution in the reservoir
    under_way: bool = False  # the run started some time ago


_BLEEDS = (0.0, 0.13, 0.19, 0.24, 0.29, 0.34, 0.39, 0.45, 0.53, 0.65)
# A rotor that has turned since the board started is known to work, so a standstill means no flow.
_SWEEP: dict[str, Any] = {"throttle": sweep_steps(), "runs_out": 1.5}
_RUN: dict[str, Any] = {"source": "vacuum-small", "throttle": ((0.0, 1.0),), "scale": True, "build": "pipe-100"}
_BLEED: dict[str, Any] = _RUN | {"throttle": tuple((opening, 7.0) for opening in _BLEEDS)}

SCENARIOS: dict[str, Scenario] = {
    s.name: s
    for s in (
        Scenario(
            "sweep",
            "a vacuum motor is throttled from shut-off to free delivery, repeatedly",
            **_SWEEP,
        ),
        Scenario("sweep-hump", "the same with a blower whose curve has a hump", source="hump", **_SWEEP),
        Scenario(
            "sweep-displacement", "the same with a positive displacement machine", source="displacement", **_SWEEP
        ),
        Scenario(
            "sweep-compressor", "the same with a regulated compressor and its tank", source="compressor", **_SWEEP
        ),
        Scenario("steady", "one opening, held", throttle=((0.345, 1.0),)),
        Scenario("run", "foam from a full reservoir until it is dry", **_RUN),
        Scenario("run-fed", "foam without end, the reservoir stays full", fed=True, **_RUN),
        Scenario("run-refilled", "the same for eight minutes: solution is refilled when it is low", refills=3, **_RUN),
        Scenario("generator-dry", "a bleed varies the flow through a dry generator", dry=True, **_BLEED),
        Scenario("generator-wet", "the same while the generator makes foam", fed=True, under_way=True, **_BLEED),
        Scenario("idle", "the source is off", throttle=((1.0, 1.0),), motor_on=False),
    )
}


def scenario_named(name: str, **changes: Any) -> Scenario:
    """The preset ``name`` with changed fields; raises ValueError for an unknown name."""
    try:
        return replace(SCENARIOS[name], **changes)
    except KeyError:
        raise ValueError(f"unknown scenario {name!r}; give one of {', '.join(SCENARIOS)}") from None
