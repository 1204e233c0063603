"""Safety cautions for a build at a pressure. Local codes and licensed practice take precedence.

Limits without a standard are judgement and are marked as such (physics.safety).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING

from frothline.curve.positive_displacement import FORM as PUMP
from frothline.generator.build import Build
from frothline.generator.stock_sizes import pipe_of_bore
from frothline.physics.exhaust import HIGHEST, exhaust_temperature_rise
from frothline.physics.references import BIBLIOGRAPHY
from frothline.physics.safety import (
    HARD_PRESSURE_LIMIT,
    PVC_LEFT,
    PVC_LIMIT,
    SOFT_PRESSURE_LIMIT,
    allowed_time_niosh,
    jet_speed,
    push_fit_force,
    stored_gas_energy,
)
from frothline.physics.water import liquid_head
from frothline.units import STANDARD_GRAVITY, ZERO_CELSIUS

if TYPE_CHECKING:
    from frothline.curve.blower import BlowerFit

WALL = 3e-3  # m, of a body whose pipe is not listed
ROOM = 20.0  # °C, for the temperature of an exhaust
LOUD = (95.0, 100.0)  # dB(A), levels whose time is named
BEYOND = 2.0  # times the largest reading: a shut-off pressure of a pump above it is not known; judgement
COMPRESSOR = 100e3  # Pa: above this the source is not a blower


@dataclass(frozen=True)
class Caution:
    """One caution: a stable key, the words, whether to stop at once, and the bibliography key or "judgement"."""

    key: str
    words: str
    stop: bool
    source: str

    @property
    def grounds(self) -> str:
        """The basis of the caution for a reader: name of the source, or judgement."""
        if self.source == "judgement":
            return "judgement, no source"
        entry = BIBLIOGRAPHY[self.source]
        return entry.title.lower() if entry.standing == "own" else f"{entry.authors}, {entry.title}, {entry.year}"


def pressure_caution(pressure: float) -> Caution | None:
    """The caution for a gauge pressure, Pa, alone; None for usual blower pressures on plastic pipe."""
    if pressure > COMPRESSOR:
        return Caution(
            "compressor",
            f"{pressure / 1e3:.0f} kPa comes from a compressor, not a blower: shut it off. A compressor needs a "
            "regulator, a relief valve, and pipe rated for gas; plastic water pipe bursts into splinters",
            stop=True,
            source="osha-pvc",
        )
    if pressure > HARD_PRESSURE_LIMIT:
        return Caution(
            "pressure",
            f"{pressure / 1e3:.0f} kPa is too much for push-fit plastic pipe: stop the air and open the outlet",
            stop=True,
            source="judgement",
        )
    if pressure > SOFT_PRESSURE_LIMIT:
        return Caution(
            "pressure",
            f"{pressure / 1e3:.0f} kPa is high for push-fit plastic pipe: fit a relief opening",
            stop=False,
            source="judgement",
        )
    return None


MOTOR = Caution(
    "motor",
    "a motor cooled by the air it moves overheats below about a quarter of its open air, where the same power warms "
    "the air four times as much, and in seconds when the air is shut off",
    stop=False,
    source="judgement",
)
DUTY = Caution(
    "motor",
    "a small pump overheats beyond its duty cycle: keep the running and resting times of its plate, and let it run at "
    "the lowest pressure that makes the foam",
    stop=False,
    source="judgement",
)
RELIEF = Caution(
    "relief",
    "shut off, a pump builds up pressure until something opens or bursts, whatever its curve says: fit a regulator and "
    "a relief valve set below the rated pressure of the weakest part",
    stop=False,
    source="judgement",
)


# Cautions of each step of a generator sweep with a bleed.
SWEEPING: dict[str, Caution] = {
    one.key: one
    for one in (
        Caution(
            "full-air",
            "a shut bleed gives the highest pressure: keep faces away from caps and joints, and stay below the "
            "pipe's rated pressure",
            stop=False,
            source="judgement",
        ),
        Caution(
            "bucket",
            "foam flows while the air runs: put a bucket under the outlet and have the next one ready",
            stop=False,
            source="judgement",
        ),
        Caution(
            "too-little-air",
            "maintain some foam flow: with too little air the solution runs back towards spool and blower",
            stop=False,
            source="judgement",
        ),
        Caution(
            "empty",
            "measure dry: the reservoir is empty or shut off; keep people away from the outlet",
            stop=False,
            source="judgement",
        ),
        Caution(
            "order",
            "stop the solution first, then the air; otherwise solution runs into the motor",
            stop=False,
            source="judgement",
        ),
    )
}


def largest_pressure(blower: BlowerFit | None, running: float | None) -> float | None:
    """The largest pressure of a source, Pa, by its curve or its readings; None without a source.

    The curve of a pump that leaks ever more does not tell where it ends: there the largest reading counts, and the
    cautions name a relief valve.
    """
    if blower is None:
        return None
    shut = blower.shut_off.value if blower.shut_off.known else 0.0
    read = max(blower.pressure_range[1], running or 0.0)
    return read if blower.form == PUMP and shut > BEYOND * read else max(shut, read)


def cautions(
    build: Build,
    pressure: float | None,
    ambient_pressure: float = 101325.0,
    *,
    running: float | None = None,
    pump: bool = False,
) -> tuple[Caution, ...]:
    """The cautions for a build at a gauge pressure, Pa, worst first.

    ``pressure`` : the largest expected, which is the source's shut-off pressure, because an outlet can clog; None
        without a known source, which gives only cautions that need no pressure
    ``running`` : Pa, measured in a run or at the operating point, named in the caution
    ``pump`` : whether the source moves one volume a stroke, as an inflator or a compressor does
    """
    high = None if pressure is None else pressure_caution(pressure)
    found = [*([high] if high else []), *([RELIEF] if pump else [])]
    found += [
        Caution("push-fit", _push_fit(build, pressure, running), stop=False, source="statics"),
        Caution("plastic-pipe", _stored(build, pressure, ambient_pressure), stop=False, source="osha-pvc"),
        Caution("packing", _packing(build, pressure), stop=False, source="statics"),
        Caution("backflow", _backflow(pressure), stop=False, source="white"),
        Caution("opening", _opening(pressure, ambient_pressure), stop=False, source="shapiro"),
        Caution(
            "mains",
            "blower and pump on a residual-current device of 30 mA (in North America a class A ground-fault breaker, 4 "
            "to 6 mA); electronics above the liquid; dry hands",
            stop=False,
            source="nfpa-70",
        ),
        Caution("noise", _noise(), stop=False, source="niosh-1998"),
        DUTY if pump else MOTOR,
        Caution("heat", _heat(None if pump else pressure, ambient_pressure), stop=False, source="pvc-derating"),
    ]
    return tuple(found)


def fitted_diameter(build: Build) -> tuple[float, bool]:
    """Outer diameter of the body, m, at its caps and joints, and whether it is that of a listed pipe.

    The sheet has only the bore. A listed pipe of that bore has the outer diameter of its standard; for another bore the
    wall is WALL.
    """
    pipe = pipe_of_bore(build.body.bore)
    return (pipe.outer, True) if pipe is not None else (build.body.bore + 2 * WALL, False)


def cap_force(build: Build, pressure: float) -> float:
    """Force that pushes a cap of the body off, N, at a gauge pressure, Pa."""
    return push_fit_force(fitted_diameter(build)[0], pressure)


def water_column(pressure: float) -> float:
    """Height of water that a gauge pressure, Pa, holds up, m: h = p/(ρ g) with 1000 kg/m³."""
    return pressure / float(liquid_head(1.0))


def packing_force(build: Build, pressure: float) -> float:
    """Force on a packing that is clogged, N, at a gauge pressure, Pa: p π/4 D² of the body's bore."""
    return push_fit_force(build.body.bore, pressure)


def _packing(build: Build, pressure: float | None) -> str:
    rest = "hold it with a grid on both sides, and keep faces away from the outlet"
    if pressure is None:
        return f"1 kPa pushes a clogged packing out with {packing_force(build, 1e3):.1f} N; {rest}"
    force = packing_force(build, pressure)
    return f"at {pressure / 1e3:.1f} kPa a clogged packing is pushed out with {force:.0f} N; {rest}"


def _backflow(pressure: float | None) -> str:
    rest = (
        "put the blower above the liquid, with a check valve; start the air before the solution and stop it after; "
        "otherwise solution runs into the motor"
    )
    if pressure is None:
        return f"1 kPa lifts solution by {water_column(1e3) * 1e3:.0f} mm: {rest}"
    return (
        f"at {pressure / 1e3:.1f} kPa a loop without a check valve must rise {water_column(pressure):.1f} m above the "
        f"liquid: {rest}"
    )


def _opening(pressure: float | None, ambient_pressure: float) -> str:
    rest = (
        "stop the solution, then the air, and wait until the pressure reads 0 before anybody opens a joint or looks "
        "into an outlet"
    )
    if pressure is None:
        return rest
    speed = jet_speed(pressure, ambient_pressure)
    return f"at {pressure / 1e3:.1f} kPa an opened joint blows at up to {speed:.0f} m/s: {rest}"


def _noise() -> str:
    first, second = (allowed_time_niosh(level) / 60.0 for level in LOUD)
    return (
        f"a workshop blower passes 85 dB(A): wear ear muffs; at {LOUD[0]:.0f} dB(A) a full day's dose is reached in "
        f"{first:.0f} min, at {LOUD[1]:.0f} dB(A) in {second:.0f} min"
    )


def _heat(pressure: float | None, ambient_pressure: float) -> str:
    pipe = f"{100 * PVC_LEFT:.0f} % of its rated pressure is left there"
    if pressure is None or pressure > HIGHEST:
        return f"the air of blowers and pumps gets hot, and PVC pipe is for {PVC_LIMIT:.0f} °C at most: {pipe}"
    rise = float(exhaust_temperature_rise(ROOM + ZERO_CELSIUS, pressure, ambient_pressure))
    warm = ROOM + rise
    limit = f"limit of PVC pipe, {PVC_LIMIT:.0f} °C"
    there = f"above the {limit}" if warm > PVC_LIMIT else f"below the {limit}"
    return (
        f"at {pressure / 1e3:.1f} kPa the exhaust is about {rise:.0f} K warmer than the room, {warm:.0f} °C in a room "
        f"of {ROOM:.0f} °C, {there}: {pipe}"
    )


def _push_fit(build: Build, pressure: float | None, running: float | None) -> str:
    outer, listed = fitted_diameter(build)
    cap = f"a cap of {outer * 1e3:.0f} mm" + ("" if listed else f" (wall {WALL * 1e3:.0f} mm)")
    rest = "solution makes it slide. Screw, strap or weld caps and joints; keep faces away from the ends"
    if pressure is None:
        return f"1 kPa pushes {cap} off with {push_fit_force(outer, 1e3):.1f} N; {rest}"
    force = cap_force(build, pressure)
    weight = f"{force:.0f} N, the weight of {force / STANDARD_GRAVITY:.0f} kg"
    if running is None or running >= pressure:
        return f"at {pressure / 1e3:.1f} kPa {cap} is pushed off with {weight}; {rest}"
    return (
        f"at the operating pressure of {running / 1e3:.1f} kPa {cap} is pushed off with "
        f"{cap_force(build, running):.0f} N; with a clogged outlet at {pressure / 1e3:.1f} kPa with {weight}; "
        f"{rest}"
    )


def _stored(build: Build, pressure: float | None, ambient_pressure: float) -> str:
    rest = "for blower pressure only, never shop air; cold and sunlight make PVC brittle"
    if pressure is None:
        return rest
    energy = stored_gas_energy(pressure, pi / 4 * build.body.bore**2 * build.body.length, ambient_pressure)
    return f"the air in the body stores {energy:.1f} J. {rest[:1].upper()}{rest[1:]}"
