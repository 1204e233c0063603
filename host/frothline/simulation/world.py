"""The physical model: air source, hose, spool, throttle or generator, and the sensors on the line.

Quasi-steady pressures between two states with inertia: the air column in the hose and the air stored in the line. Both
are integrated by a linearly implicit Euler rule, which is stable at 2 ms for a stiff machine and for a hunting one.
Further states: speed and winding of the machine, wall temperatures, rotor, sensor lags. All random numbers follow from
the seed, with a separate generator for each purpose. The step is fixed, so the same scenario and seed give the same
line to every rig, independent of the calls.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import exp, sqrt
from typing import Any

from frothline.simulation import ambient_module, ground_truth, plate
from frothline.simulation.faults import Faults, possible
from frothline.simulation.gas import GAMMA, HEAT_CAPACITY, STANDARD_DENSITY, gas_constant, hole_flow
from frothline.simulation.generator import BUILDS, TARE, SimulatedGenerator
from frothline.simulation.instruments import AREA, Instruments
from frothline.simulation.line import HOSE_AREA, HOSE_LENGTH, HOSE_LOSS
from frothline.simulation.random_streams import chance
from frothline.simulation.scenarios import Scenario, scenario_named
from frothline.simulation.sources import SimulatedSource, make_source
from frothline.simulation.throttle_hand import Hand

STEP = 0.002  # s
LINE_VOLUME = 0.006  # m3
SPOOL_LOSS = 0.5  # velocity heads in the bore between tap and throttle: rotor, straightener, wall
CLOSED_AREA = 1.5e-6  # m2, leakage of a shut throttle
_COLUMN = HOSE_AREA / HOSE_LENGTH
_RIPPLE, _WANDER = 0.0010 * sqrt(2.0 * STEP / 0.12), 0.0015 * sqrt(2.0 * STEP / 25.0)  # of one step


class World:
    """The surroundings of one rig.

    Parameters
    ----------
    scenario
        Name of a preset (see :mod:`.scenarios`) or a Scenario.
    seed
        Seed of all random numbers.
    errors
        1: sensors with the errors of their data sheets; 0: perfect sensors.
    """

    def __init__(self, scenario: str | Scenario = "sweep", seed: int = 1, errors: float = 1.0, **changes: Any) -> None:
        self.scenario = scenario_named(scenario, **changes) if isinstance(scenario, str) else scenario
        self.seed = seed
        chosen = self.scenario

        room = chance(seed, "room")
        self.ambient_temperature = 273.15 + room.uniform(18.0, 25.0)
        self.ambient_pressure = room.uniform(99000.0, 102300.0)
        self.ambient_humidity = room.uniform(0.35, 0.65)
        self._refresh_room()
        self.source: SimulatedSource = make_source(chosen.source, chance(seed, "source"))
        self.instruments = Instruments(chance(seed, "instruments"), errors)
        self.instruments.rotor_frequency = chosen.runs_out
        self.hand = Hand(chosen.throttle, chance(seed, "hand"), chosen.tremble)
        self._noise = chance(seed, "line")
        module = chance(seed, "ambient module")
        self.trimming = ambient_module.draw_trimming(module)
        self._module = module
        self._module_errors = (
            errors * module.uniform(-60.0, 60.0),
            errors * module.uniform(-0.5, 0.7),
            errors * module.uniform(-0.02, 0.02),
        )
        if chosen.element not in {"", "orifice"}:
            raise ValueError(f"unknown flow element {chosen.element!r}; give orifice")
        self._plate = chosen.element == "orifice"
        self._spool_loss = SPOOL_LOSS + (plate.LOSS if self._plate else 0.0)
        self.steps = 0
        self.button = False
        self._button_left = 0.0
        self.throttle = self.hand.opening
        self.flow = 0.0  # kg/s out of the machine
        self.pressure = 0.0  # Pa gauge
        self.spool_flow = 0.0
        self._delivered = 0.0
        self.air_rise = 0.0
        self.temperature = self.ambient_temperature  # of the air at the spool
        self._wall = 0.0  # K over ambient, of hose and spool
        self._ripple = 0.0
        self._wander = 0.0
        self.instruments.ntc_temperature = self.ambient_temperature
        self.source.running = chosen.motor_on
        self.source.speed = 0.0
        if chosen.motor_on:
            self.source.speed = self.source.target_speed(self.ambient_density)
            self.source.rise_over_ambient = 45.0
            self._wall = 12.0
            self.pressure = self.source.rise(0.0, self.ambient_density)[0]
            self.instruments.pressure_felt = self.pressure
        self.faults = Faults()
        self.generator = self._make_generator()
        self._present = {"ambient": True, "scale": chosen.scale, "pressure": True, "rotor": True, "temperature": True}

    # --- time -------------------------------------------------------------------------------------------------

    @property
    def time(self) -> float:
        """Seconds since the start of the scenario."""
        return self.steps * STEP

    def advance(self, dt: float) -> None:
        """Advance by about ``dt`` s, in whole steps of 2 ms."""
        for _ in range(max(1, round(dt / STEP))):
            self.step()

    def step(self) -> None:
        """Advance by 2 ms."""
        h = STEP
        self.steps += 1
        if self._button_left > 0.0:
            self._button_left -= h
            self.button = self._button_left > 0.0
        source = self.source
        random = self._noise
        self.throttle = self.hand.advance(h)
        # the machine's delivery fluctuates by a tenth of a percent and drifts with the mains by a few
        self._ripple += (-self._ripple / 0.12) * h + _RIPPLE * random.gauss(0.0, 1.0)
        self._wander += (-self._wander / 25.0) * h + _WANDER * random.gauss(0.0, 1.0)

        ambient, room, gas, density = (
            self.ambient_pressure,
            self.ambient_temperature,
            self.gas,
            self.ambient_density,
        )
        p, m = self.pressure, self.flow
        line_density = (ambient + p) / (gas * self.temperature)
        inlet = m / density
        lift, slope = source.rise(inlet, density)
        lift *= 1.0 + self._ripple + self._wander
        loss = HOSE_LOSS / (2.0 * line_density * HOSE_AREA * HOSE_AREA)
        out, out_slope, before = self._leaving(p, line_density)
        hold = GAMMA * gas * self.temperature / LINE_VOLUME
        f1 = _COLUMN * (lift - loss * m * abs(m) - p)
        f2 = hold * (m - out)
        a = 1.0 - h * _COLUMN * (slope / density - 2.0 * loss * abs(m))
        b = h * _COLUMN
        c = -h * hold
        d = 1.0 + h * hold * out_slope
        det = a * d - b * c
        self.flow = m + h * (f1 * d - b * f2) / det
        self.pressure = p = p + h * (a * f2 - c * f1) / det
        self.spool_flow = self.flow - before
        if self.generator is not None:
            self.generator.advance(h, self._delivered, line_density, density)
        if self.faults.active:
            self.faults.advance(self, h)

        # heat: machine to air, air to walls, walls to the room
        self.air_rise = source.advance(h, inlet, density)
        through = abs(self.spool_flow) * HEAT_CAPACITY
        share = exp(-4.0 / (through + 0.4))  # share of the air's excess temperature that reaches the spool
        excess = self._wall + (self.air_rise - self._wall) * share
        self._wall += h * (through * (self.air_rise - excess) - 1.6 * self._wall) / 900.0
        self.temperature += (room + excess - self.temperature) * h / 0.3
        line_density = (ambient + p) / (gas * self.temperature)
        volume = self.spool_flow / line_density
        across = plate.difference(self.spool_flow, ambient + p, line_density) if self._plate else 0.0
        self.instruments.advance(self.steps * h, h, p, across, self.temperature, volume, line_density, room)

    def _leaving(self, pressure: float, density: float) -> tuple[float, float, float]:
        """Mass flow out of the line at ``pressure`` Pa gauge, kg/s; its slope, kg/(s Pa); the part before the spool."""
        ambient, temperature, gas, faults = self.ambient_pressure, self.temperature, self.gas, self.faults
        opening = self.throttle
        gate = opening * opening * AREA * 0.62 if opening < 0.95 else AREA * (0.62 + 6.0 * (opening - 0.95))
        gate = min(gate, 0.92 * AREA)
        before_area = faults.before
        if self.generator is None:
            gate += CLOSED_AREA
            # bore losses in series with the gate, as effective areas
            effective = 1.0 / sqrt(1.0 / (gate * gate) + self._spool_loss / (AREA * AREA))
            end = hole_flow(effective, pressure, ambient, temperature, gas)
            slope = 0.5 * end / pressure if pressure > 1.0 else effective * sqrt(2.0 * density)
        else:
            end, slope = self.generator.air_flow(pressure, density)
            before_area += gate  # the hand operates a bleed
        self._delivered = end
        before = hole_flow(before_area, pressure, ambient, temperature, gas) if before_area else 0.0
        after = hole_flow(faults.after, pressure, ambient, temperature, gas) if faults.after else 0.0
        aside = before + after
        if aside:
            slope += 0.5 * aside / pressure if pressure > 1.0 else (before_area + faults.after) * sqrt(2.0 * density)
        return end + aside, slope, before

    def _make_generator(self) -> SimulatedGenerator | None:
        chosen = self.scenario
        if not chosen.build:
            return None
        if chosen.build not in BUILDS:
            raise ValueError(f"unknown generator {chosen.build!r}; give one of {', '.join(BUILDS)}")
        build = replace(
            BUILDS[chosen.build],
            fed=chosen.fed,
            refills=chosen.refills,
            reservoir=0.0 if chosen.dry else BUILDS[chosen.build].reservoir,
        )
        made = SimulatedGenerator(build, chance(self.seed, f"generator {build.name}"))
        if chosen.dry:
            made.solution = 0.0
        if chosen.under_way:
            made.settle_wet()
        return made

    @property
    def the_generator(self) -> SimulatedGenerator:
        """The generator; raises ValueError if the scenario has none."""
        if self.generator is None:
            raise ValueError("this scenario has no generator")
        return self.generator

    def _refresh_room(self) -> None:
        self.gas = gas_constant(self.ambient_pressure, self.ambient_temperature, self.ambient_humidity)
        self.ambient_density = self.ambient_pressure / (self.gas * self.ambient_temperature)

    # --- devices and pins -----------------------------------------------------------------------------------------

    def is_present(self, device: str) -> bool:
        """True if ``ambient``, ``scale``, ``pressure``, ``rotor`` or ``temperature`` is plugged in."""
        return self._present[device]

    def pin(self, channel: str) -> float:
        """Voltage over supply on the pin of ``pressure``, ``differential``, ``thermal``, ``temperature`` or ``supply``.

        Includes the zero error of the board's converter. An unplugged pin is at the level set by its circuit.
        """
        pins, present = self.instruments, self._present
        if channel == "pressure":
            ratio = pins.pressure_ratio() if present["pressure"] else 0.0
        elif channel == "temperature":
            ratio = pins.temperature_ratio() if present["temperature"] else 1.0
        elif channel == "thermal":
            ratio = pins.thermal_ratio() if present["rotor"] else 0.0
        elif channel == "differential":
            ratio = pins.differential_ratio()
        else:
            ratio = pins.bandgap_ratio()
        return ratio + pins.adc_zero / 1024.0

    def ambient_burst(self) -> bytes:
        """Registers 0xF7 to 0xFE of the ambient module after a measurement now."""
        dp, dt, dh = self._module_errors
        g = self._module.gauss
        return ambient_module.burst(
            self.ambient_pressure + dp + g(0.0, 3.0),
            self.ambient_temperature - 273.15 + dt + g(0.0, 0.005),
            self.ambient_humidity + dh + g(0.0, 0.0005),
            self.trimming,
        )

    def scale_mass(self) -> float:
        """Mass on the load cell, kg: the reservoir, which shakes slightly while solution is drawn."""
        if self.generator is None:
            return 0.0
        shake = 0.004 * self._module.gauss(0.0, 1.0) if self.generator.solution_flow else 0.0
        return TARE + self.generator.solution + shake

    # --- control ----------------------------------------------------------------------------------------------

    def control(self, name: str, value: Any = None) -> None:
        """Change the scenario.

        ``throttle`` 0..1 (None: back to the script), ``motor`` bool, ``button`` seconds held (default 0.2), ``plug``
        and ``unplug`` a device, ``ambient`` (pressure Pa, temperature K, humidity), ``solution`` kg added to the
        reservoir, ``refill`` to fill it, ``fault`` and ``heal`` (see :mod:`.faults`). Raises ValueError for anything
        else.
        """
        if name == "throttle":
            if value is None or value == "auto":
                self.hand.resume()
            else:
                self.hand.move_to(float(value))
        elif name == "motor":
            self.source.running = bool(value)
        elif name == "button":
            self._button_left = 0.2 if value is None or value is True else float(value)
            self.button = True
        elif name in {"plug", "unplug"}:
            if value not in self._present:
                raise ValueError(f"{value!r} cannot be unplugged; give one of {', '.join(self._present)}")
            self._present[value] = name == "plug"
        elif name == "fault":
            self.faults.start(self, str(value))
        elif name == "heal":
            self.faults.heal(self, str(value or "all"))
        elif name == "solution":
            self.the_generator.solution = max(0.0, self.the_generator.solution + float(value))
        elif name == "refill":
            self.the_generator.refill()
            self.faults.active.pop("reservoir_dry", None)
        elif name == "ambient":
            self.ambient_pressure, self.ambient_temperature, self.ambient_humidity = map(float, value)
            self._refresh_room()
        else:
            raise ValueError(f"the simulated rig has no control {name!r}")

    # --- truth ------------------------------------------------------------------------------------------------

    @property
    def truth(self) -> dict[str, Any]:
        """True state in SI units, for tests and demonstrations; no sensor reads it.

        Flow figures are for the spool: ``mass_flow`` kg/s, ``line_flow`` m3/s at line state, ``free_air_flow`` m3/s at
        ambient state, ``standard_flow`` m3/s at 1.2 kg/m3; ``air_power`` W is line pressure times standard flow.
        ``source_flow`` kg/s leaves the machine; ``scale_mass`` kg is nan without a scale. ``faults`` lists the active
        faults; with a generator its ``phase`` and the values of ``Generator.figures`` are included.
        """
        density = (self.ambient_pressure + self.pressure) / (self.gas * self.temperature)
        m = self.spool_flow
        known = {
            "time": self.time,
            "throttle": self.throttle,
            "line_pressure": self.pressure,
            "mass_flow": m,
            "source_flow": self.flow,
            "line_temperature": self.temperature,
            "line_density": density,
            "line_flow": m / density,
            "free_air_flow": m / self.ambient_density,
            "standard_flow": m / STANDARD_DENSITY,
            "air_speed": m / density / AREA,
            "air_power": self.pressure * m / STANDARD_DENSITY,
            "rotor_frequency": self.instruments.rotor_frequency,
            "ambient_pressure": self.ambient_pressure,
            "ambient_temperature": self.ambient_temperature,
            "ambient_humidity": self.ambient_humidity,
            "ambient_density": self.ambient_density,
            "supply_voltage": self.instruments.supply,
            "source_speed": self.source.speed,
            "scale_mass": TARE + self.generator.solution if self.generator is not None else float("nan"),
            "faults": sorted(self.faults.active),
        }
        if self.generator is not None:
            known |= {"phase": self.generator.phase(), **self.generator.figures(self.ambient_density)}
        return known

    def possible_faults(self) -> dict[str, str]:
        """See :func:`.faults.possible`."""
        return possible(self)

    def figures(self) -> dict[str, float]:
        """Figures of the source in its present state: shut_off Pa, free_delivery m3/s, air_power W, air_power_flow
        m3/s.

        At 1.2 kg/m3, and with the suffix ``_as_found`` in the air of the room. With a generator also operating_pressure
        Pa and operating_flow m3/s at 1.2 kg/m3, with its present wetness and filling.
        """
        found = ground_truth.figures(self, self.ambient_density)
        known = ground_truth.figures(self) | {f"{name}_as_found": value for name, value in found.items()}
        if self.generator is not None:
            known["operating_pressure"], known["operating_flow"] = ground_truth.operating_point(self)
        return known

    def true_curve(self, density: float = STANDARD_DENSITY) -> Callable[[float], float]:
        """See :func:`.ground_truth.curve`."""
        return ground_truth.curve(self, density)

    def true_figures(self, density: float = STANDARD_DENSITY) -> dict[str, float]:
        """See :func:`.ground_truth.figures`."""
        return ground_truth.figures(self, density)


class WorldAnswers:
    """What a simulated rig is asked and its world knows."""

    world: World

    def truth(self) -> dict[str, Any]:
        return self.world.truth

    def faults(self) -> dict[str, str]:
        return self.world.possible_faults()

    def figures(self) -> dict[str, float]:
        return self.world.figures()
