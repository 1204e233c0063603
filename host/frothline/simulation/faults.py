"""Faults of the simulated line, which can be started during a run: ``control("fault", "packing_blown")``.

A severity may follow the name after a colon, ``"leak_after:0.1"``; its meaning and its default are in the table.
``control("heal", name)`` or ``control("heal", "all")`` removes the fault.
"""

from __future__ import annotations

from math import inf, isfinite

from frothline.simulation.gas import hole_flow
from frothline.simulation.line import SimulatedLine

# name: (visible effect, meaning of the severity, its default)
FAULTS: dict[str, tuple[str, str, float]] = {
    "packing_blown": ("the packing has left through the outlet", "share that is gone", 0.97),
    "joint_off_before": ("a joint came off before the anemometer", "opening, m2", 6e-4),
    "joint_off_after": ("a joint came off after the anemometer", "opening, m2", 6e-4),
    "leak_before": ("a leak before the anemometer", "share of the present flow", 0.1),
    "leak_after": ("a leak after the anemometer", "share of the present flow", 0.1),
    "clogging": ("packing and holes clog", "growth of the resistance per minute, relative", 0.7),
    "filter_drift": ("the filter before the machine fills", "Pa s2/m6 per minute", 2.0e6),
    "motor_hot": ("the motor heats the air too much", "W more, reached with 30 s", 700.0),
    "liquid_back": ("solution flows back into the air connection", "m of it, reached with 12 s", 0.09),
    "reservoir_dry": ("the reservoir runs dry at once", "kg left", 0.4),
    "pressure_unplugged": ("the pressure sensor is unplugged", "", 0.0),
    "rotor_unplugged": ("the anemometer is unplugged", "", 0.0),
    "temperature_unplugged": ("the line thermometer is unplugged", "", 0.0),
    "ambient_unplugged": ("the ambient module is unplugged", "", 0.0),
    "scale_unplugged": ("the scale is unplugged", "", 0.0),
    "tap_blocked": ("the pressure tap is blocked", "s that a change then takes", 300.0),
    "rotor_backwards": ("the anemometer was put in backwards", "", 0.0),
    "supply_sag": ("the mains sags", "share of the voltage that is left", 0.85),
    "board_supply_sag": ("the board's supply sags", "V", 0.5),
}


NEED_GENERATOR = {"packing_blown", "clogging", "liquid_back", "reservoir_dry"}
OPENINGS = {"leak_before", "leak_after", "joint_off_before", "joint_off_after"}
MOST = {"packing_blown": 1.0}  # upper limits of severities; the lower limit is zero


def possible(world: SimulatedLine) -> dict[str, str]:
    """Faults that this world can have, each with its visible effect."""
    return {name: row[0] for name, row in FAULTS.items() if world.generator is not None or name not in NEED_GENERATOR}


def parse(text: str) -> tuple[str, float]:
    """(name, severity) of ``name`` or ``name:severity``; raises ValueError."""
    name, _, given = str(text).partition(":")
    if name not in FAULTS:
        raise ValueError(f"unknown fault {name!r}; give one of {', '.join(FAULTS)}")
    if not given:
        return name, FAULTS[name][2]
    try:
        severity = float(given)
    except ValueError:
        raise ValueError(
            f"{given!r} is not a number: {name} takes one, {FAULTS[name][1] or 'without a meaning'}"
        ) from None
    most = MOST.get(name, inf)
    if not isfinite(severity) or not 0.0 <= severity <= most:
        raise ValueError(f"{name} cannot be {given}: it must be between 0 and {'any size' if most == inf else most}")
    return name, severity


class Faults:
    """The faults of one world.

    active : severity by name
    before, after : total open areas before and after the spool, m2

    Each fault has its own area, so that healing one leaves the others.
    """

    def __init__(self) -> None:
        self.active: dict[str, float] = {}
        self.since: dict[str, float] = {}
        self.before = 0.0
        self.after = 0.0
        self._open: dict[str, float] = {}  # m2, by fault

    def start(self, world: SimulatedLine, text: str) -> None:
        """Start a fault. Raises ValueError for an unknown fault, or one without its part in this scenario."""
        name, severity = parse(text)
        if world.generator is None and name in NEED_GENERATOR:
            raise ValueError(f"{name} needs a generator, and this scenario has no generator")
        self.active[name] = severity
        self.since[name] = world.time
        if name in {"leak_before", "leak_after"}:
            through = abs(world.flow if name == "leak_before" else world.spool_flow)
            unit = hole_flow(1.0, max(world.pressure, 1.0), world.ambient_pressure, world.temperature, world.gas)
            severity = severity * through / unit
        if name in OPENINGS:
            self._open[name] = severity
            self._add_up()
        elif name == "packing_blown":
            world.the_generator.packing_left = 1.0 - severity
        elif name == "reservoir_dry":
            world.the_generator.fed = False
            world.the_generator.solution = min(severity, world.the_generator.solution)
        else:
            self._set(world, name, severity)

    def _add_up(self) -> None:
        self.before, self.after = (
            sum(area for name, area in self._open.items() if name.endswith(side)) for side in ("_before", "_after")
        )

    def _set(self, world: SimulatedLine, name: str, severity: float) -> None:
        if name.endswith("_unplugged"):
            world.control("unplug", name.removesuffix("_unplugged"))
        elif name == "tap_blocked":
            world.instruments.tap_lag = max(severity, 0.005)
        elif name == "rotor_backwards":
            world.instruments.backwards = True
        elif name == "supply_sag":
            world.source.supply = severity
        elif name == "board_supply_sag":
            world.instruments.supply_sag = severity

    def advance(self, world: SimulatedLine, dt: float) -> None:
        """Advance the faults that grow."""
        active = self.active
        if "clogging" in active:
            world.the_generator.clogging *= 1.0 + active["clogging"] * dt / 60.0
        if "filter_drift" in active:
            world.source.filter_loss += active["filter_drift"] * dt / 60.0
        if "motor_hot" in active:
            world.source.extra_heat += (active["motor_hot"] - world.source.extra_heat) * dt / 30.0
        if "liquid_back" in active:
            generator = world.the_generator
            generator.backed_up += (active["liquid_back"] - generator.backed_up) * dt / 12.0

    def heal(self, world: SimulatedLine, name: str) -> None:
        """Remove a fault, or ``all``. Raises ValueError for an unknown fault."""
        for one in list(self.active) if name == "all" else [parse(name)[0]]:
            if self.active.pop(one, None) is None:
                continue
            if one.endswith("_unplugged"):
                world.control("plug", one.removesuffix("_unplugged"))
            elif one in OPENINGS:
                self._open.pop(one, None)
                self._add_up()
            elif one == "packing_blown":
                world.the_generator.packing_left = 1.0
            elif one == "clogging":
                world.the_generator.clogging = 1.0
            elif one == "liquid_back":
                world.the_generator.backed_up = 0.0
            elif one == "reservoir_dry":
                generator = world.the_generator
                generator.solution, generator.fed = generator.build.reservoir, generator.build.fed
            elif one == "filter_drift":
                world.source.filter_loss = 0.0
            elif one == "motor_hot":
                world.source.extra_heat = 0.0
            elif one == "tap_blocked":
                world.instruments.tap_lag = 0.005
            elif one == "rotor_backwards":
                world.instruments.backwards = False
            elif one == "supply_sag":
                world.source.supply = 1.0
            elif one == "board_supply_sag":
                world.instruments.supply_sag = 0.0
